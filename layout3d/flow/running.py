"""What runs in a model: each pump's point of operation, flow and head everywhere, each drip hole.

Left out: gravity drains and the overflow (``flow.overflow``), air lines, heat. Bands span low, likely and
high losses of all fittings at once, pumps weaker and stronger than their curve, the least pressure recovery
and, where water parts, the losses of one branch against the others, so that a branch's band holds what
happens when only its own fittings are bad. Each of these cases is solved whole, pumps and holes together.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace

from layout3d.band import SETTINGS, Band, Setting
from layout3d.errors import BeyondCurve, LayoutError, NoOperatingPoint, NotSettled
from layout3d.flow.bar import RECOVERY, Floats, hole_state
from layout3d.flow.network import DrilledPipe, Outlet, Pump, Reservoir
from layout3d.flow.orifice import hold_head
from layout3d.flow.plumbing import Plumbing, plumbing
from layout3d.flow.result import (
    BarRun,
    Cost,
    Failure,
    GradePoint,
    HoleRun,
    Idle,
    PumpRun,
    RunningFlow,
    SiphonPoint,
    Stretch,
    System,
    WayOut,
)
from layout3d.flow.solve import TopInTheWay, solve
from layout3d.flow.steady import Steady
from layout3d.flow.water import Water, water_of
from layout3d.keep import remembered
from layout3d.model.model import Model
from layout3d.water.remembered import kept

__all__ = ["MOST_BRANCHES", "dripping", "running", "running_plumbing", "running_with"]

MOST_BRANCHES = 16  # ways out up to which one branch is set against the others


@kept
def running(model: Model) -> RunningFlow:
    """Find what runs in a model, at its waterlines and its pumps' speeds; computed once for each model.

    What cannot be figured is a :class:`Failure` of its system, never an error: a pump too weak, a flow beyond
    a pump's curve, a fitting that no loss is known for. The other systems are figured all the same.
    """
    laid = plumbing(model)
    pumps = {pump.name for pump in laid.pumps}
    idle = tuple(
        Idle(pump=pump.part.name, why="its inlet lies under no water")
        for pump in model.pumps
        if not pump.part.air and pump.part.name not in pumps
    )
    return replace(running_plumbing(model, laid), idle=idle)


def running_with(model: Model, speeds: Mapping[str, float]) -> RunningFlow:
    """Find what runs with some pumps at other speeds, by name as shares of the rated one; 0 stops a pump.

    Through a stopped pump water runs back unless a check valve keeps it from that: its flow is then below 0.
    A system in which no pump runs has no figures and no failures.
    """
    return running_plumbing(model, plumbing(model).at_speeds(speeds))


def dripping(model: Model, levels: Mapping[str, float]) -> dict[str, int]:
    """Count the drip holes that run, by drilled pipe, with open waters at these levels, z [m].

    At likely losses. Where a system finds no steady flow, its holes don't run.
    """
    found: dict[str, int] = {}
    water = water_of(model)
    for laid in plumbing(model).at_levels(levels).systems():
        found |= dict.fromkeys((pipe.name for pipe in laid.drilled), 0)
        if not laid.drilled or laid.refused:
            continue
        try:
            steady = solve(laid.network, water=water)
        except NoOperatingPoint:
            continue
        found |= {name: int((bar.flows > 0.0).sum()) for name, bar in steady.bars.items()}
    return found


def running_plumbing(model: Model, laid: Plumbing) -> RunningFlow:
    """Find what runs in a network read off a model, changed or not."""
    water = water_of(model)
    models = tuple((pump.part.name, pump.part.model) for pump in model.pumps)
    systems = tuple(
        remembered(
            "a system that runs",
            one,
            water,
            models,
            model.scene.catalog,
            model.scene.style,
            make=lambda one=one: _system(model, one, water),  # type: ignore[misc]
        )
        for one in laid.systems()
    )
    return RunningFlow(systems=systems, notes=laid.notes, temperature=water.temperature)


def band_over(figures: Sequence[float]) -> Band:
    """Return the band of a figure over all cases, the likely one first."""
    return Band(low=min(figures), likely=figures[0], high=max(figures))


def _system(model: Model, laid: Plumbing, water: Water) -> System:
    """Solve one system at all its cases and gather what was found."""
    pumps = tuple(pump.name for pump in laid.pumps)
    if laid.refused:
        failures = tuple(
            Failure(kind="not figured", message=laid.refused[link.name], parts=(link.part,))
            for link in laid.links
            if link.name in laid.refused
        )
        return System(failures=failures, pump_names=pumps)
    if all(pump.speed == 0.0 for pump in laid.pumps):
        return System(pump_names=pumps)
    network = laid.network
    cases: dict[Setting, Steady] = {}
    told: list[Failure] = []
    for setting in SETTINGS:
        try:
            cases[setting] = solve(network, setting=setting, water=water)
        except LayoutError as error:
            told.append(_failure(laid, error, setting))
    if "likely" not in cases:
        return System(failures=tuple(one for one in told if one.setting == "likely"), pump_names=pumps)
    every = [cases["likely"], *(case for setting, case in cases.items() if setting != "likely")]
    try:
        every.append(solve(network, recovery=RECOVERY.low, water=water))
    except LayoutError as error:
        told.append(_failure(laid, error, "low"))
    every += _crosswise(laid, cases["likely"], water)
    # at an end where the pumps lift nothing, all stands still: no other case speaks for it
    still = any(one.kind == "no flow" for one in told)
    gathered = _Gathering(model, laid, every, water, still)
    return System(
        pumps=gathered.pumps(),
        stretches=gathered.stretches(),
        outs=gathered.outs(),
        bars=gathered.bars(),
        grade=gathered.grade(),
        costs=gathered.costs(),
        siphons=tuple(gathered.siphons()),
        failures=tuple(told),
        pump_names=pumps,
        water_in=gathered.flow_over(
            lambda case: math.fsum(max(0.0, -flow) for flow in gathered.leaving(case))
        ),
        water_out=gathered.flow_over(
            lambda case: math.fsum(max(0.0, flow) for flow in gathered.leaving(case))
        ),
    )


def _crosswise(laid: Plumbing, likely: Steady, water: Water) -> Iterable[Steady]:
    """Solve with each branch's losses at one end and those of the others at the other end."""
    owners = likely.owners
    branches = sorted({names for names in owners.values() if len(names) == 1}, key=sorted)
    if not 2 <= len(branches) <= MOST_BRANCHES:
        return
    ends: tuple[tuple[Setting, Setting], ...] = (("low", "high"), ("high", "low"))
    for (branch,) in branches:
        for own, other in ends:

            def setting(
                name: str, own: Setting = own, other: Setting = other, branch: str = branch
            ) -> Setting:
                names = owners.get(name, frozenset())
                return own if branch in names or not names else other

            try:
                yield solve(laid.network, setting=setting, water=water)
            except LayoutError:
                continue  # likely losses gave a figure; where all are low or high, that is told


def _failure(laid: Plumbing, error: LayoutError, setting: Setting) -> Failure:
    pumps = tuple(pump.name for pump in laid.pumps)
    if isinstance(error, NotSettled) or not isinstance(error, NoOperatingPoint):
        return Failure(
            kind="not figured", message=error.found, remedy=error.remedy, setting=setting, parts=pumps
        )
    top = max((pump.running_curve.shut_off_head for pump in laid.pumps if pump.speed > 0.0), default=None)
    lift = _lift(laid)
    if isinstance(error, TopInTheWay):
        top, lift = error.crest.level, error.crest.height
    weak = lift is not None and top is not None and lift >= top
    return Failure(
        kind="beyond the curve" if isinstance(error, BeyondCurve) else "no flow",
        message=error.found,
        remedy=error.remedy,
        setting=setting,
        parts=pumps,
        measured=top if weak else None,
        limit=lift if weak else None,
    )


def _lift(laid: Plumbing) -> float | None:
    """Height of the lowest way out over the highest water that a pump stands in, [m]."""
    levels = {node.name: node.level for node in laid.nodes if isinstance(node, Reservoir)}
    ways = [node.back_head for node in laid.nodes if isinstance(node, Outlet)]
    ways += [min(pipe.bar.heights) for pipe in laid.drilled]
    sources = [levels[pump.start] for pump in laid.pumps if pump.start in levels]
    return min(ways) - max(sources) if ways and sources else None


@dataclass(frozen=True, slots=True)
class _Gathering:
    """One system and its solved cases, the likely one first: bands over all, and where the power goes."""

    model: Model
    laid: Plumbing
    cases: Sequence[Steady]
    water: Water
    still: bool = False

    def flow_over(self, figure: Callable[[Steady], float]) -> Band:
        """Return the band of a flow or speed: it reaches to 0 where at one end nothing flows."""
        return band_over([*(figure(case) for case in self.cases), *([0.0] if self.still else [])])

    def over(self, figure: Callable[[Steady], float]) -> Band:
        """Return the band of a figure of the cases."""
        return band_over([figure(case) for case in self.cases])

    def leaving(self, case: Steady) -> list[float]:
        """Flows that leave the network, below 0 where water enters, [m³/s]."""
        return [
            *(node.outflow for node in case.nodes.values()),
            *(float(flow) for bar in case.bars.values() for flow in bar.flows),
        ]

    def pumps(self) -> tuple[PumpRun, ...]:
        """Return the pumps."""
        return tuple(
            PumpRun(
                pump=pump.name,
                model=next(one.part.model for one in self.model.pumps if one.part.name == pump.name),
                speed=pump.speed,
                water=pump.start,
                curve=pump.running_curve if pump.speed > 0.0 else pump.curve,
                flow=self.flow_over(lambda case, name=pump.name: case.links[name].flow),  # type: ignore[misc]
                head=self.over(lambda case, name=pump.name: -(case.links[name].loss or 0.0)),  # type: ignore[misc]
                state=self.cases[0].links[pump.name].state,
            )
            for pump in self.laid.pumps
        )

    def stretches(self) -> tuple[Stretch, ...]:
        """Return the elements of pipework, in the order of the network."""
        power = self._power()
        told = []
        for link in self.laid.links:
            if isinstance(link, Pump):
                continue
            found = [case.links[link.name] for case in self.cases]
            known = all(one.loss is not None for one in found)
            loss = None if isinstance(link, DrilledPipe) else link.loss
            told.append(
                Stretch(
                    link=link,
                    flow=self.flow_over(lambda case, name=link.name: case.links[name].flow),  # type: ignore[misc]
                    velocity=self.flow_over(lambda case, name=link.name: self._speed(name, case)),  # type: ignore[misc]
                    loss=band_over([abs(one.loss or 0.0) for one in found]) if known else None,
                    share=self._lost(link.name) / power if power > 0.0 else 0.0,
                    state=found[0].state,
                    source=loss.note if loss is not None and loss.high > 0.0 else "",
                )
            )
        return tuple(told)

    def _speed(self, name: str, case: Steady) -> float:
        """Return the speed in a link, in drilled pipe that of its faster end, [m/s]."""
        speed = abs(case.links[name].velocity or 0.0)
        bar = case.bars.get(name)
        if bar is None or not bar.far_flow:
            return speed
        bore = next(pipe.bore for pipe in self.laid.drilled if pipe.name == name)
        return max(speed, abs(bar.far_flow) / (0.25 * math.pi * bore**2))

    def _lost(self, name: str) -> float:
        """Return flow times head lost in a link at likely losses, [m⁴/s]."""
        case = self.cases[0]
        link = case.links[name]
        pipe = next((pipe for pipe in self.laid.drilled if pipe.name == name), None)
        if pipe is None:
            return abs(link.flow * (link.loss or 0.0))
        bar = case.bars[name]
        far = case.nodes[pipe.end].head if pipe.end else None
        brought = bar.inlet_flow * bar.total_head + bar.far_flow * (far or 0.0)
        return brought - float(bar.flows @ (bar.hole_heads + pipe.bar.heights))

    def outs(self) -> tuple[WayOut, ...]:
        """Return the ways out; open water only where a pipe runs into it without a mouth of its own."""
        unreached = self.cases[0].unreached
        parts = {
            end: link.part for link in self.laid.links for end in (link.end, link.start) if end is not None
        }
        told = []
        for node in self.laid.nodes:
            flow = self.flow_over(lambda case, name=node.name: case.nodes[name].outflow)  # type: ignore[misc]
            if isinstance(node, Outlet):
                area = 0.25 * math.pi * node.bore**2
                speeds = [abs(case.nodes[node.name].outflow) / area for case in self.cases]
                told.append(
                    WayOut(
                        name=node.name,
                        where=self.laid.outlets.get(node.name, node.name),
                        kind="mouth",
                        part=parts[node.name],
                        height=node.back_head,
                        flow=flow,
                        velocity=band_over(speeds),
                        crest=unreached.get(node.name),
                    )
                )
            elif isinstance(node, Reservoir) and flow.likely > 0.0:
                told.append(
                    WayOut(
                        name=node.name,
                        where=f"the water of {node.name}",
                        kind="water",
                        part=parts[node.name],
                        height=node.level,
                        flow=flow,
                    )
                )
        for pipe in self.laid.drilled:
            told.append(
                WayOut(
                    name=pipe.name,
                    where=f"{'drip bar' if pipe.end is None else 'holes of'} {pipe.name}",
                    kind="bar",
                    part=pipe.part,
                    height=min(pipe.bar.heights),
                    flow=self.flow_over(lambda case, name=pipe.name: case.bars[name].flow),  # type: ignore[misc]
                    crest=unreached.get(pipe.name),
                )
            )
        return tuple(told)

    def bars(self) -> tuple[BarRun, ...]:
        """Return the drilled pipes hole by hole."""
        return tuple(self._bar(pipe) for pipe in self.laid.drilled)

    def _bar(self, pipe: DrilledPipe) -> BarRun:
        found = [case.bars[pipe.name] for case in self.cases]
        likely, bar = found[0], pipe.bar
        crest = self.cases[0].unreached.get(pipe.name)
        limit = self.model.scene.catalog.limit
        spurts, weeps = limit("drip_spurt_speed").value, limit("drip_weep_heads").value
        holds = [hold_head(diameter, water=self.water) for diameter in bar.diameters]
        holes = tuple(
            HoleRun(
                number=number + 1,
                along=bar.positions[number],
                diameter=bar.diameters[number],
                height=bar.heights[number],
                flow=self.flow_over(
                    lambda case, number=number: float(case.bars[pipe.name].flows[number])  # type: ignore[misc]
                ),
                # behind a top that no water passes a hole lacks what the top lacks
                head=float(likely.hole_heads[number]) if crest is None else crest.level - crest.height,
                hold=holds[number],
                state="dry"
                if crest is not None
                else hole_state(
                    float(likely.hole_heads[number]),
                    float(likely.flows[number]),
                    weeps=weeps * holds[number],
                    spurts=spurts,
                ),
            )
            for number in range(bar.count)
        )
        return BarRun(
            run=pipe.part,
            body=pipe.name,
            bar=bar,
            holes=holes,
            flow=self.flow_over(lambda case: case.bars[pipe.name].flow),
            static_head=band_over([one.static_head for one in found]),
            total_head=band_over([one.total_head for one in found]),
            velocity=self.flow_over(lambda case: abs(case.bars[pipe.name].inlet_velocity)),
            variation=band_over([one.variation for one in found]),
            uniformity=band_over([one.low_quarter_uniformity for one in found]),
            margin=band_over([one.margin for one in found]),
            crest=crest,
        )

    def grade(self) -> tuple[GradePoint, ...]:
        """Return the grade line at each node."""
        fastest: dict[str, float] = {}
        for link in self.laid.links:
            if not isinstance(link, Pump):
                speed = self._speed(link.name, self.cases[0])
                for end in (link.start, link.end):
                    if end is not None:
                        fastest[end] = max(fastest.get(end, 0.0), speed)
        return tuple(
            GradePoint(
                node=node.name,
                elevation=None if isinstance(node, Reservoir) else node.elevation,
                head=self.over(lambda case, name=node.name: case.nodes[name].head or 0.0)  # type: ignore[misc]
                if all(case.nodes[node.name].head is not None for case in self.cases)
                else None,
                velocity=fastest.get(node.name, 0.0),
            )
            for node in self.laid.nodes
        )

    def siphons(self) -> Iterator[SiphonPoint]:
        """Return where the grade line lies below the pipe by more than the limit ``siphon_draw``."""
        least = self.model.scene.catalog.limit("siphon_draw").value
        for point in self.grade():
            if point.head is not None and point.elevation is not None and point.velocity > 0.0:
                draw = point.elevation - point.head.likely
                if draw > least:
                    yield SiphonPoint(node=point.node, draw=draw)

    def costs(self) -> tuple[Cost, ...]:
        """Return where the pumps' power goes, the most first; the shares add up to 1."""
        power = self._power()
        if not power > 0.0:
            return ()
        by_part: dict[str, float] = {}
        for link in self.laid.links:
            if not isinstance(link, Pump):
                by_part[link.part] = by_part.get(link.part, 0.0) + self._lost(link.name)
        lift = left = 0.0
        case = self.cases[0]
        for node in self.laid.nodes:
            found = case.nodes[node.name]
            if isinstance(node, Reservoir):
                lift += found.outflow * node.level
            elif isinstance(node, Outlet) and found.head is not None:
                lift += found.outflow * node.back_head
                left += found.outflow * (found.head - node.back_head)
        for pipe in self.laid.drilled:
            flows: Floats = case.bars[pipe.name].flows
            lift += float(flows @ pipe.bar.heights)
            left += float(flows @ case.bars[pipe.name].hole_heads)
        told = [Cost(what=part, share=lost / power, kind="part") for part, lost in by_part.items()]
        told.append(Cost(what="lifting the water", share=lift / power, kind="lift"))
        told.append(Cost(what="speed of the water that leaves", share=left / power, kind="exit"))
        return tuple(sorted(told, key=lambda cost: -cost.share))

    def _power(self) -> float:
        """Flow times head of all pumps, likely, [m⁴/s]: their power over density and gravity."""
        links = self.cases[0].links
        return math.fsum(links[pump.name].flow * -(links[pump.name].loss or 0.0) for pump in self.laid.pumps)
