"""Lights and air pumps that hang into the water, or that it rises to, splashes at or comes down on."""

from __future__ import annotations

from layout3d.checks.base import CURRENT, Finding, Findings, rule
from layout3d.checks.in_water import levels_at_stops, water_around
from layout3d.checks.measure import farthest, judged, length, worded
from layout3d.checks.thrown import falls_on, jets
from layout3d.model.model import Model
from layout3d.parts.base import Body, Vector


@rule(
    "stays-dry",
    asks="Lights and air pumps stay above the water, whatever stops, and nothing drips on them.",
    caution=CURRENT,
    limits=("light_over_water",),
)
def stays_dry(model: Model) -> Findings:
    """Find lights and air pumps in or near the water, also once pumps or drains stop, or under falling water.

    A light counts as of the room, yet hangs over the tank.
    """
    dry = (*model.lights, *(pump for pump in model.pumps if pump.part.air))
    if dry:
        yield from _rained_on(model, tuple(body for built in dry for body in built.bodies))
    drowned: set[str] = set()
    for body in (body for built in dry for body in built.bodies):
        hangs = body.where == "room" and _over_tank(model, body)
        water = (model.waterline, "the waterline", "") if hangs else water_around(model, body)
        if water is None:
            continue
        lowest = farthest(body.solid.vertices, (0.0, 0.0, -1.0))
        over = lowest[2] - water[0]
        how = worded(over, "hangs {} over", "reaches {} below")
        yield from judged(
            model,
            over,
            "light_over_water",
            0.0,
            parts=(body.part,),
            at=lowest,
            says=f"{body.part} {how} {water[1]}",
            remedy=f"raise {body.part} by {{short}}",
        )
        if over >= 0.0 and body.part not in drowned:
            for finding in _drowned(model, body.part, lowest, water[0], water[2]):
                drowned.add(body.part)
                yield finding


def _rained_on(model: Model, bodies: tuple[Body, ...]) -> Findings:
    """Find what a jet or a drop comes down on, each once."""
    told = set()
    for jet in jets(model):
        hit = falls_on(model, jet, bodies)
        if hit is None or hit.part in told:
            continue
        told.add(hit.part)
        yield Finding(
            parts=(hit.part, jet.part),
            at=jet.start,
            message=f"water from {'the ' if jet.of > 1 else ''}{jet.words} comes down on {hit.part}",
            remedy=f"move {hit.part} out from under it, or lead {jet.part} elsewhere",
        )


def _drowned(model: Model, part: str, lowest: Vector, level: float, water: str) -> Findings:
    """Find what the water rises to as pumps stop or a drain is blocked, by what brings it highest."""
    rises = [
        (most, words) for words, name, (_, most) in levels_at_stops(model, all_drains=False) if name == water
    ]
    most, words = max(rises, default=(level, ""))
    if lowest[2] < most:
        yield Finding(
            parts=(part,),
            measured=lowest[2] - most,
            limit=0.0,
            at=lowest,
            message=f"{words} the water rises by {length(most - level)}, and {length(most - lowest[2])} over "
            f"the lower edge of {part}",
            remedy=f"raise {part} by {length(most - lowest[2])} or more, or fill the return chamber less",
        )


def _over_tank(model: Model, body: Body) -> bool:
    """Tell whether any corner of a body is over the tank's inside, above its floor."""
    points = body.solid.vertices
    return bool(((model.tank.room(points) >= 0) & (points[:, 2] >= 0)).any())
