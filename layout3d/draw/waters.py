"""Water as it is drawn: clear prisms with a surface, waterlines on glass and on what stands through it.

For the eye only: net volumes are computed elsewhere, and what stands in the water is not cut out of it here.
"""

from __future__ import annotations

from collections.abc import Iterable
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from layout3d.draw.pieces import WATER_NAME, Lines, Piece, WaterBody, inside_plan, lines_of, surface_of
from layout3d.draw.style import WATER, finish_of
from layout3d.parts.base import Body
from layout3d.solid.boolean import section
from layout3d.solid.shape import Solid

if TYPE_CHECKING:
    from layout3d.model.model import Model

__all__ = ["lines_on_things", "water_outline", "water_piece", "waters_of"]

INSET = 0.0004  # m from the glass, so that water and pane are not drawn in one place


def waters_of(model: Model, bodies: Iterable[Body]) -> tuple[WaterBody, ...]:
    """Return the tank's water, and that of the sumps and overflow boxes of which a body is shown."""
    shown = {body.part for body in bodies}
    boxes = {built.part.name: built.data for built in model.overflow_boxes if built.part.name in shown}
    without = tuple(_outer_plan(box.outer) for box in boxes.values())
    plan = np.array(model.tank.plan)
    waters = [WaterBody(plan=plan, floor=0.0, level=model.waterline, without=without)]
    waters += [
        WaterBody(name=name, plan=np.array(box.plan), floor=box.floor, level=box.level, rim=box.rim)
        for name, box in boxes.items()
    ]
    for sump in model.sumps:
        for room in sump.data.compartments if sump.part.name in shown else ():
            (x0, y0, floor), (x1, y1, _) = room.low, room.high
            plan = np.array([[x0, y0], [x1, y0], [x1, y1], [x0, y1]])
            name = f"{sump.part.name}.{room.name}"
            waters.append(WaterBody(name=name, plan=plan, floor=floor, level=room.water_z))
    return tuple(waters)


def _outer_plan(outer: Solid) -> NDArray[np.float64]:
    """Return the plan of what a box takes of the tank, cut at half its height, anticlockwise."""
    middle = float(outer.bounds[:, 2].mean())
    loops = section(outer, origin=(0.0, 0.0, middle), normal=(0.0, 0.0, 1.0))
    return np.asarray(max(loops, key=len)[:-1, :2])


def water_piece(water: WaterBody) -> Piece:
    """Return water as an upright prism, its surface in a tone of its own, its sides denser further down.

    What stands in it is drawn over it, not cut out of it.
    """
    import manifold3d

    floor, level = water.floor + INSET, water.level
    deep = min((level - floor) / WATER.deep_at, 1.0) * WATER.deep_opacity
    points, normals, opacities = [], [], []
    rings = water.rings(INSET)
    for ring in rings:
        i, j = np.arange(len(ring)), np.roll(np.arange(len(ring)), -1)
        low, high = (np.column_stack([ring, np.full(len(ring), z)]) for z in (floor, level))
        points.append(np.stack([low[i], low[j], high[j], low[i], high[j], high[i]], axis=1).reshape(-1, 3))
        edge = ring[j] - ring[i]
        outward = np.column_stack([edge[:, 1], -edge[:, 0], np.zeros(len(ring))])
        outward /= np.maximum(np.linalg.norm(outward, axis=1, keepdims=True), 1e-12)
        normals.append(np.repeat(outward, 6, axis=0))
        under = np.tile([1.0, 1.0, 0.0, 1.0, 0.0, 0.0], len(ring))
        opacities.append(WATER.side_opacity + deep * under)
    flat = np.concatenate(rings)[np.asarray(manifold3d.triangulate(rings)).ravel()]
    top = np.column_stack([flat, np.full(len(flat), level)])
    sides = len(np.concatenate(points))
    colour = np.concatenate(
        [
            np.column_stack([np.tile(WATER.side, (sides, 1)), np.concatenate(opacities)]),
            np.tile([*WATER.surface, WATER.surface_opacity], (len(top), 1)),
        ]
    )
    points.append(top)
    normals.append(np.tile([0.0, 0.0, 1.0], (len(top), 1)))
    every = np.concatenate(points)
    faces = np.arange(len(every), dtype=np.int32).reshape(-1, 3)
    return surface_of(WATER_NAME, every, np.concatenate(normals), faces, colour, clear=True, lighted=False)


def water_outline(water: WaterBody) -> Lines:
    """Return the waterline on the glass around a plan."""
    rims = []
    for ring in water.rings():
        high = np.column_stack([ring, np.full(len(ring), water.level)])
        rims.append(np.stack([high, np.roll(high, -1, axis=0)], axis=1))
    return lines_of(WATER_NAME, np.concatenate(rims), WATER.line, 3.2)


def lines_on_things(bodies: tuple[Body, ...], plan: NDArray[np.float64], level: float) -> list[Lines]:
    """Return the lines where things stand through the tank's water surface."""
    found = []
    for body in bodies:
        low, top = body.solid.bounds[:, 2]
        if body.where != "tank" or not low < level < top or finish_of(body).opacity < 1.0:
            continue
        for loop in section(body.solid, origin=(0.0, 0.0, level), normal=(0.0, 0.0, 1.0)):
            inside = inside_plan((loop[:-1, :2] + loop[1:, :2]) / 2.0, plan) > 0.0
            found.append(np.stack([loop[:-1], loop[1:]], axis=1)[inside])
    return [lines_of(WATER_NAME, np.concatenate(found), WATER.line, 1.4, 0.55)] if found else []
