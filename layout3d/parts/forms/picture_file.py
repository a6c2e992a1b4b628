"""Pictures that a scene names, read to plain arrays: PNG and TIFF, at most 64 million pixels."""

from __future__ import annotations

import io
import os
from collections.abc import Sequence
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from layout3d.errors import LayoutError, SceneMistake
from layout3d.files import read

__all__ = ["PictureRefused", "read_picture"]

MOST_PIXELS = 64_000_000  # past this a slip, or a file made to fill the memory


class PictureRefused(SceneMistake):
    """A picture that can't be used, with the reason."""


def read_picture(
    path: str | Path, expected: str, *, modes: Sequence[str], scaled_to: int = 0
) -> tuple[str, NDArray[Any]]:
    """Read a picture file.

    Parameters
    ----------
    expected : what the caller takes, as the message says it
    modes : the picture library's names of the pixels taken; two tones, palettes and transparency come out as
        RGB or RGBA
    scaled_to : a picture with more pixels on a side is averaged down by a whole number; 0 leaves it

    Returns
    -------
    mode : the library's name of the pixels
    pixels : (rows, columns) or (rows, columns, channels), first row on top

    Raises
    ------
    PictureRefused : no such file, not a picture, of other pixels, or too large; the size is read before the
        pixels are.
    """
    import warnings

    from PIL import Image, UnidentifiedImageError

    place = Path(path)

    def refused(found: str, told: str = expected, remedy: str = "") -> PictureRefused:
        return PictureRefused(f"{place.name} {found}", expected=told, remedy=remedy, path=str(path))

    if not place.is_file():
        raise PictureRefused(f"{place.name}: there is no such file", expected=expected, path=str(path))
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore", Image.DecompressionBombWarning)
            with Image.open(io.BytesIO(read(place)), formats=("PNG", "TIFF")) as picture:
                columns, rows = picture.size
                size = f"has {columns} x {rows}"
                if columns * rows > MOST_PIXELS:
                    told = f"{size} = {columns * rows} pixels"
                    raise refused(told, f"at most {MOST_PIXELS}", "scale the picture down")
                if min(columns, rows) < 2:
                    raise refused(f"{size} pixels", "at least 2 x 2")
                if picture.mode not in modes:
                    other = "grey without transparency" if "RGB" not in modes else "grey or colours of 8 bit"
                    raise refused(f"is of mode {picture.mode!r}", remedy=f"save it as {other}")
                taken: Image.Image = picture
                if picture.mode in ("1", "P", "LA", "PA"):
                    clear = picture.mode.endswith("A") or "transparency" in picture.info
                    taken = picture.convert("RGBA" if clear else "RGB")
                if scaled_to and max(columns, rows) > scaled_to:
                    taken = taken.reduce(-(-max(columns, rows) // scaled_to))
                return taken.mode, np.array(taken)
    except LayoutError:
        raise
    except (OSError, ValueError, SyntaxError, Image.DecompressionBombError) as fault:
        told = "it is damaged or cut short"
        if isinstance(fault, UnidentifiedImageError):
            told = "it is neither PNG nor TIFF"
        elif isinstance(fault, OSError) and fault.errno is not None:
            told = os.strerror(fault.errno)
        raise refused(f"can't be read as a picture: {told}") from fault
