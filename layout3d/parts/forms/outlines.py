"""A piece from two pictures of its outline: the largest solid that shows both. No shading, no perspective.

Pictures taken from far away, or with a long lens, come near the outlines that this takes them for.
"""

from __future__ import annotations

import itertools
from pathlib import Path
from typing import cast

import numpy as np
import shapely
import shapely.affinity
from numpy.typing import NDArray

from layout3d.errors import SceneMistake
from layout3d.parts.forms.picture_file import read_picture
from layout3d.solid.boolean import components, intersection
from layout3d.solid.primitives import prism
from layout3d.solid.shape import Placement, Shape, Solid

__all__ = ["EXPECTED", "from_outlines", "outline_in", "read_outline"]

EXPECTED = "a picture of the piece's outline, dark on light, light on dark, or on transparent ground (PNG)"
MODES = ("1", "L", "LA", "P", "PA", "RGB", "RGBA")
TALLEST = 1000  # a picture with more pixels on a side is averaged down to it
UNSURE, MOST_UNSURE = (0.25, 0.75), 0.05  # neither dark nor light; the share of such pixels that edges have
SPECK = 0.01  # of the outline's area: less beside it is dirt on the picture, and less within it no gap
STRAY = 0.5  # how far an outline may be simplified, and is widened before, so that it never shrinks, [pixels]
APART = 0.05  # of the volume: what lies apart from the largest piece and is dropped
PAST = 0.51

_ALONG_Y = np.array(
    [[1.0, 0.0, 0.0], [0.0, 0.0, -1.0], [0.0, 1.0, 0.0]]
)  # (x, z) drawn, extruded to the front
_ALONG_X = np.array(
    [[0.0, 0.0, 1.0], [1.0, 0.0, 0.0], [0.0, 1.0, 0.0]]
)  # (y, z) drawn, extruded to the right


def read_outline(path: str | Path) -> shapely.Polygon:
    """Read the outline of one piece from a picture; its left bottom corner at the origin, [pixels].

    The ground is what the picture's edge shows. With transparency, what is opaque is the piece.

    Raises
    ------
    SceneMistake : no picture that can be read, or none of one outline.
    """
    name = Path(path).name
    _, pixels = read_picture(path, EXPECTED, modes=MODES, scaled_to=TALLEST)
    share = pixels.reshape(*pixels.shape[:2], -1) / 255.0
    clear = share.shape[2] == 4 and share[..., 3].min() < UNSURE[1]
    value = share[..., 3] if clear else share[..., :3].mean(axis=2)
    try:
        return outline_in(value)
    except ValueError as error:
        raise SceneMistake(f"{name} {error}", expected=EXPECTED, path=str(path)) from error


def outline_in(value: NDArray[np.float64]) -> shapely.Polygon:
    """Return the outline in a picture (rows, columns) of 0 to 1, first row on top; its box begins at 0, 0.

    Raises
    ------
    ValueError : the picture has no outline, several, or one that is cut off at its edge.
    """
    import contourpy

    unsure = float(((value > UNSURE[0]) & (value < UNSURE[1])).mean())
    if unsure > MOST_UNSURE:
        raise ValueError(f"has no clear outline: {100 * unsure:.0f} % of it is neither dark nor light")
    edge = np.concatenate([value[0], value[-1], value[:, 0], value[:, -1]]) > 0.5
    if edge.any() and not edge.all():
        raise ValueError("shows a piece that is cut off at the picture's edge")
    piece = 1.0 - value if edge.all() else value
    drawn = contourpy.contour_generator(z=piece[::-1], fill_type=contourpy.FillType.OuterOffset)
    shapes = []
    for points, offsets in zip(*drawn.filled(0.5, np.inf), strict=True):
        loops = [points[a:b] for a, b in itertools.pairwise(offsets.tolist())]
        shapes.append(shapely.Polygon(loops[0], loops[1:]))
    shapes.sort(key=lambda shape: -shape.area)
    if not shapes:
        raise ValueError("shows nothing")
    if len(shapes) > 1 and shapes[1].area > SPECK * shapes[0].area:
        raise ValueError(
            f"shows more than one piece: the second has {100 * shapes[1].area / shapes[0].area:.0f} % of the "
            "first one's area"
        )
    whole = shapes[0]
    gaps = [hole for hole in whole.interiors if shapely.Polygon(hole).area > SPECK * whole.area]
    wide = shapely.Polygon(whole.exterior, gaps).buffer(STRAY, join_style="mitre", mitre_limit=2.0)
    plain = wide.simplify(STRAY)
    low = plain.bounds
    return cast(shapely.Polygon, shapely.affinity.translate(plain, -low[0], -low[1]))


def from_outlines(front: shapely.Polygon, side: shapely.Polygon, *, longest: float) -> tuple[Shape, float]:
    """Return the largest piece with these outlines, and the share of it that lay apart and was dropped.

    Parameters
    ----------
    front : as seen from the front, x and z
    side : as seen from the right, y and z; it is scaled to the height of ``front``
    longest : longest side of the piece's box, [m]

    Returns
    -------
    shape : lowest point at z = 0, its box centred on x = y = 0
    share : [-]

    Raises
    ------
    ValueError : the outlines leave pieces apart that are too large to drop.
    """
    high = front.bounds[3]
    side = shapely.affinity.scale(side, high / side.bounds[3], high / side.bounds[3], origin=(0.0, 0.0))
    wide, deep = front.bounds[2], side.bounds[2]
    scale = longest / max(wide, deep, high)
    size = scale * np.array([wide, deep, high])
    reach = PAST * size  # an outline drawn through and through ends nowhere in the other's own edge
    one = _drawn(front, scale, 2 * reach[1], Placement(_ALONG_Y, np.array([-size[0] / 2, reach[1], 0.0])))
    other = _drawn(side, scale, 2 * reach[0], Placement(_ALONG_X, np.array([-reach[0], -size[1] / 2, 0.0])))
    common = intersection(one, other)
    assert common is not None, "outlines of one height share a point at each height (outlines.from_outlines)"
    pieces = sorted(components(common), key=lambda piece: -piece.volume)
    apart = 1.0 - pieces[0].volume / common.volume
    if apart > APART:
        raise ValueError(f"{100 * apart:.0f} % of what both outlines allow lies apart from the rest")
    return Shape.of(pieces[0].vertices, pieces[0].shape.faces), apart


def _drawn(outline: shapely.Polygon, scale: float, depth: float, placement: Placement) -> Solid:
    loops = [scale * np.array(ring.coords)[:-1] for ring in (outline.exterior, *outline.interiors)]
    return prism(loops[0], depth, holes=loops[1:]).solid(placement)
