"""A drip bar of a model the other way about: pump speed, hole size or pitch for a wanted flow per metre.

Each trial is put into the whole network and solved forward, at likely losses; one thing is varied, all else
in the scene stands.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np

from layout3d.errors import (
    BeyondCurve,
    NoOperatingPoint,
    NotPossible,
    NotSettled,
    OutOfRange,
    UnknownName,
    nearest,
)
from layout3d.flow.bar import Bar
from layout3d.flow.network import DrilledPipe
from layout3d.flow.plumbing import Plumbing, plumbing
from layout3d.flow.result import BarRun, RunningFlow
from layout3d.flow.running import running_plumbing
from layout3d.flow.solve import solve
from layout3d.flow.water import water_of
from layout3d.guards import above_zero
from layout3d.model.model import Model
from layout3d.units import show, shown_in

__all__ = ["VARIED", "Change", "Varied", "change_for"]

Varied = Literal["speed", "diameter", "pitch"]
VARIED: tuple[Varied, ...] = ("speed", "diameter", "pitch")
SLOWEST, FASTEST = 0.05, 1.0  # of the rated speed: what a scene may set
HALVINGS = 40
MISS = 1e-3  # of the wanted flow, which a figure found may miss it by
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
    variation: float | None = None,
    pump: str | None = None,
) -> Change:
    """Find the pump speed, hole diameter or pitch at which a drip bar gives a wanted flow, evenly enough.

    Parameters
    ----------
    run : the run that is a drip bar
    flow_per_metre : wanted, over the length of wall its holes serve, [m³/s per m]
    vary : "speed" of the pump behind it, "diameter" of its holes, or "pitch" from hole to hole; by pitch the
        flow comes out to the nearest whole hole
    variation : largest coefficient of variation that counts as even, [-]; that of the limit drip_variation
        where None
    pump : whose speed; needed where several feed the bar

    Raises
    ------
    UnknownName : no such drip bar, or no such pump behind it.
    NotPossible : with the reason and the miss.
    OutOfRange : a figure out of range, or something else to vary.
    """
    above_zero(flow_per_metre, "wanted flow per metre", "m³/s per m")
    if variation is None:
        variation = model.scene.catalog.limit("drip_variation").value
    above_zero(variation, "largest variation", "")
    if vary not in VARIED:
        raise OutOfRange(f"can't vary {vary!r}", expected="one of: speed, diameter, pitch")
    with shown_in(model.scene.style):
        laid, pipe = _bar(plumbing(model), run)
        trial = _Trial(model, laid, pipe, flow_per_metre * pipe.bar.served_length, flow_per_metre)
        if vary == "speed":
            name = _pump(laid, pipe, run, pump)
            before = next(one.speed for one in laid.pumps if one.name == name)
            speed = trial.speed(name)
            found = trial.told(laid.at_speeds({name: speed}), vary, name, before, speed)
        elif vary == "diameter":
            bar = trial.diameter()
            found = trial.told(trial.with_bar(bar), vary, run, _diameter(pipe.bar), _diameter(bar))
            found = replace(found, choices=tuple(trial.with_drills(_diameter(bar))))
        else:
            bar = trial.pitch()
            found = trial.told(trial.with_bar(bar), vary, run, _pitch(pipe.bar), _pitch(bar))
        _even_enough(found, variation)
    return found


@dataclass(frozen=True, slots=True)
class _Trial:
    """The system of one bar, and what is wanted of it: ``wanted`` in all [m³/s]."""

    model: Model
    laid: Plumbing
    pipe: DrilledPipe
    wanted: float
    per_metre: float

    def limit(self, name: str) -> float:
        """Return a limit of the scene, the one that the rules judge by."""
        return self.model.scene.catalog.limit(name).value

    def with_bar(self, bar: Bar) -> Plumbing:
        """Return the system with another bar in its place."""
        return replace(
            self.laid,
            links=tuple(
                replace(self.pipe, bar=bar) if link is self.pipe else link for link in self.laid.links
            ),
        )

    def gives(self, laid: Plumbing) -> float:
        """Flow of the bar in a system, [m³/s], as if no hole held its drop; below 0 where nothing runs."""
        try:
            found = solve(laid.network, water=water_of(self.model), holds=False)
        except BeyondCurve:
            return FLOOD  # more than anyone wants
        except NotSettled:
            raise
        except NoOperatingPoint:
            return -FLOOD
        return found.bars[self.pipe.name].flow

    def speed(self, pump: str) -> float:
        """Speed of a pump at which the bar gives what is wanted, [-]."""

        def at(speed: float) -> float:
            return self.gives(self.laid.at_speeds({pump: speed})) - self.wanted

        if (most := at(FASTEST)) < 0.0:
            raise NotPossible(
                f"even at {FASTEST:.0%} {pump} brings {_flow(max(0.0, most + self.wanted))} of the "
                f"{_flow(self.wanted)} wanted: {_flow(min(-most, self.wanted))} short",
                remedy="use a stronger pump, more holes, or throttle the other branches",
            )
        if (least := at(SLOWEST)) > 0.0:
            raise NotPossible(
                f"{pump} brings {_flow(least + self.wanted)} even at {SLOWEST:.0%}, more than the "
                f"{_flow(self.wanted)} wanted",
                remedy="use a smaller pump, or throttle it",
            )
        return _halved(at, SLOWEST, FASTEST)

    def diameter(self) -> Bar:
        """Return the bar with all holes wider or narrower alike."""
        bar = self.pipe.bar
        gaps = [b - a for a, b in zip(bar.positions[:-1], bar.positions[1:], strict=True) if b > a]
        narrowest, widest = min(bar.diameters), max(bar.diameters)
        least = self.limit("drip_hole_diameter")
        apart = min(gaps, default=math.inf) / self.limit("drip_hole_spacing_diameters")
        low, high = least / narrowest, min(self.limit("drip_hole_widest") * bar.bore, apart) / widest
        if low > high:
            raise NotPossible(
                f"no hole size is sensible here: under {show(least, 'length')} it clogs, and the pitch or "
                f"the bore allows {show(high * widest, 'length', digits=2)}",
                remedy="use a wider pipe or a wider pitch",
            )

        def scaled(share: float) -> Bar:
            return replace(bar, diameters=tuple(size * share for size in bar.diameters))

        def at(share: float) -> float:
            return self.gives(self.with_bar(scaled(share))) - self.wanted

        if (most := at(high)) < 0.0:
            raise NotPossible(
                f"even holes of {show(high * widest, 'length', digits=3)} give "
                f"{_flow(max(0.0, most + self.wanted))} of the {_flow(self.wanted)} wanted",
                remedy="use a stronger pump or a higher speed, throttle the other branches, or wider pipe",
            )
        if (over := at(low)) > 0.0:
            raise NotPossible(
                f"holes of {show(least, 'length')}, the narrowest that stays clear, give "
                f"{_flow(over + self.wanted)}, more than the {_flow(self.wanted)} wanted",
                remedy="use fewer holes or less head",
            )
        return scaled(_halved(at, low, high))

    def pitch(self) -> Bar:
        """Return the bar with more or fewer equal holes on the same length."""
        bar = self.pipe.bar
        if len(set(bar.diameters)) > 1:
            raise OutOfRange(
                "the pitch can be found for equal holes only", remedy="give all holes one diameter"
            )
        size, span = bar.diameters[0], bar.served_length
        middle = 0.5 * (bar.positions[0] + bar.positions[-1]) if bar.count > 1 else 0.5 * span

        def spaced(count: int) -> Bar:
            places = middle + (np.arange(count) - 0.5 * (count - 1)) * span / count
            return replace(
                bar,
                positions=tuple(np.clip(places, 0.0, bar.length).tolist()),
                diameters=(size,) * count,
                heights=tuple(np.interp(places, bar.positions, bar.heights).tolist()),
            )

        def at(count: int) -> float:
            return self.gives(self.with_bar(spaced(count))) - self.wanted if count else -self.wanted

        apart = self.limit("drip_hole_spacing_diameters")
        low, high = 0, max(1, int(span / (apart * size)))
        if (most := at(high)) < 0.0:
            raise NotPossible(
                f"even {high} holes, {apart:g} diameters apart, give "
                f"{_flow(max(0.0, most + self.wanted))} of the {_flow(self.wanted)} wanted",
                remedy="use a stronger pump or a higher speed, throttle the other branches, or wider pipe",
            )
        while high - low > 1:
            count = (low + high) // 2
            low, high = (count, high) if at(count) < 0.0 else (low, count)
        return spaced(high if low == 0 or at(high) <= -at(low) else low)

    def with_drills(self, diameter: float) -> Iterator[BarRun]:
        """Return what equal holes of the next drill below and above give; none where the holes differ."""
        bar = self.pipe.bar
        if len(set(bar.diameters)) > 1:
            return
        step = 0.0254 / 64.0 if self.model.scene.style == "inch" else 0.0001
        below = math.floor(diameter / step + 1e-6)
        least = self.limit("drip_hole_diameter")
        for number in (below, below + 1):
            if number * step >= least - 1e-9:
                bored = self.with_bar(replace(bar, diameters=(number * step,) * bar.count))
                flow = running_plumbing(self.model, bored)
                yield from (one for one in flow.bars if one.body == self.pipe.name)

    def told(self, changed: Plumbing, varied: Varied, part: str, before: float, after: float) -> Change:
        """Solve the changed system whole."""
        flow = running_plumbing(self.model, changed)
        figure = _varied(varied, after)
        found = f"{part} at {figure}" if varied == "speed" else f"a {varied} of {figure}"
        for failure in flow.failures():
            if failure.setting == "likely":
                raise NotPossible(
                    f"with {found} the flow is met once it runs, but {failure.message}", remedy=failure.remedy
                )
        run = next(one for one in flow.bars if one.body == self.pipe.name)
        if run.crest is not None:
            raise NotPossible(
                f"with {found} the flow is met once it runs, but it does not start: the water stands "
                f"{show(run.crest.height - run.crest.level, 'length', digits=2)} below the top of its pipe",
                remedy="lead the pipe lower, throttle other branches, or run faster with smaller holes",
            )
        return Change(
            varied=varied,
            part=part,
            before=before,
            after=after,
            wanted=self.per_metre,
            bar=run.bar,
            head=run.total_head.likely - run.level,
            flow=flow,
            run=run,
        )


def _even_enough(found: Change, variation: float) -> None:
    run, wanted = found.run, found.wanted * found.run.bar.served_length
    if still := run.count("dry", "holds"):
        raise NotPossible(
            f"{_flow(wanted)} is wanted, but {still} of {run.bar.count} holes give nothing at it",
            # for one flow in all, wider holes take less head, which breaks no drop
            remedy="use fewer or narrower holes, so that each has more head, or set the bar level",
        )
    if found.varied != "pitch" and abs(run.flow.likely - wanted) > MISS * wanted:
        raise NotPossible(
            f"no {found.varied} gives {_flow(wanted)}: about {_varied(found.varied, found.after)} the flow "
            f"jumps past it to {_flow(run.flow.likely)}, as water gets over a top of its pipe only then",
            remedy="lead the pipe lower, throttle other branches, or run faster with smaller holes",
        )
    if run.variation.likely > variation:
        raise NotPossible(
            f"the flow is met but not evenly: variation {run.variation.likely:.1%}, above {variation:.1%} "
            f"(hole area is {run.bar.area_ratio:.2f} of the bore)",
            remedy="use a wider pipe, or fewer or smaller holes with more head; feed both ends; "
            "set the bar level",
        )


def _varied(varied: Varied, figure: float) -> str:
    return f"{figure:.1%}" if varied == "speed" else show(figure, "length", digits=3)


def _bar(laid: Plumbing, run: str) -> tuple[Plumbing, DrilledPipe]:
    """Return the drilled pipe of a run, with the system it hangs on."""
    bars = {pipe.part: (system, pipe) for system in laid.systems() for pipe in system.drilled}
    if run not in bars:
        raise UnknownName(
            f"no drip bar is called {run!r}",
            expected=nearest(run, bars)
            if bars
            else "a run with drip holes that hangs on a pump; the scene has none",
        )
    return bars[run]


def _pump(laid: Plumbing, pipe: DrilledPipe, run: str, asked: str | None) -> str:
    pumps = [pump.name for pump in laid.pumps]
    if asked is None and len(pumps) == 1:
        return pumps[0]
    if asked is None:
        raise OutOfRange(f"several pumps feed {run}", expected=f"one of them named: {', '.join(pumps)}")
    if asked not in pumps:
        raise UnknownName(f"no pump {asked!r} feeds {run}", expected=nearest(asked, pumps))
    return asked


def _flow(flow: float) -> str:
    return show(flow, "flow", digits=3)


def _halved(law: Callable[[float], float], low: float, high: float) -> float:
    """Return where a rising law crosses 0, by halving: it may jump where pumps reach their ends."""
    for _ in range(HALVINGS):
        middle = 0.5 * (low + high)
        low, high = (middle, high) if law(middle) < 0.0 else (low, middle)
        if high - low <= 1e-9 * high:
            break
    return 0.5 * (low + high)


def _diameter(bar: Bar) -> float:
    return sum(bar.diameters) / bar.count


def _pitch(bar: Bar) -> float:
    return (bar.positions[-1] - bar.positions[0]) / (bar.count - 1) if bar.count > 1 else math.nan
