"""A background relief from a grey image: white stands out to the full depth, black lies on the panel."""

from __future__ import annotations

import io
import re
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from layout3d.errors import LayoutError, SceneMistake
from layout3d.files import read
from layout3d.parts.forms.mesh import require
from layout3d.parts.forms.relief import Relief, panel_grid

__all__ = ["HeightImageRefused", "from_image", "read_height_image"]

MOST_PIXELS = 64_000_000  # past this a slip, or a file made to fill the memory
# Names the picture library gives 8 and 16 bit grey; "I" is what some releases make of a 16 bit PNG.
GREY_MODES = ("L", "I;16", "I;16B", "I;16L", "I")


class HeightImageRefused(SceneMistake):
    """A height image that can't be used, with the reason."""


def from_image(
    image: NDArray[np.uint8] | NDArray[np.uint16], *, width: float, height: float, depth: float, pitch: float
) -> Relief:
    """Spread a grey image over the panel.

    Parameters
    ----------
    image : (rows, columns) uint8 or uint16, at least 2 by 2; the first row is the top of the panel
    width, height : of the panel, [m]; the image is stretched to it
    depth : height of white over the panel, [m], 0.005 to 2
    pitch : of the grid, [m]

    Returns
    -------
    x : (nx,) float, z : (nz,) float, y : (nx, nz) float, all [m], y in [0, depth]

    Raises
    ------
    ValueError : another kind of array, or a value outside the limits of ``panel_grid``.

    Notes
    -----
    Bilinear between the middles of pixels; the outer half pixel keeps the edge's value. A pitch
    coarser than a pixel skips pixels: nothing is averaged.
    """
    if image.ndim != 2 or image.dtype not in (np.uint8, np.uint16) or min(image.shape) < 2:
        raise ValueError(
            "image must be (rows, columns) of 8 or 16 bit grey, at least 2 by 2, "
            f"got {image.dtype} {image.shape}"
        )
    from scipy.ndimage import map_coordinates

    x, z = panel_grid(width, height, pitch)
    deep = require("depth", depth, 0.005, 2.0, "m")
    rows, columns = image.shape
    across, down = x / x[-1] * columns - 0.5, (1.0 - z / z[-1]) * rows - 0.5
    places = np.stack(np.broadcast_arrays(down[None, :], across[:, None]))
    value = map_coordinates(image.astype(np.float64), places, order=1, mode="nearest")
    return x, z, np.clip(value / float(np.iinfo(image.dtype).max), 0.0, 1.0) * deep


def read_height_image(path: str | Path) -> NDArray[np.uint8] | NDArray[np.uint16]:
    """Read a grey picture file of 8 or 16 bit as an array for ``from_image``.

    Raises
    ------
    HeightImageRefused : no such file, not a picture, in colour, or over 64 million pixels; the size is
        read before the pixels are.
    """
    import warnings

    from PIL import Image

    place = Path(path)
    expected = "a grey picture of 8 or 16 bit, at most 64 million pixels (PNG or TIFF)"

    def refused(found: str, told: str = expected, remedy: str = "") -> HeightImageRefused:
        return HeightImageRefused(f"{place.name} {found}", expected=told, remedy=remedy, path=str(path))

    if not place.is_file():
        raise HeightImageRefused(f"{place.name}: there is no such file", expected=expected, path=str(path))
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
                if picture.mode not in GREY_MODES:
                    raise refused(
                        f"is of mode {picture.mode!r}", remedy="save it as grey without transparency"
                    )
                grey = np.array(picture)
                if int(grey.min()) < 0 or int(grey.max()) > 65535:
                    raise refused(f"has values from {grey.min()} to {grey.max()}")
                return grey.astype(np.uint8) if picture.mode == "L" else grey.astype(np.uint16)
    except LayoutError:
        raise
    except (OSError, ValueError, SyntaxError, Image.DecompressionBombError) as fault:
        told = re.sub(r"<_io.BytesIO object at \w+>", "the file", str(fault)).replace(str(place), place.name)
        raise refused(f"can't be read as a picture: {told}") from fault
