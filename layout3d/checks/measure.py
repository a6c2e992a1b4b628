"""What rules share: lengths in the scene's units, how near two bodies are in words, who is joined to whom."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Iterable, Iterator

import numpy as np
from numpy.typing import NDArray

from layout3d.checks.base import Finding, Findings
from layout3d.model.model import Model
from layout3d.parts.base import Body, KeepClear, Port, Vector, vector
from layout3d.parts.run_data import RunData
from layout3d.solid.boolean import difference
from layout3d.solid.distance import Gap, Overlap, gap, laps, near_pairs, overlap
from layout3d.solid.placement import Placement
from layout3d.solid.primitives import cylinder
from layout3d.solid.shape import Solid
from layout3d.units import KINDS, show

__all__ = [
    "ROUNDING",
    "Joins",
    "Through",
    "farthest",
    "from_to",
    "gaps_below",
    "is_pipe",
    "judged",
    "length",
    "limit",
    "missing",
    "port_named",
    "runs",
    "shared_by",
    "stops",
    "too_near",
    "worded",
]

ROUNDING = 1e-7
"""What a length may miss a limit by and still meet it, [m] or [rad]: rounding of arithmetic, no judgement."""

HOLDERS = ("clip", "suction_cup")
LOWERED = 2.0
"""A part is lowered by so many rest gaps to see what stops it."""
STOPPED = 0.15
"""Stopped it is by what it then runs into by this share of the way: a face up to 80 degrees steep."""
REACH = 0.1
"""How far on either side of the pane a pipe still counts as going through it, [m]: a bulkhead and a bend."""


def shared_by(a: Body | KeepClear, b: Body) -> Overlap | None:
    """Measure what a body, or a space to be kept clear, and a body share; None when they are apart or touch.

    Before a body is cut around others it holds all that it holds after, and stays the same wherever these
    are moved: so that is asked first.
    """
    before = a.before(b.solid) if isinstance(a, Body) else a.solid, b.before(a.solid)
    if before != (a.solid, b.solid) and not laps(*before):
        return None
    return overlap(a.solid, b.solid)


def stops(lower: Body, upper: Body, most: float) -> bool:
    """Tell whether a body, lowered a little, is stopped by another; ``most`` is the limit rest_gap, [m]."""
    low, high = upper.solid.bounds + np.array([[-most], [most]])
    if (low > lower.solid.bounds[1]).any() or (high < lower.solid.bounds[0]).any():
        return False
    if gap(upper.solid, lower.solid).distance > most:
        return False
    way = LOWERED * most
    met = overlap(upper.solid.moved(Placement.at((0.0, 0.0, -way))), lower.solid)
    return met is not None and met.depth >= STOPPED * way


def length(value: float, *, give: float = 0.0) -> str:
    """Return a length in the units of the scene that is examined, for messages; ``give`` as in ``show``."""
    return show(value, "length", give=give)


def from_to(ends: Iterable[float]) -> str:
    """Return two lengths in words: 'low to high'."""
    return " to ".join(length(end) for end in ends)


def worded(value: float, positive: str, negative: str, zero: str = "") -> str:
    """Return words with a length above or below 0 where '{}' stands; other words for 0, if there are any."""
    if value == 0.0 and zero:
        return zero
    return (positive if value > 0.0 else negative).format(length(abs(value)))


def limit(model: Model, name: str) -> float:
    """Return a limit's value, SI, as the scene overrides it."""
    return model.scene.catalog.limit(name).value


def missing(measured: float, limit: float) -> float:
    """Return how much a measure lacks to its least value; 0.0 where it has it, but for rounding."""
    lack = limit - measured
    return lack if lack > ROUNDING else 0.0


def judged(
    model: Model,
    measured: float,
    wanted: str | float,
    least: str | float | None = None,
    *,
    parts: tuple[str, ...],
    at: Vector | None,
    says: str,
    remedy: str,
    most: bool = False,
    kind: str = "length",
    told: str | None = None,
    digits: int | None = None,
) -> Findings:
    """Return the finding that a measure falls short of a limit, or is over it; nothing where it does neither.

    Parameters
    ----------
    measured : in the SI unit of its kind of quantity, ``kind``
    wanted : name or value of the limit that is told, and warned of past it
    least : name or value of that past which it is a fault; the wanted one if not given
    says : what is how near to what; the miss follows after a colon, or stands where '{miss}' does
    remedy : with '{short}' where the miss stands
    most : the limit is an upper one
    told : what follows on the limit's value; ' (limit name)' if not given
    digits : significant figures of the miss and of the limit
    """
    sign = -1.0 if most else 1.0
    bound, fault = (
        limit(model, value) if isinstance(value, str) else value
        for value in (wanted, wanted if least is None else least)
    )
    short = missing(sign * measured, sign * bound)
    if not short:
        return
    off, asked = (show(value, kind, digits=digits) for value in (short, bound))
    named = f" (limit {wanted})" if told is None else told
    miss = f"{off} {'over' if most else 'short of'} {asked}{named}"
    yield Finding(
        severity="fault" if missing(sign * measured, sign * fault) else "warning",
        parts=parts,
        measured=measured,
        limit=bound,
        unit=KINDS[kind].unit,
        at=at,
        message=says.replace("{miss}", miss) if "{miss}" in says else f"{says}: {miss}",
        remedy=remedy.replace("{short}", off),
    )


def farthest(points: NDArray[np.float64], way: NDArray[np.float64] | tuple[float, float, float]) -> Vector:
    """Return the place that lies farthest in a direction; the middle of all that lie equally far."""
    far = points @ np.asarray(way, dtype=np.float64)
    tied = points[far >= far.max() - ROUNDING]
    return vector((tied.min(axis=0) + tied.max(axis=0)) / 2)


def runs(model: Model) -> Iterator[tuple[str, RunData]]:
    """Return the name and data of each run."""
    for built in model.runs:
        yield built.part.name, built.data


def too_near(
    model: Model,
    a: Body,
    b: Body,
    between: Gap,
    wanted: str | float,
    least: str | None = None,
    *,
    remedy: str,
    told: str | None = None,
) -> Findings:
    """Return the finding that two bodies are nearer than a limit, as ``judged``, saying how near they are.

    Where they share space the depth to which they do counts, below 0.
    """
    distance, at, words = between.distance, vector(between.at_a), f"is {length(between.distance)} from"
    if distance <= ROUNDING:
        shared = overlap(a.solid, b.solid)
        distance, words = 0.0, "touches"
        if shared is not None:
            distance, at, words = -shared.depth, vector(shared.at), f"runs {length(shared.depth)} into"
    says, parts = f"{a.name} {words} {b.name}", (a.name, b.name)
    return judged(model, distance, wanted, least, parts=parts, at=at, says=says, told=told, remedy=remedy)


class Joins:
    """The joins of a model by pair of bodies: how two bodies are meant to meet."""

    def __init__(self, model: Model) -> None:
        self._how: dict[frozenset[str], set[str]] = defaultdict(set)
        self._of: dict[str, list[tuple[str, str]]] = defaultdict(list)
        for join in model.joins:
            self._how[frozenset((join.a, join.b))].add(join.how)
            self._of[join.a].append((join.b, join.how))
            self._of[join.b].append((join.a, join.how))

    def how(self, a: Body, b: Body, *, besides: Collection[str] = ()) -> set[str]:
        """Return the ways in which two bodies, or the parts they belong to, are joined; empty for none.

        Joins to a part named in ``besides`` as a whole are passed over.
        """
        return set().union(
            *(
                self._how.get(frozenset((one, two)), ())
                for one in {a.name, a.part}.difference(besides)
                for two in {b.name, b.part}.difference(besides)
            )
        )

    def of(self, *names: str, how: Iterable[str] = ()) -> set[str]:
        """Return the names that these bodies or parts are joined to, in these ways or in any."""
        ways = frozenset(how)
        return {other for name in names for other, way in self._of.get(name, ()) if not ways or way in ways}


def gaps_below(
    model: Model,
    first: Collection[Body],
    second: Collection[Body],
    margin: float,
) -> Iterator[tuple[Body, Body, Gap]]:
    """Return pairs of bodies, one of each sort and not joined, that are nearer than ``margin``, [m].

    What is joined to the tank as a whole is not joined to each of its panes.
    """
    joins = Joins(model)
    whole = {model.tank_name}
    one, other = ({body.name for body in some} for some in (first, second))
    bodies = sorted({b.name: b for b in (*first, *second)}.values(), key=lambda body: body.name)
    for i, j in near_pairs([body.solid for body in bodies], margin):
        for a, b in ((bodies[i], bodies[j]), (bodies[j], bodies[i])):
            if a.name in one and b.name in other and not joins.how(a, b, besides=whole):
                between = gap(a.solid, b.solid)
                if missing(between.distance, margin):
                    yield a, b, between
                break


def port_named(model: Model, name: str) -> Port | None:
    """Return a port by its full name or without the tank's, or None."""
    return model.ports.get(name) or model.ports.get(f"{model.tank_name}.{name}")


class Through:
    """Tells which bodies go through which pane, and leaves out what of them is at the hole."""

    def __init__(self, model: Model, joins: Joins | None = None) -> None:
        found = joins or Joins(model)
        self._ways: dict[tuple[str, str], list[Solid]] = {}
        for hole in model.tank.holes.values():
            panel = model.tank.panels[hole.panel]
            radius = max(hole.diameter, hole.flange_diameter, hole.nut_diameter) / 2
            way = cylinder(radius, panel.thickness + 2 * REACH).solid(
                panel.frame(*hole.centre, -panel.thickness - REACH)
            )
            for name in found.of(f"{model.tank_name}.{hole.name}", how=("socket", "barb")):
                self._ways.setdefault((name, panel.body), []).append(way)

    def rest(self, body: Body, pane: Body) -> Solid | None:
        """Return what of a body is to be measured against another: all of it, but for the way through a hole.

        None where nothing is left.
        """
        ways = self._ways.get((body.name, pane.name))
        return difference(body.solid, ways) if ways else body.solid


def is_pipe(body: Body) -> bool:
    """Tell whether a body is pipework that has to keep away, not what holds it."""
    return body.group == "plumbing" and body.kind not in HOLDERS
