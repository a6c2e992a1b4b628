"""Gravity drains of a model: where each takes water in, how high it stands over them, what they carry.

Open flow is what counts. A drain that runs full carries several times as much and is told apart, never
relied on. Left out: venting, foam, the jump of the water at the foot of an upright, slime.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

from layout3d.band import SETTINGS, Band, Setting
from layout3d.errors import LayoutError, NotPossible, OutOfRange
from layout3d.fittings.losses import Loss, fitting_loss, total_loss
from layout3d.fittings.strainer import STRAINER, strainer_slots
from layout3d.flow.drain import (
    AIR_NOTE,
    FULLEST,
    MANNING,
    Trap,
    part_full_flow,
    siphon_flow,
    stack_flow,
    traps,
)
from layout3d.flow.intake import Intake, Rim, Slit, Slits, Stage, hole_slits, intake_flow, intake_level
from layout3d.flow.roots import root
from layout3d.flow.water import Water, water_at
from layout3d.model.model import Model
from layout3d.parts.base import Vector
from layout3d.pipework.graph import Mouth, Pipework, Way, level_share
from layout3d.pipework.read import pipework
from layout3d.water.kept import kept

__all__ = ["DrainLimit", "GravityDrain", "gravity_drains", "running_level", "water_of_scene"]

UPRIGHT = math.sin(math.radians(45.0))  # legs that fall more steeply carry a sheet round a core of air
LEVEL = 1e-3  # [-], a leg that falls less has no fall to speak of: laying is no better
# how full a sloped leg may be and still be called open. Half full is the usual basis of drain tables in
# codes; the fullest carries most. Common practice, no source
OPEN_DEPTH = Band(low=0.5, likely=0.75, high=FULLEST, note="half to all but full")


@dataclass(frozen=True, slots=True, kw_only=True)
class DrainLimit:
    """What one leg of a drain carries with air over the water, or at the head that stands before it."""

    words: str
    at: Vector
    flow: Band


@dataclass(frozen=True, slots=True, kw_only=True)
class GravityDrain:
    """A drain without a pump, from ``mouth`` in the tank to ``outlet``.

    ``crest``: level from which water runs away, z [m]. ``siphon_level``: level to which it empties the tank
    where it runs full and its mouth hangs below its crest, z [m]; else the crest. ``traps``: where its path
    rises. ``rise``: how far it has to run uphill outside the tank before it runs away, [m].
    ``limits``: legs with what each carries open. ``full``: flow running full, [m³/s], not to be relied on.
    """

    name: str
    mouth: Mouth
    outlet: Mouth
    way: Way
    intake: Intake
    crest: float
    siphon_level: float
    parts: tuple[str, ...]
    traps: tuple[Trap, ...]
    rise: float
    limits: tuple[DrainLimit, ...]
    full: Band
    loss: Loss
    notes: tuple[str, ...]

    @property
    def narrowest(self) -> DrainLimit:
        """Leg that carries least."""
        return min(self.limits, key=lambda limit: limit.flow.likely)

    @property
    def open_flow(self) -> Band:
        """What it carries open, [m³/s]: that of the leg that carries least."""
        return self.narrowest.flow

    @property
    def uphill(self) -> bool:
        """Whether its path rises on its way down, or climbs over the level of its intake outside the tank."""
        return bool(self.traps) or self.rise > 0.0

    def full_at(self, level: float, *, setting: Setting, water: Water) -> float:
        """Flow running full with the tank at ``level``, z [m]; [m³/s]."""
        return _full(self.way, self.outlet, self.loss, level, water).at(setting)


@kept
def gravity_drains(model: Model) -> tuple[GravityDrain, ...]:
    """Find the drains of a model: pipework without a pump from a mouth in the tank to one outside it.

    Returns
    -------
    One for each mouth in the tank, lowest crest first. Pipework behind a closed valve is none.
    """
    found = [drain for ways in pipework(model).parts for drain in _drains_of(model, ways)]
    return tuple(sorted(found, key=lambda drain: (drain.crest, drain.name)))


def running_level(
    drains: Sequence[GravityDrain], flow: Band, *, water: Water, blocked: float = 0.0, top: float
) -> Band | None:
    """Level of the tank while ``flow`` [m³/s] runs away through all drains together, z [m].

    Parameters
    ----------
    blocked : share of all slots that is stopped, [-]
    top : level over which water runs over the glass, z [m]

    Returns
    -------
    Band: ``low`` for the least flow through intakes that pass most. None where no drain, or where the
    likely flow finds no way out below ``top``; an end that finds none is held at ``top``.
    """
    usable = [drain for drain in drains if drain.crest < top]
    if not usable:
        return None
    levels: dict[Setting, float] = {}
    for setting in SETTINGS:
        level = _level_at(usable, flow.at(setting), setting, water, blocked, top)
        if level is None and setting == "likely":
            return None
        levels[setting] = top if level is None else level
    notes = dict.fromkeys(drain.intake.formula for drain in usable if drain.crest < levels["likely"])
    ordered = sorted(levels.values())
    return Band(low=ordered[0], likely=levels["likely"], high=ordered[-1], note="; ".join(notes))


def water_of_scene(model: Model) -> Water:
    """Return the properties of the scene's water."""
    return water_at(model.scene.conditions.water_temperature - 273.15)


def _level_at(
    drains: Sequence[GravityDrain], flow: float, setting: Setting, water: Water, blocked: float, top: float
) -> float | None:
    lowest = min(drain.crest for drain in drains)
    if flow <= 0.0:
        return lowest
    others = [drain for drain in drains if drain.crest > lowest]
    first = [drain for drain in drains if drain.crest == lowest]
    if len(first) == 1:
        # nearly always one drain takes all of it, and then no search over levels is needed
        try:
            alone = intake_level(first[0].intake, flow, blocked=blocked).at(setting)
        except NotPossible:
            alone = math.inf
        carried = alone < top and first[0].full_at(alone, setting=_opposite(setting), water=water) >= flow
        if carried and all(drain.crest >= alone for drain in others):
            return alone

    def miss(level: float) -> float:
        return sum(_flow_at(drain, level, setting, water, blocked) for drain in drains) - flow

    return None if miss(top) < 0.0 else root(miss, lowest, top)


def _flow_at(drain: GravityDrain, level: float, setting: Setting, water: Water, blocked: float) -> float:
    taken = intake_flow(drain.intake, level, setting=setting, blocked=blocked)
    return min(taken, drain.full_at(level, setting=_opposite(setting), water=water)) if taken > 0.0 else 0.0


def _opposite(setting: Setting) -> Setting:
    """Return the setting of a flow that belongs to that of a level: where most runs away it is lowest."""
    return {"low": "high", "likely": "likely", "high": "low"}[setting]  # type: ignore[return-value] # settings


def _drains_of(model: Model, ways: Pipework) -> Iterator[GravityDrain]:
    if ways.pumps or ways.air:
        return
    tank = model.tank_name
    # a bulkhead with nothing on its outside is a leak, which the rule plugged tells, unless over a sump
    outlets = [
        mouth for mouth in ways.mouths if mouth.vessel != tank and (mouth.kind != "bulkhead" or mouth.vessel)
    ]
    if not outlets:
        return
    outlet = min(outlets, key=lambda mouth: (mouth.at[2], mouth.name))
    for mouth in ways.mouths:
        way = ways.way(mouth.node, outlet.node) if mouth.vessel == tank else None
        if way is not None and way.edges:
            yield _drain(model, mouth, outlet, way, outlets)


def _drain(model: Model, mouth: Mouth, outlet: Mouth, way: Way, outlets: Sequence[Mouth]) -> GravityDrain:
    water = water_of_scene(model)
    intake = _intake(model, mouth, way)
    crest = intake.crest
    loss = _loss(mouth, outlet, way)
    notes = [AIR_NOTE]
    if len(outlets) > 1:
        others = ", ".join(one.name for one in outlets if one is not outlet)
        notes.append(f"it also opens at {others}: not counted as ways out")
    # slots and holes let water in from their own foot, other mouths from their lower edge
    entry = intake.stages[0].crest if len(intake.stages) > 1 else mouth.lower_edge
    hangs = mouth.kind != "bulkhead" and entry < crest - way.bore
    if hangs:
        notes.append(
            "its mouth hangs below its crest: once it runs full it siphons the tank down to its mouth, "
            "unless a vent at its highest point lets air in"
        )
    return GravityDrain(
        name=_name(model, way, mouth),
        mouth=mouth,
        outlet=outlet,
        way=way,
        intake=intake,
        crest=crest,
        siphon_level=entry if hangs else crest,
        parts=tuple(dict.fromkeys(edge.part for edge in way.edges if edge.part != model.tank_name)),
        traps=traps(way.points, way.bore),
        rise=_rise(way),
        limits=tuple(_limits(way, crest, loss, water)),
        full=_full(way, outlet, loss, max(crest, model.waterline), water),
        loss=loss,
        notes=tuple(notes),
    )


def _name(model: Model, way: Way, mouth: Mouth) -> str:
    """Return the bulkhead's hole that a drain goes through, or the part of its mouth."""
    tank = model.tank_name
    holes = [edge.body for edge in way.edges if edge.kind == "bulkhead" and edge.part == tank]
    return holes[0].removeprefix(f"{tank}.") if holes else mouth.part


def _intake(model: Model, mouth: Mouth, way: Way) -> Intake:
    height, _ = way.crest()
    if mouth.kind == "strainer":
        pipe: Stage = (
            Rim(diameter=mouth.bore, crest=mouth.at[2])
            if mouth.direction[2] > 0.7
            else _pipe_stage(way, height)
        )
        return Intake(words="strainer", stages=(_strainer_stage(model, mouth), pipe))
    if mouth.kind == "holes":
        slits = [
            slit for hole in mouth.holes for slit in hole_slits(hole.at[2], hole.diameter, screens=True).slits
        ]
        return Intake(
            words="holes in its pipe",
            stages=(Slits(slits=tuple(slits), screens=True), _pipe_stage(way, height)),
        )
    upright = mouth.direction[2] > 0.7 and height <= mouth.at[2] + 1e-6
    if upright:
        words = "rim of a bulkhead" if mouth.kind == "bulkhead" else "rim of a standpipe"
        return Intake(words=words, stages=(Rim(diameter=mouth.bore, crest=mouth.at[2]),))
    if mouth.kind == "bulkhead":
        words = "flush hole"
    elif mouth.direction[2] < -0.7:
        words = "pipe that turns down"
    else:
        words = "pipe that runs level" if mouth.direction[2] < 0.7 else "pipe over a hump"
    return Intake(words=words, stages=(_pipe_stage(way, height),))


def _pipe_stage(way: Way, invert: float) -> Stage:
    """Return the place on a way over which the water has to run, as a level bore."""
    return hole_slits(invert + way.bore / 2.0, way.bore)


def _strainer_stage(model: Model, mouth: Mouth) -> Slits:
    slots = strainer_slots(STRAINER.size(model.scene.catalog, mouth.size))
    ahead = mouth.direction[2]
    flat = level_share(mouth.direction)
    found: dict[tuple[float, float], float] = {}
    for start, end in slots.rows:
        for angle in slots.angles:
            # the axis itself rises by ``ahead`` a metre; round it a slot lies higher or lower by its angle
            middle = mouth.at[2] + (start + end) / 2.0 * ahead + slots.radius * math.cos(angle) * flat
            tall = (end - start) * abs(ahead) + slots.width * abs(math.sin(angle)) * flat
            tall = max(tall, 1e-4)
            key = round(middle - tall / 2.0, 7), round(middle + tall / 2.0, 7)
            found[key] = found.get(key, 0.0) + (end - start) * slots.width / tall
    slits = (Slit(low=low, high=high, width=width) for (low, high), width in sorted(found.items()))
    return Slits(slits=tuple(slits), screens=True)


def _rise(way: Way) -> float:
    """Return how far a way climbs outside the tank over the height it has got through inside, [m]."""
    walls = [number for number, edge in enumerate(way.edges) if edge.kind == "bulkhead"]
    if not walls or walls[0] + 1 == len(way.steps):
        return 0.0
    inside, _ = Way(steps=way.steps[: walls[0] + 1]).crest()
    outside, _ = Way(steps=way.steps[walls[0] + 1 :]).crest()
    return max(0.0, outside - inside)


def _loss(mouth: Mouth, outlet: Mouth, way: Way) -> Loss:
    """Return the losses of a whole way on its least bore.

    Raises
    ------
    OutOfRange : an edge that no loss is known for; without it the flow would be told too high.
    """
    for edge in way.without_loss():
        raise OutOfRange(f"{edge.body}: {edge.no_loss}", remedy="open the valve further, or take it out")
    bore = way.bore
    ends = (mouth.entry_loss.on_bore(mouth.bore, bore), outlet.exit_loss.on_bore(outlet.bore, bore))
    return total_loss((*ends, *(loss.on_bore(own, bore) for loss, own in way.losses())))


def _full(way: Way, outlet: Mouth, loss: Loss, level: float, water: Water) -> Band:
    return siphon_flow(way.bore, level - outlet.at[2], way.length, loss=loss, water=water)


def _limits(way: Way, crest: float, loss: Loss, water: Water) -> Iterator[DrainLimit]:
    """Tell what each leg below the crest carries."""
    before = 0.0  # upright of pipe just before a level leg: the water that can stand there drives it
    for start, end, bore in _legs(way):
        length = math.dist(start, end)
        fall = start[2] - end[2]
        slope = fall / length
        if start[2] > crest + bore and slope <= LEVEL:
            continue
        if slope >= UPRIGHT:
            before = fall
            yield DrainLimit(words="upright, open", at=start, flow=stack_flow(bore))
        elif slope > LEVEL:
            low = part_full_flow(bore, slope, OPEN_DEPTH.low, manning=MANNING).low
            likely = part_full_flow(bore, slope, OPEN_DEPTH.likely, manning=MANNING).likely
            high = part_full_flow(bore, slope, OPEN_DEPTH.high, manning=MANNING).high
            note = f"slope {slope:.1%}, {OPEN_DEPTH.note}, Manning"
            yield DrainLimit(
                words=f"slope of {slope:.1%}, part full",
                at=start,
                flow=Band(low=low, likely=likely, high=high, note=note),
            )
            before = 0.0
        elif before > bore:
            # no fall of its own: it runs full at its start, at the head of the water in the upright before it
            turn = total_loss((fitting_loss("elbow_90", bore), fitting_loss("exit", bore)))
            flow = siphon_flow(bore, before - bore, length, loss=turn, water=water)
            note = f"level: driven by up to {(before - bore) * 1000:.0f} mm of water standing in the upright"
            yield DrainLimit(words="level leg, under standing water", at=start, flow=replace(flow, note=note))
    if not any(True for _ in _legs(way)):
        raise LayoutError("a drain without length")


def _legs(way: Way) -> Iterator[tuple[Vector, Vector, float]]:
    """Return straight legs of a way, as long as they run one way, with the least bore of each."""
    legs: list[tuple[Vector, Vector, float]] = []
    for step in way.steps:
        for a, b in pairwise(step.points):
            if math.dist(a, b) < 1e-6:
                continue
            if legs and _same_way(legs[-1][0], legs[-1][1], b):
                legs[-1] = (legs[-1][0], b, min(legs[-1][2], step.edge.bore))
            else:
                legs.append((a, b, step.edge.bore))
    yield from legs


def _same_way(a: Vector, b: Vector, c: Vector) -> bool:
    first = [q - p for p, q in zip(a, b, strict=True)]
    second = [q - p for p, q in zip(b, c, strict=True)]
    size = math.hypot(*first) * math.hypot(*second)
    if size == 0.0:
        return True
    return sum(p * q for p, q in zip(first, second, strict=True)) / size > 1.0 - 1e-6
