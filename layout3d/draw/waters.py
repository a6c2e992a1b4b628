"""Water as it is drawn: clear prisms with a surface, waterlines on glass and on what stands through it.

For the eye only: net volumes are computed elsewhere, and what stands in the water is not cut out of it here.
"""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np
from numpy.typing import NDArray

from layout3d.draw.pieces import WATER_NAME, Lines, Piece, WaterBody, inside_plan, lines_of, surface_of
from layout3d.draw.style import WATER, finish_of
from layout3d.model.model import Model
from layout3d.parts.base import Body
from layout3d.solid.boolean import section

__all__ = ["lines_on_things", "water_outline", "water_piece", "waters_of"]

INSET = 0.0004  # m from the glass, so that water and pane are not drawn in one place


def waters_of(model: Model, bodies: Iterable[Body]) -> tuple[WaterBody, ...]:
    """Return the tank's water, and that of the sumps and overflow boxes of which a body is shown."""
    shown = {body.part for body in bodies}
    waters = [WaterBody(plan=np.array(model.tank.plan), floor=0.0, level=model.waterline)]
    for built in model.overflow_boxes:
        if built.part.name in shown:
            box = built.data
            waters.append(WaterBody(plan=np.array(box.plan), floor=box.floor, level=box.level))
    for sump in model.sumps:
        for room in sump.data.compartments if sump.part.name in shown else ():
            (x0, y0, floor), (x1, y1, _) = room.low, room.high
            plan = np.array([[x0, y0], [x1, y0], [x1, y1], [x0, y1]])
            waters.append(WaterBody(plan=plan, floor=floor, level=room.water_z))
    return tuple(waters)


def water_piece(water: WaterBody) -> Piece:
    """Return water as an upright prism, its surface in a tone of its own.

    What stands in it is drawn over it, not cut out of it.
    """
    plan, floor, level = water.plan, water.floor, water.level
    centre = plan.mean(axis=0)
    loop = plan + (centre - plan) / np.linalg.norm(centre - plan, axis=1, keepdims=True) * INSET
    count = len(loop)
    low = np.column_stack([loop, np.full(count, floor + INSET)])
    high = np.column_stack([loop, np.full(count, level)])
    i, j = np.arange(count), np.roll(np.arange(count), -1)
    sides = np.stack([low[i], low[j], high[j], low[i], high[j], high[i]], axis=1).reshape(-1, 3)
    fan = np.stack([high[np.zeros(count - 2, int)], high[1:-1], high[2:]], axis=1).reshape(-1, 3)
    points = np.concatenate([sides, fan])
    edge = loop[j] - loop[i]
    outward = np.column_stack([edge[:, 1], -edge[:, 0], np.zeros(count)])
    outward /= np.linalg.norm(outward, axis=1, keepdims=True)
    normals = np.concatenate([np.repeat(outward, 6, axis=0), np.tile([0.0, 0.0, 1.0], (len(fan), 1))])
    colour = np.concatenate(
        [
            np.tile([*WATER.side, WATER.side_opacity], (len(sides), 1)),
            np.tile([*WATER.surface, WATER.surface_opacity], (len(fan), 1)),
        ]
    )
    faces = np.arange(len(points), dtype=np.int32).reshape(-1, 3)
    return surface_of(WATER_NAME, points, normals, faces, colour, clear=True, lighted=False)


def water_outline(water: WaterBody) -> Lines:
    """Return the waterline on the glass around a plan."""
    high = np.column_stack([water.plan, np.full(len(water.plan), water.level)])
    rim = np.stack([high, np.roll(high, -1, axis=0)], axis=1)
    return lines_of(WATER_NAME, rim, WATER.line, 2.4)


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
