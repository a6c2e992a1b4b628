"""What is glued to the tank's panes: perimeter brace, cross braces, rim, and the silicone in the corners."""

from __future__ import annotations

import math

import numpy as np

from layout3d.parts.base import Body, Site
from layout3d.parts.shapes.plan import move_edges
from layout3d.parts.tank_data import CORNER
from layout3d.parts.tank_fields import PerimeterBrace, Rim, TankFields
from layout3d.solid.boolean import difference, intersection, union, whole
from layout3d.solid.primitives import box, prism
from layout3d.solid.shape import Placement, Shape, Solid

__all__ = ["beads", "bracing"]


def bracing(tank: TankFields, site: Site, interior: Solid) -> list[Body]:
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
        strip = add(_perimeter(tank, tank.perimeter_brace), "perimeter_brace", "brace", tank.material)
    for number in range(1, len(tank.cross_braces) + 1):
        add(_cross(tank, number, interior, strip), f"cross_brace_{number}", "brace", tank.material)
    if tank.rim:
        add(_rim(tank, tank.rim), "rim", "rim", tank.rim.material)
    if tank.silicone > 0:
        braces = [body.solid for body in bodies if body.kind == "brace"]
        left = difference(beads(tank.plan(), tank.inside_size()[2], tank.silicone), braces)
        add(whole(left, "bead"), "silicone", "silicone", "silicone")
    return bodies


def _perimeter(tank: TankFields, brace: PerimeterBrace) -> Solid:
    plan, height = tank.plan(), tank.inside_size()[2]
    ring = prism(plan, brace.thickness, holes=[move_edges(plan, brace.width)])
    return ring.solid(Placement.at((0, 0, height - brace.below_top - brace.thickness)))


def _cross(tank: TankFields, number: int, interior: Solid, strip: Solid | None) -> Solid:
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


def _rim(tank: TankFields, rim: Rim) -> Solid:
    plan, outer, height = tank.plan(), tank.outer_plan(), tank.inside_size()[2]
    wide = move_edges(outer, -rim.thickness)
    band = prism(wide, rim.height, holes=[outer]).solid(Placement.at((0, 0, height - rim.height)))
    lip = prism(wide, rim.thickness, holes=[plan]).solid(Placement.at((0, 0, height)))
    return whole(union([band, lip]), "rim")


def beads(plan: np.ndarray, height: float, leg: float) -> Solid:
    """Return the triangular bead along the bottom edges, mitred in the corners, and up the corners."""
    count, inner = len(plan), move_edges(plan, leg)
    vertices = np.concatenate(
        [np.column_stack([ring, np.full(count, z)]) for ring, z in ((plan, 0.0), (plan, leg), (inner, 0.0))]
    )
    here = np.arange(count)
    onward = np.roll(here, -1)
    faces = [
        np.column_stack([low, low_on, high_on, low, high_on, high]).reshape(-1, 3)
        for low, low_on, high, high_on in (
            (here, onward, count + here, count + onward),  # on the walls
            (count + here, count + onward, 2 * count + here, 2 * count + onward),  # the open face
            (2 * count + here, 2 * count + onward, here, onward),  # on the floor
        )
    ]
    beads = [Shape.of(vertices, np.concatenate(faces)).solid()]
    for index in range(count):
        corner, ahead, back = plan[index], plan[(index + 1) % count], plan[index - 1]
        ways = [(point - corner) / math.hypot(*(point - corner)) for point in (ahead, back)]
        if float(np.dot(*ways)) < -math.cos(CORNER):
            continue
        beads.append(prism(np.array([corner, *(corner + leg * way for way in ways)]), height).solid())
    return whole(union(beads), "bead")
