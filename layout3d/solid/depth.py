"""How deep a shared solid is: one length for how far two solids run into each other. One part at a time."""

from __future__ import annotations

import math

import coal
import numpy as np

from layout3d.solid.contain import inside
from layout3d.solid.placement import Points, along
from layout3d.solid.shape import Shape, Solid

__all__ = ["depth", "mean_thickness", "without_skins"]

# A convex solid of inscribed radius r has V >= r A / 3 and, by Steinhagen's theorem for three dimensions, a
# width of at most 2 sqrt(3) r; so its width is at most 3 sqrt(3) times 2 V / A, the mean thickness.
# Steinhagen 1922, Abh. Math. Sem. Hamburg 1, 15-26 (from memory, check before relying on it).
CONVEX_RATIO = 3.0 * math.sqrt(3.0)
MOST_PROBES = 2000  # faces under which the room is measured
GROWING_STEPS = 24
MOST_DIRECTIONS = 256  # of a hull with more faces, the narrowest way is looked for in two goes
AT_ONCE = 16_000  # heights of corners along directions that are measured together, [-]
COARSE = 6.0  # normals that round to the same sixths, some 10 degrees apart, count as one at first


def mean_thickness(part: Solid) -> float:
    """Return twice the volume over the surface, [m]: the thickness of a thin skin."""
    return 2.0 * part.volume / part.area


def depth(part: Solid) -> tuple[float, Points]:
    """Measure how deep a shared solid of one piece is.

    Parameters
    ----------
    part : what two solids share

    Returns
    -------
    depth : [m]; the smallest width of the convex hull between parallel planes, one of them on a face of the
        hull. Where the part has too little volume for its surface to be near convex (a ring, a skin), that
        width says nothing: then the diameter of the largest ball found in it, by trying the middles of the
        ways straight underneath its faces and growing the best. That ball does fit: the depth is then never
        overstated, but it may be understated where the part is thickest far from all those middles.
    centre : (3,), [m]; the hull's centre, or the ball's.
    """
    width, centre = _least_width(part)
    if CONVEX_RATIO * mean_thickness(part) >= width:
        return width, centre
    ball, middle = _largest_ball(part)
    return min(ball, width), middle


def without_skins(shape: Shape, *, thickness: float, width: float, volume: float) -> Shape | None:
    """Drop the pieces that are surely mere skins, all at once; None where nothing is left.

    Parameters
    ----------
    shape : what two solids share
    thickness, width : a piece goes if its mean thickness is at most ``thickness``, [m], and it fits between
        two parallel planes ``width`` apart, [m]
    volume : or if its volume is at most this, [m³]
    """
    shell = shape.shell_of_face
    count = int(shell.max()) + 1
    starts = shape.shells[shell]  # from a place on the piece itself, so that small volumes come out exact
    a, b, c = (shape.corners - starts[:, None, :]).transpose(1, 0, 2)
    normal = np.cross(b - a, c - a)
    doubled = np.linalg.norm(normal, axis=1)
    volumes = np.bincount(shell, weights=np.einsum("ij,ij->i", a, normal), minlength=count) / 6.0
    if (volumes < 0.0).any():  # a cavity belongs to the piece around it
        return shape
    areas = np.bincount(shell, weights=doubled, minlength=count) / 2.0
    # across the largest face of each piece
    order = np.lexsort((doubled, shell))
    ends = np.append(np.flatnonzero(np.diff(shell[order])), len(order) - 1)
    broad = order[ends]
    facing = normal[broad] / np.maximum(doubled[broad], 1e-300)[:, None]
    heights = np.einsum("ijk,ik->ij", shape.corners - starts[:, None, :], facing[shell])
    begins = np.append(0, ends[:-1] + 1)
    across = np.maximum.reduceat(heights.max(axis=1)[order], begins) - np.minimum.reduceat(
        heights.min(axis=1)[order], begins
    )
    skin = (2.0 * volumes <= thickness * areas) & (across <= width) | (volumes <= volume)
    if not skin.any():
        return shape
    faces = shape.faces[~skin[shell]]
    if not len(faces):
        return None
    return Shape.of_faces(shape.vertices, faces)


def _least_width(part: Solid) -> tuple[float, Points]:
    hull = Shape.from_manifold(part.manifold.hull())
    if hull is None:
        return 0.0, part.centroid
    a, b, c = hull.corners.transpose(1, 0, 2)
    normal = np.cross(b - a, c - a)
    length = np.linalg.norm(normal, axis=1)
    # slivers have unsure normals: harmless, for the width in any direction is no less than the least
    order = np.argsort(-length, kind="stable")[: int((length > 0.0).sum())]
    facing = normal[order] / length[order, None]
    if len(facing) > MOST_DIRECTIONS:
        # of faces that look nearly the same way the largest will do, but look closely where it is narrow
        _, first = np.unique((facing * COARSE).round(), axis=0, return_index=True)
        coarse = facing[np.sort(first)]
        best = coarse[int(np.argmin(_widths(coarse, hull.vertices)))]
        near = np.argsort(-np.abs(along(facing, best)), kind="stable")[:MOST_DIRECTIONS]
        facing = np.concatenate([best[None, :], facing[near]])
    return float(_widths(facing, hull.vertices).min()), hull.centroid


def _widths(directions: Points, vertices: Points) -> Points:
    # written out as ``along`` is, some directions at a time, for what is held in the cores' own memory
    (a, b, c), (x, y, z) = directions.T[:, :, None], np.ascontiguousarray(vertices.T)
    some = max(1, AT_ONCE // len(vertices))
    heights = (
        x * a[k : k + some] + y * b[k : k + some] + z * c[k : k + some]
        for k in range(0, len(directions), some)
    )
    return np.concatenate([each.max(axis=1) - each.min(axis=1) for each in heights])


def _largest_ball(part: Solid) -> tuple[float, Points]:
    a, b, c = part.vertices[part.faces].transpose(1, 0, 2)
    normal = np.cross(b - a, c - a)
    doubled = np.linalg.norm(normal, axis=1)
    faces = np.flatnonzero(doubled > 0.0)
    faces = faces[:: math.ceil(len(faces) / MOST_PROBES)]
    inward = -normal[faces] / doubled[faces, None]
    begins = (a[faces] + b[faces] + c[faces]) / 3.0
    # a long ray passes many boxes of faces, and in a skin a short one meets the other side
    along_it = (1e-9, 4.0 * mean_thickness(part), float(np.linalg.norm(np.ptp(part.bounds, axis=0))))
    cast, ends = part.manifold.ray_cast, begins.copy()
    rays = zip(*((begins + reach * inward).tolist() for reach in along_it), strict=True)
    for number, (start, near, far) in enumerate(rays):
        if hits := cast(start, near) or cast(start, far):
            ends[number] = hits[0].position
    across = ends - begins
    largest, at = 0.0, part.centroid
    for length, middle in zip(np.linalg.norm(across, axis=1).tolist(), begins + across / 2.0, strict=True):
        if length > largest:  # no ball with its middle here can be larger
            room, _ = _room(part, middle)
            if 2.0 * room > largest:
                largest, at = 2.0 * room, middle
    return _grown(part, largest, at)


def _grown(part: Solid, largest: float, at: Points) -> tuple[float, Points]:
    """Move a ball's middle away from what it touches for as long as that makes room for a larger one."""
    step = largest / 4.0
    _, away = _room(part, at)
    for _ in range(GROWING_STEPS):
        middle = at + step * away
        room, onward = _room(part, middle)
        if 2.0 * room > largest and inside(part, middle)[0]:
            largest, at, away = 2.0 * room, middle, onward
        else:
            step /= 2.0
    return largest, at


def _room(part: Solid, middle: Points) -> tuple[float, Points]:
    """Distance from a point to the surface, [m], and the direction away from the nearest place on it."""
    result = coal.DistanceResult()
    room = coal.distance(
        part.shape.tree,
        coal.Transform3s(part.placement.rotation, part.placement.offset),
        coal.Sphere(0.0),
        coal.Transform3s(np.eye(3), middle),
        coal.DistanceRequest(),
        result,
    )
    away = middle - np.asarray(result.getNearestPoint1(), dtype=np.float64).reshape(3)
    return max(float(room), 0.0), away / max(float(np.linalg.norm(away)), 1e-300)
