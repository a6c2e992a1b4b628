"""A background relief from a grey image: white stands out to the full depth, black lies on the panel."""

from __future__ import annotations

from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from layout3d.parts.forms.mesh import require
from layout3d.parts.forms.picture_file import PictureRefused, read_picture
from layout3d.parts.forms.relief import Relief, panel_grid

__all__ = ["from_image", "read_height_image"]

# Names the picture library gives 8 and 16 bit grey; "I" is what some releases make of a 16 bit PNG.
GREY_MODES = ("L", "I;16", "I;16B", "I;16L", "I")


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
    PictureRefused : no such file, not a picture, in colour, or over 64 million pixels.
    """
    expected = "a grey picture of 8 or 16 bit, at most 64 million pixels (PNG or TIFF)"
    mode, grey = read_picture(path, expected, modes=GREY_MODES)
    if int(grey.min()) < 0 or int(grey.max()) > 65535:
        raise PictureRefused(
            f"{Path(path).name} has values from {grey.min()} to {grey.max()}",
            expected=expected,
            path=str(path),
        )
    return grey.astype(np.uint8) if mode == "L" else grey.astype(np.uint16)
