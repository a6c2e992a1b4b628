"""What runs in a model: each pump's point of operation, flow and head everywhere, each drip hole.

Left out: gravity drains and the overflow (``flow.overflow``), air lines, starting and stopping, heat.
Bands span low, likely and high losses of all fittings at once and, where water parts, those of one branch
against the others, so that a branch's band holds what happens when only its own fittings are bad.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, replace
from functools import partial

from layout3d.band import SETTINGS, Setting
from layout3d.errors import BeyondCurve, LayoutError, NoOperatingPoint, NotSettled
from layout3d.flow.laying import plumbing
from layout3d.flow.network import DripHole, Link, Node, Outlet, Pump, Reservoir
from layout3d.flow.plumbing import Plumbing
from layout3d.flow.running_bars import bar_runs
from layout3d.flow.running_data import Failure, Idle, RunningFlow, System
from layout3d.flow.running_told import Telling
from layout3d.flow.settled import Bars, Settled, component, highest_head
from layout3d.flow.starting import TopInTheWay, owners_of, started
from layout3d.flow.water import Water, water_at
from layout3d.model.model import Model
from layout3d.water.kept import kept

__all__ = ["ICE", "MOST_BRANCHES", "run_plumbing", "running", "water_of"]

ICE = 273.15  # [K], 0 °C. ISO 80000-5
MOST_BRANCHES = 16  # ways out up to which one branch is set against the others


@kept
def running(model: Model) -> RunningFlow:
    """Find what runs in a model, at its waterlines and its pumps' speeds; computed once for each model.

    What cannot be figured is a :class:`Failure` in the result, never an error: a pump too weak, a flow
    beyond a pump's curve, a fitting that no loss is known for.
    """
    temperature = model.scene.conditions.water_temperature - ICE
    try:
        laid = plumbing(model)
    except LayoutError as error:
        where = f"{error.path}: " if error.path else ""
        refused = Failure(
            kind="not figured",
            message=f"{where}{error.found}" + (f" (expected {error.expected})" if error.expected else ""),
            remedy=error.remedy,
        )
        return RunningFlow(refused=refused, temperature=temperature)
    found = RunningFlow(temperature=temperature) if laid is None else run_plumbing(model, laid)
    return replace(found, idle=tuple(_idle(model, laid)))


def water_of(model: Model) -> Water:
    """Return the properties of the scene's water."""
    return water_at(model.scene.conditions.water_temperature - ICE)


def run_plumbing(model: Model, laid: Plumbing) -> RunningFlow:
    """Find what runs in a network read off a model, changed or not."""
    water = water_of(model)
    nodes = {node.name: node for node in laid.nodes}
    open_water = {name for name, node in nodes.items() if isinstance(node, Reservoir)}
    systems = []
    for links in component(laid.links, open_water):
        names = {end for link in links for end in (link.start, link.end)}
        own = tuple(node for name, node in nodes.items() if name in names)
        bars = Bars(
            [one for one in laid.bars if one.node in names], top=highest_head(own, links), water=water
        )
        systems.append(_Solving(laid, own, tuple(links), bars, water, model).system())
    return RunningFlow(systems=tuple(systems), notes=laid.notes, temperature=water.temperature)


def _idle(model: Model, laid: Plumbing | None) -> Iterable[Idle]:
    running_pumps = {piece.part for piece in laid.pieces.values()} if laid else set()
    for pump in model.pumps:
        if pump.part.air or pump.part.name in running_pumps:
            continue
        yield Idle(pump=pump.part.name, why="its inlet lies under no water")


@dataclass(slots=True)
class _Solving:
    laid: Plumbing
    nodes: tuple[Node, ...]
    links: tuple[Link, ...]
    bars: Bars
    water: Water
    model: Model

    def system(self) -> System:
        """Solve at all settings and gather what was found."""
        pumps = tuple(link.name for link in self.links if isinstance(link, Pump))
        cases: dict[Setting, Settled] = {}
        failures = []
        for setting in SETTINGS:
            try:
                cases[setting] = self._at(partial(_all_alike, setting))
            except LayoutError as error:
                failures.append(self._failure(error, setting, pumps))
        if "likely" not in cases:
            kept_failures = [one for one in failures if one.setting == "likely"]
            return System(failures=tuple(kept_failures), pump_names=pumps)
        every = [cases["likely"], *(case for name, case in cases.items() if name != "likely")]
        every += self._crosswise(cases["likely"])
        told = Telling(laid=self.laid, nodes=self.nodes, links=self.links, bars=self.bars, cases=tuple(every))
        out, into = told.sums(cases)
        return System(
            pumps=told.pumps(self.model),
            stretches=told.stretches(),
            outs=told.outs(),
            bars=bar_runs(self.laid, self.nodes, every, self.bars, self.water, self.model),
            grade=told.grade(),
            costs=told.costs(),
            failures=tuple(failures),
            pump_names=pumps,
            water_in=into,
            water_out=out,
        )

    def _at(self, losses: Callable[[str], Setting]) -> Settled:
        return started(self.nodes, self.links, self.bars, losses=losses, water=self.water)

    def _failure(self, error: LayoutError, setting: Setting, pumps: tuple[str, ...]) -> Failure:
        if isinstance(error, NotSettled) or not isinstance(error, NoOperatingPoint):
            return Failure(
                kind="not figured", message=error.found, remedy=error.remedy, setting=setting, parts=pumps
            )
        top, lift = self._top(), self._lift()
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

    def _lift(self) -> float | None:
        """Height of the lowest way out over the highest water that a pump stands in, [m]."""
        levels = {node.name: node.level for node in self.nodes if isinstance(node, Reservoir)}
        sources = [
            levels[link.start] for link in self.links if isinstance(link, Pump) and link.start in levels
        ]
        ways = [node.back_head for node in self.nodes if isinstance(node, Outlet)]
        ways += [node.elevation for node in self.nodes if isinstance(node, DripHole)]
        ways += [min(one.bar.heights) for one in self.bars.laid.values()]
        return min(ways) - max(sources) if ways and sources else None

    def _top(self) -> float | None:
        heads = [link.running_curve.shut_off_head for link in self.links if isinstance(link, Pump)]
        return max(heads, default=None)

    def _crosswise(self, likely: Settled) -> list[Settled]:
        """Solve with each branch's losses at one end and those of the others at the other end."""
        owners = owners_of(self.links, self.nodes, self.bars, likely)
        branches = sorted({names for names in owners.values() if len(names) == 1}, key=sorted)
        if not 2 <= len(branches) <= MOST_BRANCHES:
            return []
        ends: tuple[tuple[Setting, Setting], ...] = (("low", "high"), ("high", "low"))
        found = []
        for (branch,) in branches:
            for own, other in ends:
                try:
                    found.append(self._at(partial(_against, owners, branch, own, other)))
                except LayoutError:
                    continue  # likely losses gave a figure; where all are low or high, that is told
        return found


def _all_alike(setting: Setting, _: str) -> Setting:
    return setting


def _against(
    owners: Mapping[str, frozenset[str]], branch: str, own: Setting, other: Setting, name: str
) -> Setting:
    """Return the setting of a link or way out: that of the branch for all that feeds it, else the other."""
    names = owners.get(name, frozenset())
    return own if branch in names or not names else other
