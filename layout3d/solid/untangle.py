"""Makes one skin of a shell that runs through itself. Shells that meet others are joined elsewhere.

The volume that such a surface sums up counts a place twice where the body laps over itself, and takes it off
where the surface is inside out behind a crossing. The first is mended here, the second refused.
"""

from __future__ import annotations

import math
from typing import Any

import manifold3d
import numpy as np
from numpy.typing import NDArray

from layout3d.errors import MeshRefused
from layout3d.solid.folds import crossings
from layout3d.solid.shape import Points, Shape

__all__ = ["untangled"]

LINES = 256  # a side of the grid of upright lines on which the surface is looked at, at most
MEETINGS = 1_000_000  # of lines and the faces' boxes, at most: a heap of huge faces gets a coarser grid
SLIGHT = 1e-3  # what is lapped over or inside out may be this share of the volume, [-]
OFF_GRID = np.array([0.5, 0.4127])  # the first line, in steps; no diagonal of a square meets a row of lines
MOST_CUTS = 1500  # past this the crossings can't be told apart
CRUMB = 1e-7  # crossings in a box of less than this share of the whole box are left as they are, [-]


def untangled(shape: Shape) -> tuple[Shape, float]:
    """Return the body that a surface encloses, each place counted once, and how much the sum was too large.

    Parameters
    ----------
    shape : one closed shell, turned outward

    Returns
    -------
    The shape itself and 1.0 where it laps over itself by no more than ``SLIGHT``; else a new shape, and the
    old one's volume as a part of the new one's.

    Raises
    ------
    MeshRefused : part of the surface is inside out, or the crossings can't be resolved: the result differs
        from what the surface goes round by more than ``SLIGHT``.

    Notes
    -----
    How often the surface goes round each place is read on a grid of upright lines. Planes through the
    crossings cut the body into pieces until no piece crosses itself; the union of the pieces has one skin.
    It has to take the same of each line.
    """
    low, extent = shape.bounds[0, :2], np.ptp(shape.bounds[:, :2], axis=0)
    covered = float((np.ptp(shape.corners[:, :, :2], axis=1) / extent).prod(axis=1).sum())
    side = int(np.clip(math.sqrt(MEETINGS / covered), 4, LINES))
    grid = (low, extent / side, side)
    line, length, turns = _stretches(shape, *grid)
    slight = SLIGHT * float(length.sum())
    inverted = float(length[turns < 0].sum())
    if inverted > slight:
        share = 100.0 * inverted / float(length.sum())
        raise _refusal(f"behind the crossing, {share:.2g} % of what it encloses is inside out")
    lapped = float((length * (turns - 1))[turns > 1].sum())
    wanted = np.bincount(line, weights=length, minlength=side * side)
    if lapped <= slight:
        result = shape
    else:
        result = _cut_and_joined(shape)
        line, length, _ = _stretches(result, *grid)
    found = np.bincount(line, weights=length, minlength=side * side)
    told = float(result.manifold.volume())  # the library's own reading of it, which booleans go by
    if float(np.abs(found - wanted).sum()) > slight or abs(told - result.volume) > SLIGHT * result.volume:
        raise _refusal("what it encloses can't be told")
    return result, 1.0 if result is shape else shape.volume / result.volume


def _stretches(
    shape: Shape, low: Points, step: Points, side: int
) -> tuple[NDArray[np.int64], Points, NDArray[np.int64]]:
    """Cut a grid of upright lines where they meet the surface.

    Returns
    -------
    line : (c,) int, number of the line
    length : (c,) float, of each stretch between two meetings, [m]
    turns : (c,) int, how often the surface goes round that stretch; below 0 where it does so inside out
    """
    plan = (shape.corners[:, :, :2] - low) / step - OFF_GRID  # lines stand at whole numbers
    first = np.clip(np.ceil(plan.min(axis=1)), 0, side).astype(np.int64)
    number = np.maximum(np.clip(np.floor(plan.max(axis=1)) + 1, 0, side).astype(np.int64) - first, 0)
    pairs = number.prod(axis=1)
    face = np.repeat(np.arange(len(pairs)), pairs)
    place = np.arange(int(pairs.sum())) - np.repeat(np.cumsum(pairs) - pairs, pairs)
    x, y = first[face, 0] + place % number[face, 0], first[face, 1] + place // number[face, 0]
    a, b, c = (plan[face, k] for k in range(3))
    at = np.column_stack([x, y])
    u, v, w = (_cross(q - at, r - at) for q, r in ((b, c), (c, a), (a, b)))
    met = ((u > 0) & (v > 0) & (w > 0)) | ((u < 0) & (v < 0) & (w < 0))
    face, u, v, w = face[met], u[met], v[met], w[met]
    z = shape.corners[face, :, 2]
    height = (u * z[:, 0] + v * z[:, 1] + w * z[:, 2]) / (u + v + w)
    line = (y * side + x)[met]
    order = np.lexsort((-height, line))
    line, height, turn = line[order], height[order], np.where(u[order] > 0, 1, -1)
    whole = np.bincount(line, weights=turn, minlength=side * side) == 0.0  # none slipped through an edge
    line, height, turn = (k[whole[line]] for k in (line, height, turn))
    turns = np.cumsum(turn)[:-1]  # each line's add up to 0
    return line[:-1], np.where(turns != 0, height[:-1] - height[1:], 0.0), turns


def _cross(a: Points, b: Points) -> Points:
    product: Points = a[:, 0] * b[:, 1] - a[:, 1] * b[:, 0]
    return product


def _cut_and_joined(shape: Shape) -> Shape:
    """Cut a shape by planes through its crossings, until no piece crosses itself, and join the pieces."""
    pieces: list[Any] = []
    waiting = [(shape.manifold, shape.bounds)]
    crumb = CRUMB * float(np.ptp(shape.bounds, axis=0).prod())
    for _ in range(MOST_CUTS):
        if not waiting:
            break
        piece, region = waiting.pop()
        places = _crossing_places(piece, region)
        extent = np.ptp(places, axis=0) if len(places) else np.zeros(3)
        if float(extent.prod()) <= crumb:
            pieces.append(piece)
            continue
        axis = int(np.argmax(extent))
        region = np.stack([places.min(axis=0), places.max(axis=0)])  # none can lie outside it
        halves = piece.split_by_plane(tuple(np.eye(3)[axis]), float(region[:, axis].mean()))
        waiting += [(part, region) for half in halves for part in half.decompose()]
    if waiting:
        raise _refusal(f"{MOST_CUTS} cuts don't take it apart")
    whole = Shape.from_manifold(manifold3d.Manifold.batch_boolean(pieces, manifold3d.OpType.Add))
    if whole is None:
        raise _refusal("what it encloses can't be told")
    return whole


def _crossing_places(piece: Any, region: Points) -> Points:
    """Return the corners of those faces of a piece that cross others within a box (2, 3), (k, 3)."""
    mesh = piece.to_mesh64()
    vertices, faces = np.asarray(mesh.vert_properties)[:, :3], np.asarray(mesh.tri_verts).astype(np.int64)
    corners = vertices[faces]
    near = (corners.min(axis=1) <= region[1]).all(axis=1) & (corners.max(axis=1) >= region[0]).all(axis=1)
    faces = faces[near]
    found: Points = vertices[faces[crossings(vertices, faces)].ravel()]
    return found


def _refusal(why: str) -> MeshRefused:
    return MeshRefused(
        f"the surface runs through itself, and {why}",
        expected="a surface that crosses itself nowhere, or only where the body laps over itself",
        remedy="mend the scan, or let its convex hull be used",
    )
