"""What is glued to the tank's panes: perimeter brace, cross braces, rim, and the silicone in the corners."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np

from layout3d.parts.base import Body, Site
from layout3d.parts.shapes.plan import edge_normals, move_edges
from layout3d.solid.boolean import difference, intersection, union
from layout3d.solid.primitives import box, prism
from layout3d.solid.shape import Placement, Solid

if TYPE_CHECKING:
    from layout3d.parts.tank import Tank

__all__ = ["bracing"]


def bracing(tank: Tank, site: Site, interior: Solid) -> list[Body]:
    """Return braces, rim and silicone, in this order.

    Raises
    ------
    SceneMistake : a cross brace that has no place of its own.
    """
    bodies: list[Body] = []

    def add(solid: Solid, piece: str, kind: str, material: str) -> Solid:
        bodies.append(tank.body(solid, site, material=material, piece=piece, kind=kind))
        return solid

    strip = None
    if tank.perimeter_brace:
        strip = add(_perimeter(tank), "perimeter_brace", "brace", tank.material)
    for number in range(1, len(tank.cross_braces) + 1):
        add(_cross(tank, number, interior, strip), f"cross_brace_{number}", "brace", tank.material)
    if tank.rim:
        add(_rim(tank), "rim", "rim", tank.rim.material)
    if tank.silicone > 0:
        beads = union(_beads(tank.plan(), tank.inside_size()[2], tank.silicone))
        assert beads is not None, "a tank has corners (bracing)"
        bead = intersection(beads, interior)
        braces = [body.solid for body in bodies if body.kind == "brace"]
        left = difference(bead, braces) if bead is not None and braces else bead
        assert left is not None, "braces stand above the lower beads (bracing)"
        add(left, "silicone", "silicone", "silicone")
    return bodies


def _perimeter(tank: Tank) -> Solid:
    plan, height = tank.plan(), tank.inside_size()[2]
    brace = tank.perimeter_brace
    assert brace is not None, "asked for only where there is one (_perimeter)"
    ring = prism(plan, brace.thickness, holes=[move_edges(plan, brace.width)])
    return ring.solid(Placement.at((0, 0, height - brace.below_top - brace.thickness)))


def _cross(tank: Tank, number: int, interior: Solid, strip: Solid | None) -> Solid:
    cross, height = tank.cross_braces[number - 1], tank.inside_size()[2]
    depth = float(np.ptp(tank.plan()[:, 1]))
    slab = box((cross.width, depth, cross.thickness)).solid(
        Placement.at((cross.at - cross.width / 2, 0.0, height - cross.thickness))
    )
    cut = intersection(slab, interior)
    if cut is not None and strip is not None:
        cut = difference(cut, [strip])
    if cut is None:
        raise tank.mistake(
            f"cross_braces[{number}]",
            "nothing is left of this brace beside the perimeter brace",
            expected="a brace that reaches over open water",
        )
    return cut


def _rim(tank: Tank) -> Solid:
    plan, outer, height = tank.plan(), tank.outer_plan(), tank.inside_size()[2]
    rim = tank.rim
    assert rim is not None, "asked for only where there is one (_rim)"
    wide = move_edges(outer, -rim.thickness)
    band = prism(wide, rim.height, holes=[outer]).solid(Placement.at((0, 0, height - rim.height)))
    lip = prism(wide, rim.thickness, holes=[plan]).solid(Placement.at((0, 0, height)))
    whole = union([band, lip])
    assert whole is not None, "a rim has a band and a lip (_rim)"
    return whole


def _beads(plan: np.ndarray, height: float, leg: float) -> list[Solid]:
    """Return the triangular beads along the bottom edges and up the corners; ends may run past the inside."""
    beads = []
    inward = edge_normals(plan)
    triangle = np.array([[0.0, 0.0], [leg, 0.0], [0.0, leg]])
    for index in range(len(plan)):
        a, b, before = plan[index], plan[(index + 1) % len(plan)], plan[index - 1]
        edge, back = b - a, before - a
        length = math.hypot(*edge)
        # the profile's x runs inward, its y up, its z (the prism's axis) along the edge
        frame = Placement.from_frame(
            (float(a[0]), float(a[1]), 0.0),
            (float(inward[index][0]), float(inward[index][1]), 0.0),
            (float(edge[0] / length), float(edge[1] / length), 0.0),
        )
        beads.append(prism(triangle, length).solid(frame))
        corner = np.array([a, a + leg * edge / length, a + leg * back / math.hypot(*back)])
        beads.append(prism(corner, height).solid())
    return beads
