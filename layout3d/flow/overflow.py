"""Gravity drains of a model: where each takes water in, how high it stands over them, what they carry.

Open flow is what counts. A drain that runs full carries several times as much and is told apart, never
relied on. Left out: foam, slime, the jump of the water at the foot of an upright.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import TypeAlias

import numpy as np

from layout3d.band import OPPOSITE, SETTINGS, Band, Setting
from layout3d.errors import NotPossible, OutOfRange
from layout3d.fittings.losses import NO_LOSS, Loss, total_loss
from layout3d.fittings.strainer import STRAINER, strainer_slots
from layout3d.flow.drain import (
    AIR_NOTE,
    DrainLeg,
    DrainLimit,
    Trap,
    drain_legs,
    full_flow,
    open_limits,
    standing_level,
    traps,
)
from layout3d.flow.intake import Intake, Rim, Slit, Slits, Stage, hole_slits, intake_flow, intake_level
from layout3d.flow.open_channel import FULLEST
from layout3d.flow.roots import root
from layout3d.flow.water import Water, water_of
from layout3d.keep import Form, code_of, key_of
from layout3d.keep import kept as filed
from layout3d.model.model import Model
from layout3d.parts.vessel import OverflowBoxData
from layout3d.pipework.graph import Mouth, Step, Way, level_share
from layout3d.pipework.read import pipework
from layout3d.pipework.waters import set_levels
from layout3d.plain import form_of
from layout3d.units import system_shown
from layout3d.water.remembered import kept

__all__ = [
    "GravityDrain",
    "carried_open",
    "gravity_drains",
    "lowest_in_each_box",
    "over_water",
    "running_level",
]

FLOWS = 24  # flows at which the water standing in a drain is figured, beside none
COVERED = 1e-6  # [m], what an outlet may dip without being under water


@dataclass(frozen=True, slots=True, kw_only=True)
class GravityDrain:
    """A drain without a pump, from ``mouth`` in the tank to ``outlet``.

    ``crest``: level from which water runs away, z [m]. ``siphon_level``: level to which it empties the tank
    where it runs full and its mouth hangs below its crest, z [m]; else the crest. ``traps``: where its path
    rises. ``rise``: how far it has to run uphill outside the tank before it runs away, [m].
    ``legs``: from its crest to the outlet. ``entry``, ``loss``: of its mouth and of all of it, on its least
    bore. ``depth``: how full a leg may run open. ``head``: level at which ``full`` is told, z [m]. ``below``:
    level of the water over its outlet, z [m]; minus infinity in air. ``limits``: what each stretch carries
    open. ``full``: flow running full, [m³/s], not to be relied on. ``back``: by setting of the capacity,
    flows [m³/s] and the level that water standing in the drain then asks for before it, z [m].
    ``box``: the overflow box that its mouth stands in, '' for none, and ``box_level`` of the water there.
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
    legs: tuple[DrainLeg, ...]
    entry: Loss
    depth: Band
    head: float
    below: float
    limits: tuple[DrainLimit, ...]
    full: Band
    back: Mapping[Setting, tuple[tuple[float, ...], tuple[float, ...]]]
    loss: Loss
    notes: tuple[str, ...]
    box: str = ""
    box_level: float = math.inf

    def narrowest(self, setting: Setting) -> DrainLimit:
        """Return the stretch that carries least."""
        return min(self.limits, key=lambda limit: limit.flow.at(setting))

    @property
    def open_flow(self) -> Band:
        """What it carries open, [m³/s]: at each setting that of the stretch that carries least."""
        low, likely, high = (self.narrowest(setting).flow.at(setting) for setting in SETTINGS)
        return Band(low=low, likely=likely, high=high, note=self.narrowest("likely").flow.note)

    def full_at(self, level: float, *, setting: Setting, water: Water) -> float:
        """Flow running full with the tank at ``level``, z [m]; [m³/s]."""
        return _full(self.way, self._end, self.loss, min(level, self.box_level), water).at(setting)

    def backwater(self, flow: float, setting: Setting) -> float:
        """Level that water standing open in it asks for before it, z [m]; ``setting`` is that of a level."""
        # a rougher drain fills sooner, where its levels end: it asks for no less than a smoother one
        smoother = SETTINGS[SETTINGS.index(OPPOSITE[setting]) :]
        return max(float(np.interp(flow, *self.back[capacity])) for capacity in smoother)

    @property
    def mouth_crest(self) -> float:
        """Level from which water runs into its own mouth, in its overflow box if it has one, z [m]."""
        stages = self.intake.stages[1:] if self.box else self.intake.stages
        return max(stage.crest for stage in stages)

    @property
    def under_water(self) -> float:
        """How far the lower edge of its end lies under water, [m]."""
        return max(0.0, self.below - self.outlet.lower_edge)

    @property
    def _end(self) -> float:
        return max(self.outlet.at[2], self.below)

    def over(self, level: float, water: Water) -> GravityDrain:
        """Return the same drain with the water under its outlet at ``level``, z [m]."""
        below = level if level > self.outlet.lower_edge + COVERED else -math.inf
        if below == self.below:
            return self
        end = max(self.outlet.at[2], below)
        full = _full(self.way, end, self.loss, self.head, water)
        limits = []
        told = key_of("open drain", code_of(), system_shown(), self.legs, self.depth, below)
        for limit in filed(told, _LIMITS, lambda: open_limits(self.legs, depth=self.depth, below=below)):
            # it never carries more open than full
            flows = {setting: min(limit.flow.at(setting), full.at(setting)) for setting in SETTINGS}
            limits.append(replace(limit, flow=Band(**flows, note=limit.flow.note)))
        held = key_of("backwater", code_of(), self.legs, self.entry, self.mouth_crest, below, full.high)
        back = filed(held, _BACKWATER, lambda: _back(self, below, full))
        return replace(self, below=below, full=full, limits=tuple(limits), back=back)


@kept
def gravity_drains(model: Model) -> tuple[GravityDrain, ...]:
    """Find the drains of a model: pipework without a pump from a mouth in the tank to one outside it.

    Returns
    -------
    One for each mouth in the tank, lowest crest first. Pipework behind a closed valve is none, nor behind
    a check valve that stands against it, which the rule check-valve-way tells, nor what ends in higher water.
    """
    levels = set_levels(model)
    found = [
        _drain(model, mouth, outlets, way)
        for part in pipework(model).parts
        for mouth, outlets, way in part.ways_down(model.tank_name)
        if not way.barred_by() and levels.get(outlets[0].vessel, -math.inf) <= model.waterline
    ]
    often = Counter(drain.name for drain in found)
    named = (drain if often[drain.name] == 1 else replace(drain, name=drain.mouth.part) for drain in found)
    return tuple(sorted(named, key=lambda drain: (drain.crest, drain.name)))


def over_water(
    model: Model, drains: Iterable[GravityDrain], levels: Mapping[str, float]
) -> tuple[GravityDrain, ...]:
    """Return drains with the waters that they end in at ``levels``, z [m], by name as in ``Mouth.vessel``."""
    water = water_of(model)
    return tuple(
        drain.over(levels[drain.outlet.vessel], water) if drain.outlet.vessel in levels else drain
        for drain in drains
    )


def carried_open(drains: Sequence[GravityDrain]) -> Band:
    """Return what several drains carry open together, [m³/s]; a stretch that they share counts once."""
    flows: dict[Setting, float] = {}
    for setting in SETTINGS:
        used: dict[tuple[float, ...], float] = {}
        for drain in drains:
            ends = [(tuple(round(x, 6) for x in limit.to), limit.flow.at(setting)) for limit in drain.limits]
            more = max(0.0, min(flow - used.get(end, 0.0) for end, flow in ends))
            used |= {end: used.get(end, 0.0) + more for end, _ in ends}
            flows[setting] = flows.get(setting, 0.0) + more
    return Band(low=flows["low"], likely=flows["likely"], high=flows["high"])


def lowest_in_each_box(drains: Sequence[GravityDrain]) -> tuple[GravityDrain, ...]:
    """Return the drains without those that stand higher in an overflow box than another one of them.

    All stand behind one weir: the higher takes nothing until the water in the box rises to it, which is
    left out. Give only the drains that are open.
    """

    def mouth(drain: GravityDrain) -> float:
        return drain.intake.stages[-1].crest

    lowest = {drain.box: drain for drain in sorted(drains, key=mouth, reverse=True) if drain.box}
    return tuple(drain for drain in drains if not drain.box or drain is lowest[drain.box])


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
    usable = [drain for drain in lowest_in_each_box(drains) if drain.crest < top]
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
            alone = intake_level(first[0].intake, flow, blocked=blocked, backwater=first[0].backwater).at(
                setting
            )
        except NotPossible:
            alone = math.inf
        carried = alone < top and first[0].full_at(alone, setting=OPPOSITE[setting], water=water) >= flow
        if carried and all(drain.crest >= alone for drain in others):
            return alone

    def miss(level: float) -> float:
        # drains that end in one outlet share the pipe before it, which runs full once
        taken: dict[str, float] = {}
        most: dict[str, float] = {}
        for drain in drains:
            end, full = drain.outlet.name, drain.full_at(level, setting=OPPOSITE[setting], water=water)
            own = intake_flow(
                drain.intake, level, setting=setting, blocked=blocked, backwater=drain.backwater
            )
            taken[end] = taken.get(end, 0.0) + min(own, full)
            most[end] = max(most.get(end, 0.0), full)
        return sum(min(taken[end], most[end]) for end in taken) - flow

    return None if miss(top) < 0.0 else root(miss, lowest, top)


def _drain(model: Model, mouth: Mouth, outlets: Sequence[Mouth], way: Way) -> GravityDrain:
    outlet = outlets[0]
    water = water_of(model)
    intake = _intake(model, mouth, way)
    box = next((one for one in model.overflow_boxes if one.data.holds(mouth.at)), None)
    if box is not None:
        words = f"{intake.words} in {box.part.name}"
        intake = replace(intake, words=words, stages=(_weir_stage(box.data), *intake.stages))
    crest = intake.crest
    entrance, loss = _loss(mouth, outlet, way)
    notes = [AIR_NOTE]
    if len(outlets) > 1:
        others = ", ".join(one.name for one in outlets[1:])
        notes.append(f"it also opens at {others}: not counted as ways out")
    # slots and holes let water in from their own foot, other mouths from their lower edge
    entry = intake.stages[0].crest if len(intake.stages) > 1 else mouth.lower_edge
    hangs = mouth.kind != "bulkhead" and entry < crest - way.bore
    if hangs:
        notes.append(
            "its mouth hangs below its crest: once it runs full it siphons the tank down to its mouth, "
            "unless a vent at its highest point lets air in"
        )
    drain = GravityDrain(
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
        legs=_legs(way),
        entry=entrance,
        depth=open_depth(model),
        head=box.data.level if box else max(crest, model.waterline),
        below=math.nan,
        limits=(),
        full=Band.exact(0.0),
        back={},
        loss=loss,
        notes=tuple(notes),
        box=box.part.name if box else "",
        box_level=box.data.level if box else math.inf,
    )
    return drain.over(set_levels(model).get(outlet.vessel, -math.inf), water)


def _weir_stage(box: OverflowBoxData) -> Slits:
    """Return the weir of an overflow box as the first stage of the drains in it; its teeth pass nothing."""
    return Slits(
        slits=tuple(
            Slit(low=box.crest, high=box.crest + edge.slot_height, width=edge.width) for edge in box.weirs
        ),
        screens=True,
    )


def open_depth(model: Model) -> Band:
    """Return the limits of how full a leg may run and still count as open, depth over bore, [-]."""
    limit = model.scene.catalog.limit
    names = {setting: f"open_drain_depth_{setting}" for setting in SETTINGS}
    low, likely, high = sorted(min(float(limit(name).value), FULLEST) for name in names.values())
    return Band(low=low, likely=likely, high=high, note=f"{low:.3g} to {high:.3g} of the bore deep")


_LIMITS: Form[tuple[DrainLimit, ...]] = form_of(
    "what a drain carries open", DrainLimit, Band, size=lambda limits: 500 * len(limits)
)
Backwater: TypeAlias = dict[Setting, tuple[tuple[float, ...], tuple[float, ...]]]
_BACKWATER: Form[Backwater] = form_of("backwater of a drain", size=lambda back: 64 * FLOWS * len(back))


def _back(drain: GravityDrain, below: float, full: Band) -> Backwater:
    found: Backwater = {}
    # between these levels are interpolated: they curve upwards, so that is never too low
    flows = [max(full.high, 1e-6) * (number / FLOWS) ** 1.5 for number in range(1, FLOWS + 1)]
    for setting in SETTINGS:
        levels = [drain.mouth_crest]
        for flow in flows:
            level = standing_level(drain.legs, flow, setting, entry=drain.entry, below=below)
            if math.isinf(level) and level > 0.0:
                break  # it runs full from here on: the level is that of the full drain
            levels.append(max(levels[-1], level))
        found[setting] = (0.0, *flows[: len(levels) - 1]), tuple(levels)
    return found


def _legs(way: Way) -> tuple[DrainLeg, ...]:
    """Return the legs of a way from its crest on: those before it the tank's own water fills."""
    legs = drain_legs(
        (step.points, step.edge.bore, step.loss or NO_LOSS, _valve_loss(step)) for step in way.steps
    )
    tops = [max(leg.floor(leg.start[2]), leg.floor(leg.end[2])) for leg in legs]
    first = tops.index(max(tops))
    while first and legs[first - 1].crown(legs[first - 1].end[2]) > max(tops):
        first -= 1
    return legs[first:]


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


def _loss(mouth: Mouth, outlet: Mouth, way: Way) -> tuple[Loss, Loss]:
    """Return the loss of the mouth on the first bore behind it, and that of a whole way, on its least bore.

    Raises
    ------
    OutOfRange : an edge that no loss is known for; without it the flow would be told too high.
    """
    for edge in way.without_loss():
        raise OutOfRange(f"{edge.body}: {edge.no_loss}", remedy="open the valve further, or take it out")
    bore = way.bore
    ends = (mouth.entry_loss.on_bore(mouth.bore, bore), outlet.exit_loss.on_bore(outlet.bore, bore))
    entry = mouth.entry_loss.on_bore(mouth.bore, way.edges[0].bore)
    return entry, total_loss((*ends, *(loss.on_bore(own, bore) for loss, own in way.losses())))


def _valve_loss(step: Step) -> Loss:
    """Return the loss of a valve that is partly shut."""
    return step.loss or NO_LOSS if step.edge.opening < 1.0 else NO_LOSS


def _full(way: Way, end: float, loss: Loss, level: float, water: Water) -> Band:
    return full_flow(way.bore, level - end, way.length, loss=loss, water=water)
