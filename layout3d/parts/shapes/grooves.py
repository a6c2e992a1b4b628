"""Channels that a background's slab has for pipework, and what fills the bores of foamed-in pipes."""

from __future__ import annotations

import itertools
import math
from collections.abc import Sequence
from dataclasses import dataclass

import manifold3d
import numpy as np

from layout3d.keep import remembered
from layout3d.parts.background_data import Slab
from layout3d.parts.base import Body, Built, Part, Site
from layout3d.parts.run_data import RunData
from layout3d.parts.tank_data import Panel
from layout3d.solid.boolean import cropped, difference
from layout3d.solid.placement import Array, Points
from layout3d.solid.primitives import sweep
from layout3d.solid.shape import Shape, Solid

__all__ = [
    "SEAM",
    "Groove",
    "bores_of",
    "bulkhead_bore",
    "by_corners",
    "fixed_in",
    "grooves",
    "rod",
    "waterway",
]

CHANNEL_SIDES = 32
ROUNDING = 1e-12  # of a volume, as a share of it, [-]
SEAM = 1e-4
"""How far cutters reach past a face, so that no film is left, [m]."""
PAST = 0.01
"""So far past a box goes what is cut out of a slab there, so that no two faces end in one plane, [m]."""


@dataclass(frozen=True, slots=True)
class Groove:
    """A piece of a run, and the channel that lets it in from the glass."""

    run: str
    piece: Solid
    opened: Solid

    def reaches(self, slab: Slab) -> bool:
        """Tell whether any of the piece lies behind the slab's front."""
        local = slab.panel.local(self.piece.vertices)
        over = slab.covers(local[:, 0], local[:, 1])
        return bool((local[over, 2] < slab.front_at(local[over, 0], local[over, 1])).any())


def waterway(built: Built[Part, object]) -> list[Solid]:
    """Return what fills the bore of an embedded run: foam goes around a pipe, not into it.

    Nor does it get between a pipe and its socket or clip: that is filled as well, for where both are cut out
    face to face they leave a skin of no thickness, and the library for booleans swaps faces, real ones with
    them, where it takes in a mesh that has one.
    """
    if not isinstance(built.data, RunData):
        return []
    made, solids = [], {body.name: body.solid for body in built.bodies}
    clips = [(np.array(each.at), solids[each.body]) for each in built.data.supports if each.body]
    for element in built.data.elements:
        path = np.array(element.path)
        if element.flow_length > 1e-6:
            made.append(rod(path, element.bore / 2 + SEAM))
        if element.kind not in ("pipe", "tube"):
            continue
        held = list(zip(path[[0, -1]], np.array(element.visible), strict=True)) if element.visible else []
        for a, b in itertools.pairwise(path):
            way = (b - a) / np.linalg.norm(b - a)
            for at, clip in clips:
                share = float(np.dot(at - a, way))
                if 0.0 <= share <= np.linalg.norm(b - a) and np.linalg.norm(at - a - share * way) < SEAM:
                    along = (clip.vertices - at) @ way
                    held.append((at + along.min() * way, at + along.max() * way))
        for bottom, face in held:
            deep = float(np.linalg.norm(face - bottom))
            if deep > SEAM:
                begin = bottom - (face - bottom) * (SEAM / deep)
                made.append(rod(np.array([begin, face]), element.outside / 2 + SEAM))
    return made


def bulkhead_bore(tank: Built[Part, object], body: str) -> list[Solid]:
    """Return what fills the bore of a tank's bulkhead, by its body's name; nothing where it is none."""
    ends = [port for port in tank.ports if port.body == body]
    if len(ends) != 2:
        return []
    return [rod(np.array([ends[0].at, ends[1].at]), ends[0].bore / 2 + SEAM)]


def bores_of(site: Site, part: Part, bodies: set[str]) -> list[Solid]:
    """Return what fills the bores of pipework among these bodies: sand goes around a pipe, not into it."""
    tank = site.tank()
    bulkheads = [f"{tank.part.name}.{name}" for name in tank.data.holes]
    filled = [bore for name in bulkheads if name in bodies for bore in bulkhead_bore(tank, name)]
    for run in site.of_kind("run"):
        built = site.built(run.name, part)
        if any(body.name in bodies for body in built.bodies):
            filled += waterway(built)
    return filled


def rod(path: Array, radius: float) -> Solid:
    """Return a rod along a path (k, 3), [m], that holds the whole circle: its flat sides touch it."""
    step = 2.0 * math.pi / CHANNEL_SIDES
    flats = math.sqrt(step / math.sin(step)) * math.cos(step / 2.0)  # of a circle of the same area
    return sweep(path, radius / flats, n=CHANNEL_SIDES).solid()


def grooves(
    run: Built[Part, object], data: RunData, panels: Sequence[Panel], *, gap: float, behind: float | None
) -> list[Groove]:
    """Return the grooves of a run: what each piece takes up, widened by the gap, opened towards the glass.

    Parameters
    ----------
    panels : those that the slab stands on
    gap : around pipe and fittings, [m]
    behind : how far from the glass the opening ends, [m]; None for a closed bore
    """
    solids = {body.name: body.solid for body in run.bodies}

    def groove(piece: Solid, straight: Solid | None = None) -> Groove:
        corners = np.array(list(itertools.product((-1.0, 1.0), repeat=3))) * (0.0 if straight else gap)
        return Groove(run.part.name, piece, _opened(straight or piece, panels, corners, behind))

    made = []
    for element in data.elements:
        piece = solids[element.body]
        if element.kind not in ("pipe", "tube"):
            made.append(groove(piece))
            continue
        for a, b in itertools.pairwise(np.array(element.path)):
            way = (b - a) / np.linalg.norm(b - a)
            ends = np.array([a - way * gap, b + way * gap])
            made.append(groove(piece, rod(ends, element.outside / 2 + gap)))
    return [*made, *(groove(solids[support.body]) for support in data.supports if support.body)]


def by_corners(solid: Solid) -> Solid:
    """Return a convex solid by its corners alone, and any other as it is.

    What is cut out of a long groove is the same there, wherever the groove ends; its triangles are not.
    """

    def told() -> Solid:
        corners = solid.vertices[np.lexsort(solid.vertices.T)]
        hull = Shape.from_manifold(manifold3d.Manifold.hull_points(corners))
        convex = (
            hull is not None
            and len(hull.vertices) == len(corners)
            and abs(hull.volume - solid.volume) <= ROUNDING * hull.volume
        )
        return hull.solid() if hull is not None and convex else solid

    return remembered("by corners", solid, make=told, size=lambda found: 100 * found.face_count)


def _opened(solid: Solid, panels: Sequence[Panel], corners: Array, behind: float | None) -> Solid:
    """Return a piece's convex hull, widened by ``corners`` and drawn out to the nearest of the panels."""
    middle = solid.vertices.mean(axis=0)
    panel = min(panels, key=lambda p: abs(float(p.local(middle)[0, 2])))
    points = panel.local(solid.vertices)
    if corners.any():
        hull = np.asarray(manifold3d.Manifold.hull_points(points).to_mesh64().vert_properties)[:, :3]
        points = (hull[:, None, :] + corners[None, :, :]).reshape(-1, 3)
    if behind is not None:
        ends = points.copy()
        ends[:, 2] = behind
        points = np.vstack([points, ends])
    mesh = manifold3d.Manifold.hull_points(points).to_mesh64()
    vertices = np.asarray(mesh.vert_properties)[:, :3]
    return Shape.of(vertices, np.asarray(mesh.tri_verts, dtype=np.int64)).solid(panel.placement())


def fixed_in(bodies: list[Body], bounds: Points) -> list[Solid]:
    """Return what of bodies lies in a box.

    What a slab is elsewhere, or a pipe farther off, does nothing to what is cut around it: of what is
    hollowed that is taken which it was before, less what reaches into the box.
    """
    slabs = [body for body in bodies if body.rough is not None and body.uncut is None]
    found = cropped([body.solid for body in bodies if body not in slabs], bounds)
    past = bounds + np.array([[-PAST], [PAST]])
    for rough in dict.fromkeys(body.rough for body in slabs if body.rough is not None):
        works = cropped(rough.works, past)
        left = (difference(part, (), loose=works) for part in cropped([rough.solid], bounds))
        found += [part for part in left if part is not None]
    return found
