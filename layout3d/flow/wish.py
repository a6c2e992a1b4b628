"""A drip bar of a model the other way about: pump speed, hole size or pitch for a wanted flow per metre.

The bar is designed at the head that the whole network leaves it at that flow; the change is then put into the
network and solved forward. At likely losses; one thing is varied, all else in the scene stands.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from typing import Literal

from layout3d.band import Setting
from layout3d.errors import (
    BeyondCurve,
    NoOperatingPoint,
    NotPossible,
    NotSettled,
    OutOfRange,
    UnknownName,
    nearest,
)
from layout3d.flow.bar import CLOG_DIAMETER, Bar
from layout3d.flow.bar_design import EVEN, design_bar
from layout3d.flow.laying import plumbing
from layout3d.flow.network import Link, Pump, Reservoir
from layout3d.flow.plumbing import LaidBar, Plumbing
from layout3d.flow.running import run_plumbing, water_of
from layout3d.flow.running_data import BarRun, RunningFlow
from layout3d.flow.settled import Bars, component, highest_head, settle
from layout3d.guards import above_zero
from layout3d.model.model import Model

__all__ = ["VARIED", "Change", "Varied", "change_for"]

Varied = Literal["speed", "diameter", "pitch"]
VARIED: tuple[Varied, ...] = ("speed", "diameter", "pitch")
SLOWEST, FASTEST = 0.05, 1.0  # of the rated speed: what a scene may set
HALVINGS = 60
FLOOD = 1.0  # [m³/s], stands for a flow beyond a pump's curve


@dataclass(frozen=True, slots=True, kw_only=True)
class Change:
    """What to change for a wanted flow: ``before`` and ``after`` of the speed [-], diameter or pitch [m].

    ``bar`` is the bar as changed; ``head`` the total head at its inlet over its holes' mean, [m]; ``flow``
    and ``run`` what then runs, solved forward; ``choices`` what it would give with the drills next to the
    diameter found.
    """

    varied: Varied
    part: str
    before: float
    after: float
    wanted: float
    bar: Bar
    head: float
    flow: RunningFlow
    run: BarRun
    choices: tuple[BarRun, ...] = ()


def change_for(
    model: Model,
    run: str,
    *,
    flow_per_metre: float,
    vary: Varied,
    variation: float = EVEN,
    pump: str | None = None,
) -> Change:
    """Find the pump speed, hole diameter or pitch at which a drip bar gives a wanted flow, evenly enough.

    Parameters
    ----------
    run : the run that is a drip bar
    flow_per_metre : wanted, over the length of wall its holes serve, [m³/s per m]
    vary : "speed" of the pump behind it, "diameter" of its holes, or "pitch" from hole to hole
    variation : largest coefficient of variation that counts as even, [-]
    pump : whose speed; needed where several feed the bar

    Raises
    ------
    UnknownName : no such drip bar, or no such pump behind it.
    NotPossible : with the reason and the miss.
    OutOfRange : a figure out of range, or something else to vary.
    """
    above_zero(flow_per_metre, "wanted flow per metre", "m³/s per m")
    if vary not in VARIED:
        raise OutOfRange(f"can't vary {vary!r}", expected="one of: speed, diameter, pitch")
    laid = plumbing(model)
    bar = _bar(laid, run)
    assert laid is not None  # it has the bar
    wanted = flow_per_metre * bar.bar.served_length
    if vary == "speed":
        name = _pump(laid, bar, pump)
        design = design_bar(
            bar.bar, flow_per_metre=flow_per_metre, vary="head", variation=variation, water=water_of(model)
        )
        speed = _speed(model, bar, name, wanted, design.head)
        changed = plumbing(model, speeds={name: speed})
        assert changed is not None  # as before
        before = next(link.speed for link in laid.links if isinstance(link, Pump) and link.name == name)
        return _told(model, changed, bar, vary, name, before, speed, flow_per_metre)
    level = _level(model, laid, bar, wanted)
    design = design_bar(
        bar.bar,
        flow_per_metre=flow_per_metre,
        vary=vary,
        head=level,
        variation=variation,
        water=water_of(model),
    )
    if vary == "pitch":
        changed = _with_bar(laid, bar, design.bar)
        return _told(model, changed, bar, vary, run, _pitch(bar.bar), _pitch(design.bar), flow_per_metre)
    change = _told(
        model,
        _with_bar(laid, bar, design.bar),
        bar,
        vary,
        run,
        _diameter(bar.bar),
        _diameter(design.bar),
        flow_per_metre,
    )
    return replace(change, choices=tuple(_with_drills(model, laid, bar, _diameter(design.bar))))


def _with_bar(laid: Plumbing, old: LaidBar, new: Bar) -> Plumbing:
    return replace(
        laid, bars=tuple(replace(one, bar=new) if one.node == old.node else one for one in laid.bars)
    )


def _with_drills(model: Model, laid: Plumbing, bar: LaidBar, diameter: float) -> Iterator[BarRun]:
    """Return what equal holes of the next drill below and above give; none where the holes differ."""
    if len(set(bar.bar.diameters)) > 1:
        return
    step = 0.0254 / 64.0 if model.scene.style == "inch" else 0.0001
    below = math.floor(diameter / step + 1e-6)
    for number in (below, below + 1):
        size = number * step
        if size < CLOG_DIAMETER:
            continue
        bored = replace(bar.bar, diameters=(size,) * bar.bar.count)
        flow = run_plumbing(model, _with_bar(laid, bar, bored))
        yield from (one for one in flow.bars if one.node == bar.node)


def _told(
    model: Model,
    changed: Plumbing,
    bar: LaidBar,
    varied: Varied,
    part: str,
    before: float,
    after: float,
    wanted: float,
) -> Change:
    flow = run_plumbing(model, changed)
    figure = f"{after:.1%}" if varied == "speed" else f"{after * 1000:.3g} mm"
    found = f"{part} at {figure}" if varied == "speed" else f"a {varied} of {figure}"
    for failure in flow.failures():
        if failure.setting == "likely":
            raise NotPossible(
                f"with {found} the flow is met once it runs, but {failure.message}", remedy=failure.remedy
            )
    run = next(one for one in flow.bars if one.node == bar.node)
    if run.crest is not None:
        raise NotPossible(
            f"with {found} the flow is met once it runs, but it does not start: the water stands "
            f"{(run.crest.height - run.crest.level) * 1000:.2g} mm below the top of its pipe",
            remedy="lead the pipe lower, throttle other branches, or run the pump faster with smaller holes",
        )
    return Change(
        varied=varied,
        part=part,
        before=before,
        after=after,
        wanted=wanted,
        bar=run.bar,
        head=run.total_head.likely - run.level,
        flow=flow,
        run=run,
    )


def _bar(laid: Plumbing | None, run: str) -> LaidBar:
    bars = {} if laid is None else {one.run: one for one in laid.bars}
    if run not in bars:
        raise UnknownName(
            f"no drip bar is called {run!r}",
            expected=nearest(run, bars)
            if bars
            else "a run whose last pipe has drip holes, ends in a cap, and "
            "hangs on a pump; the scene has none",
        )
    return bars[run]


def _pump(laid: Plumbing, bar: LaidBar, asked: str | None) -> str:
    links = _links_to(laid, bar)
    pumps = [link.name for link in links if isinstance(link, Pump)]
    if asked is None and len(pumps) == 1:
        return pumps[0]
    if asked is None:
        raise OutOfRange(f"several pumps feed {bar.run}", expected=f"one of them named: {', '.join(pumps)}")
    if asked not in pumps:
        raise UnknownName(f"no pump {asked!r} feeds {bar.run}", expected=nearest(asked, pumps))
    return asked


def _links_to(laid: Plumbing, bar: LaidBar) -> list[Link]:
    """Return the links of the system that a bar hangs on."""
    open_water = {node.name for node in laid.nodes if isinstance(node, Reservoir)}
    return next(
        links
        for links in component(laid.links, open_water)
        if any(bar.node in (link.start, link.end) for link in links)
    )


def _level(model: Model, laid: Plumbing, bar: LaidBar, wanted: float) -> float:
    """Level that the network leaves a bar while it takes the wanted flow, z [m]."""
    brought = _brought(model, laid, bar)
    low = min(bar.bar.heights)
    most = brought(low)
    if most < wanted:
        raise NotPossible(
            f"even with no head left at its holes the pipework brings {bar.run} {_lph(most)} of the "
            f"{_lph(wanted)} wanted: {_lph(wanted - most)} short",
            remedy="use a stronger pump or a higher speed, throttle the other branches, or wider pipe",
        )
    top = highest_head(laid.nodes, laid.links)
    return _halved(lambda level: wanted - brought(level), low, max(top, low + 0.01))


def _speed(model: Model, bar: LaidBar, pump: str, wanted: float, level: float) -> float:
    """Speed at which the network brings a bar the wanted flow against a level, [-]."""

    def brought(speed: float) -> float:
        laid = plumbing(model, speeds={pump: speed})
        assert laid is not None  # it was there at the scene's speed
        return _brought(model, laid, bar)(level)

    most, least = brought(FASTEST), brought(SLOWEST)
    if most < wanted:
        raise NotPossible(
            f"{bar.run} needs {level - min(bar.bar.heights):.2g} m of head at its lowest hole for "
            f"{_lph(wanted)}; even at {FASTEST:.0%} {pump} brings {_lph(max(0.0, most))} against that",
            remedy="use a stronger pump, wider or more holes, or throttle the other branches",
        )
    if least > wanted:
        raise NotPossible(
            f"{pump} brings {_lph(least)} even at {SLOWEST:.0%}, more than the {_lph(wanted)} wanted",
            remedy="use a smaller pump, or throttle it",
        )
    return _halved(lambda speed: brought(speed) - wanted, SLOWEST, FASTEST)


def _brought(model: Model, laid: Plumbing, bar: LaidBar) -> Callable[[float], float]:
    """Return the flow [m³/s] that the network brings a bar's inlet, as a law of the level there, z [m]."""
    water = water_of(model)
    links = _links_to(laid, bar)
    names = {end for link in links for end in (link.start, link.end)}
    nodes = [node for node in laid.nodes if node.name in names]
    others = Bars(
        [one for one in laid.bars if one.node in names and one.node != bar.node],
        top=highest_head(nodes, links),
        water=water,
    )

    def at(level: float) -> float:
        try:
            found = settle(
                [*nodes, Reservoir(name=bar.node, level=level)], links, others, losses=_likely, water=water
            )
        except BeyondCurve:
            return FLOOD  # more than anyone wants
        except NotSettled:
            raise
        except NoOperatingPoint:
            return -FLOOD  # nothing reaches so high
        return found.steady.node(bar.node).outflow

    return at


def _lph(flow: float) -> str:
    return f"{flow * 3.6e6:.3g} L/h"


def _likely(_: str) -> Setting:
    return "likely"


def _halved(law: Callable[[float], float], low: float, high: float) -> float:
    """Return where a rising law crosses 0, by halving: it may jump where pumps reach their ends."""
    for _ in range(HALVINGS):
        middle = 0.5 * (low + high)
        low, high = (middle, high) if law(middle) < 0.0 else (low, middle)
        if high - low <= 1e-12 * max(1.0, abs(high)):
            break
    return 0.5 * (low + high)


def _diameter(bar: Bar) -> float:
    return sum(bar.diameters) / bar.count


def _pitch(bar: Bar) -> float:
    return (bar.positions[-1] - bar.positions[0]) / (bar.count - 1) if bar.count > 1 else math.nan
