"""Drip holes under water, or just over it: they don't drip, and water runs back through them."""

from __future__ import annotations

import numpy as np

from layout3d.checks.base import Findings, rule
from layout3d.checks.measure import farthest, judged, limit, missing, worded
from layout3d.model.model import Model
from layout3d.pipework.graph import Mouth, Pipework
from layout3d.pipework.read import pipework
from layout3d.pipework.waters import water_at_point

BREAK = 2
"""Up to so many holes of a pipe whose end lies under water are a siphon break, which belongs there."""


@rule(
    "drip-under-water",
    asks="Drip holes that a pump feeds hang over the water.",
    limits=("drip_hole_over_water",),
)
def drowned_holes(model: Model) -> Findings:
    """Find holes under water or just over it, told together for each pipe; air lines are let be.

    A fault where one lies under water, a warning where it hangs close over it.
    """
    wanted = limit(model, "drip_hole_over_water")
    for ways in pipework(model).parts:
        if all(pump.air for pump in ways.pumps):
            continue
        for mouth in ways.mouths:
            if mouth.kind == "holes" and not _siphon_break(model, ways, mouth):
                yield from _judge(model, mouth, wanted)


def _judge(model: Model, mouth: Mouth, wanted: float) -> Findings:
    waters = [(hole.at, water_at_point(model, hole.at)) for hole in mouth.holes]
    over = [(at[2] - water[1], at, water[0]) for at, water in waters if water is not None]
    low = [one for one in over if missing(one[0], wanted)]
    if not low:
        return
    height, _, name = min(low)
    where = worded(height, "{} over", "{} under", "level with")
    water = "the waterline" if name == model.tank_name else f"the water of {name}"
    yield from judged(
        model,
        height,
        "drip_hole_over_water",
        0.0,
        parts=(mouth.body,),
        at=farthest(np.array([at for _, at, _ in low]), (0.0, 0.0, -1.0)),
        says=f"{len(low)} of {len(mouth.holes)} drip holes of {mouth.body} do not drip freely: the lowest is "
        f"{where} {water}",
        remedy=f"lead {mouth.part} {{short}} higher, or lower the water; as the pump stops, water runs back "
        "through holes that lie in it. Where a bar is to stir the water, accept this with the reason",
    )


def _siphon_break(model: Model, ways: Pipework, holes: Mouth) -> bool:
    """Tell whether these few holes let air into pipe that ends under water."""
    if len(holes.holes) > BREAK:
        return False
    for mouth in ways.mouths:
        water = water_at_point(model, mouth.at) if mouth.kind != "holes" else None
        if water is not None and mouth.lower_edge < water[1]:
            return True
    return False
