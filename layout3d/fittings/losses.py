"""Head losses of fittings as K, low, likely and high. No friction of straight pipe (see ``flow.pipe``).

Published K of one small fitting differ by two to three times: each loss is a range with its sources.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from functools import lru_cache
from itertools import pairwise
from pathlib import Path
from typing import Any

from layout3d.band import SETTINGS, Band
from layout3d.errors import OutOfRange, UnknownName, nearest
from layout3d.files import own_data
from layout3d.guards import above_zero, not_negative, within
from layout3d.keep import FIGURES, code_of, kept, key_of
from layout3d.units import show

__all__ = [
    "NO_LOSS",
    "Loss",
    "barb_loss",
    "bend_loss",
    "change_loss",
    "contraction_loss",
    "expansion_loss",
    "fitting_kinds",
    "fitting_loss",
    "least_opening",
    "losses_table",
    "nozzle_loss",
    "path_loss",
    "throttled_loss",
    "total_loss",
]

BORE_RANGE = (0.003, 0.160)  # [m]; the table is for 15 to 77 mm, its ends are held and widened out to here
BEND_FRICTION_REYNOLDS = 2e4  # Reynolds number, [-], at which bends are read: typical of these pipes


@dataclass(frozen=True, slots=True, kw_only=True)
class Loss(Band):
    """A loss coefficient K as a range: head lost is ``(K + laminar / Re) V²/2g``.

    ``low``, ``likely``, ``high`` are K [-] on the velocity in the bore that the maker of the loss names, its
    sources in ``note``; ``laminar`` is K1 [-] of the two-K form, which makes K rise below about Re 10 000.
    """

    laminar: float = 0.0

    def on_bore(self, own: float, other: float) -> Loss:
        """Return the same loss referred to the velocity in the ``other`` bore; both bores in m."""
        ratio = above_zero(other, "bore", "m") / above_zero(own, "bore", "m")
        return self._scaled(ratio**4, ratio**3)  # its Reynolds number changes with the bore too

    def times(self, count: float) -> Loss:
        """Return the loss of ``count`` such fittings in a row."""
        return self._scaled(not_negative(count, "count of fittings", ""), count)

    def _scaled(self, factor: float, laminar: float) -> Loss:
        low, likely, high = (value * factor for value in (self.low, self.likely, self.high))
        return replace(self, low=low, likely=likely, high=high, laminar=self.laminar * laminar)


NO_LOSS = Loss.exact(0.0, "no fitting")


def total_loss(losses: Iterable[Loss]) -> Loss:
    """Sum losses that all refer to one bore; no losses give ``NO_LOSS``.

    >>> total_loss([Loss.exact(0.5), Loss.exact(1.0)]).likely
    1.5
    """
    several = tuple(losses)
    if not several:
        return NO_LOSS
    return Loss(
        low=math.fsum(loss.low for loss in several),
        likely=math.fsum(loss.likely for loss in several),
        high=math.fsum(loss.high for loss in several),
        laminar=math.fsum(loss.laminar for loss in several),
        note="; ".join(dict.fromkeys(loss.note for loss in several if loss.note)),
    )


@lru_cache(maxsize=1)
def losses_table() -> dict[str, Any]:
    """Return the table of losses as read from its file; treat it as read-only."""
    table: dict[str, Any] = own_data(Path(__file__).with_suffix(".yaml"))
    return table


def fitting_kinds() -> tuple[str, ...]:
    """Return the names that :func:`fitting_loss` knows."""
    table = losses_table()
    return (*table["by_bore"], *table["fixed"])


def fitting_loss(kind: str, bore: float) -> Loss:
    """Loss of one fitting, on the velocity in its pipe.

    Parameters
    ----------
    kind : one of :func:`fitting_kinds`
    bore : true inside diameter of the pipe, not its nominal size, [m], 0.003 to 0.160

    Returns
    -------
    Loss, interpolated over the bore for the kinds that depend on it.

    Raises
    ------
    UnknownName : a kind that the table has not, with the nearest.
    OutOfRange : a bore outside the range.

    Notes
    -----
    The table covers bores of 15.4 to 77 mm. Below it likely and high grow by Hooper's law of size,
    (1 + 1/bore in inches), low is held; above it the end is held. The source then says so.

    Sources
    -------
    Named in ``layout3d/fittings/losses.yaml`` and in the result.
    """
    table = losses_table()
    within(bore, *BORE_RANGE, "bore of the fitting", "m")
    if kind in table["fixed"]:
        row = table["fixed"][kind]
        return Loss(**{name: row[name] for name in SETTINGS}, note=f"{kind}: {row['source']}")
    if kind not in table["by_bore"]:
        raise UnknownName(
            f"no fitting {kind!r} in the table of losses", expected=nearest(kind, fitting_kinds())
        )
    row, bores = table["by_bore"][kind], [size / 1000.0 for size in table["bores_mm"]]
    growth = 1.0 if bore >= bores[0] else (1.0 + 0.0254 / bore) / (1.0 + 0.0254 / bores[0])
    held = "" if bores[0] <= bore <= bores[-1] else "; its bore is outside the table, widened"
    return Loss(
        low=_between(bore, bores, row["low"]),
        likely=_between(bore, bores, row["likely"]) * growth,
        high=_between(bore, bores, row["high"]) * growth,
        laminar=row["laminar"],
        note=f"{kind}: " + ", ".join(f"{name} {text}" for name, text in row["sources"].items()) + held,
    )


def throttled_loss(kind: str, bore: float, opening: float = 1.0) -> Loss:
    """Loss of a full-bore valve by how far it is open, on the velocity in its pipe.

    Parameters
    ----------
    kind : one of the table's ``throttled``
    bore : [m]
    opening : share of the quarter turn, or of the gate's lift, [-]; 1 is fully open, 0 is shut

    Raises
    ------
    OutOfRange : an opening under ``least_opening`` (no reliable figure there), or above 1.

    Notes
    -----
    The loss of the open valve is added to that of a throttled cock or gate. A valve set by eye is a guess:
    measure the flow.

    Sources
    -------
    Weisbach 1855 by way of handbooks; see the table.
    """
    open_loss = fitting_loss(kind, bore)
    row = losses_table()["throttled"][kind]
    least = least_opening(kind)
    closed = 1.0 - within(opening, 0.0, 1.0, "opening of the valve", row["of"])
    if opening < least - 1e-9:
        raise OutOfRange(
            f"no figure for a {kind.replace('_', ' ')} only {opening:.0%} open",
            expected=f"an opening of {least:.0%} to 100 %, or 0 for shut",
            remedy="open it further, or use a smaller pump",
        )
    places, values = [place / row["shut"] for place in row["places"]], row["values"]
    if closed < places[0]:
        extra = values[0] * closed / places[0]
    else:
        extra = math.exp(_between(closed, places, [math.log(value) for value in values]))
    factor = row["factor"]
    return Loss(
        low=open_loss.low + extra / factor,
        likely=open_loss.likely + extra,
        high=open_loss.high + extra * factor,
        laminar=open_loss.laminar,
        note=open_loss.note + (f"; throttled: {row['source']}" if extra else ""),
    )


def least_opening(kind: str) -> float:
    """Return the least opening of a valve that a loss is known for, [-]."""
    row = losses_table()["throttled"][kind]
    return 1.0 - float(row["places"][-1]) / float(row["shut"])


def contraction_loss(from_bore: float, to_bore: float) -> Loss:
    """Loss of a sudden narrowing, on the velocity in the smaller bore (``to_bore``); bores in m.

    Sources
    -------
    Low: Crane TP-410, 0.5 (1 - b²). High: Rennels, Pipe Flow, 2012, by ``fluids.contraction_sharp``.
    Likely is their mean.
    """
    ratio = _ratio(to_bore, from_bore, "a narrowing must go from the wider bore to the narrower")
    if ratio == 1.0:
        return NO_LOSS

    def by_rennels() -> tuple[float]:
        from fluids import contraction_sharp  # dear to load

        return (float(contraction_sharp(from_bore, to_bore)),)

    key = key_of("sharp contraction", code_of("fittings"), from_bore, to_bore)
    crane, rennels = 0.5 * (1.0 - ratio**2), kept(key, FIGURES, by_rennels, worth=0.0)[0]
    low, high = min(crane, rennels), max(crane, rennels)
    return Loss(low=low, likely=0.5 * (low + high), high=high, note="contraction: Crane TP-410; Rennels 2012")


def expansion_loss(from_bore: float, to_bore: float) -> Loss:
    """Loss of a sudden widening, on the velocity in the smaller bore (``from_bore``); bores in m.

    Sources
    -------
    Borda-Carnot, (1 - b²)²: a momentum balance.
    """
    ratio = _ratio(from_bore, to_bore, "a widening must go from the narrower bore to the wider")
    return Loss.exact((1.0 - ratio**2) ** 2, "expansion: Borda-Carnot")


def change_loss(before: float, after: float) -> Loss:
    """Loss of a sudden change of bore, on the velocity in the smaller one; bores in m."""
    return contraction_loss(before, after) if before >= after else expansion_loss(before, after)


def barb_loss(tube_bore: float, barb_bore: float) -> Loss:
    """Loss of a hose barb as narrowing plus widening, on the velocity in the tube; bores in m.

    Sources
    -------
    Narrowing: Crane TP-410 and Rennels 2012; widening: Borda-Carnot.
    """
    both = total_loss([contraction_loss(tube_bore, barb_bore), expansion_loss(barb_bore, tube_bore)])
    source = "barb: bore given; narrowing Crane and Rennels, widening Borda-Carnot"
    return replace(both.on_bore(barb_bore, tube_bore), note=source)


def nozzle_loss(pipe_bore: float, nozzle_bore: float) -> Loss:
    """Loss of a nozzle at the end of a pipe, its exit included, on the velocity in the pipe; bores in m.

    A smooth nozzle loses 0.04 of its own velocity head, a sharp reducer its sudden narrowing; then the
    whole velocity head leaves.

    Sources
    -------
    Low: nozzle coefficient 0.98, handbook, from memory. High: sudden narrowing, Rennels 2012. Likely: mean.
    """
    sharp = contraction_loss(pipe_bore, nozzle_bore).high
    smooth = min(0.04, sharp)
    own = Loss(
        low=1.0 + smooth,
        likely=1.0 + 0.5 * (smooth + sharp),
        high=1.0 + sharp,
        note="nozzle with its exit: coefficient 0.98, handbook, from memory; sharp narrowing Rennels 2012",
    )
    return own.on_bore(nozzle_bore, pipe_bore)


def bend_loss(bore: float, radius: float, angle: float) -> Loss:
    """Loss of a smooth bend in tube, less the wall friction along its arc (count the arc as pipe length).

    Parameters
    ----------
    bore : [m]
    radius : of the centre line, [m], at least one bore; above 20 bores the value at 20 is held
    angle : [rad], above 0 to pi; above a quarter turn the quarter turn is scaled by the angle

    Raises
    ------
    OutOfRange : a radius under one bore (a kink or an elbow), or an angle out of range.

    Sources
    -------
    The least, middle and largest of Rennels 2012, Crane TP-410 and Miller 1990, by ``fluids.bend_rounded``.
    """
    above_zero(bore, "bore", "m")
    within(angle, 1e-9, math.pi + 1e-9, "angle of the bend", "rad")
    diameters = above_zero(radius, "bend radius", "m") / bore
    if diameters < 1.0:
        raise OutOfRange(
            f"bend radius {show(radius, 'length')} is under one bore ({show(bore, 'length')})",
            expected="a radius of at least one bore",
            remedy="use the loss of an elbow, or a wider bend",
        )
    diameters = min(diameters, 20.0)
    quarter = min(angle, 0.5 * math.pi)
    key = key_of("rounded bend", code_of("fittings"), bore, quarter, diameters)
    losses = kept(key, FIGURES, lambda: _bends(bore, quarter, diameters), worth=0.0)
    low, likely, high = sorted(max(0.0, loss * angle / quarter) for loss in losses)
    return Loss(low=low, likely=likely, high=high, note="bend: Rennels 2012, Crane TP-410, Miller 1990")


def _bends(bore: float, angle: float, diameters: float) -> tuple[float, ...]:
    """Return the losses of a bend of 90 degrees at the most, without its friction, by each of the methods."""
    from fluids import bend_rounded
    from fluids.friction import Clamond

    arc_friction = float(Clamond(BEND_FRICTION_REYNOLDS, 0.0)) * diameters * angle
    found = []
    for method, friction in (("Rennels", arc_friction), ("Crane", arc_friction), ("Miller", 0.0)):
        # the correlations start at 10 degrees; below, scale the 10-degree value
        read = max(angle, math.radians(10.0))
        value = bend_rounded(
            Di=bore,
            angle=math.degrees(read),
            bend_diameters=diameters,
            Re=BEND_FRICTION_REYNOLDS,
            roughness=0.0,
            method=method,
        )
        found.append(float(value) * angle / read - friction)
    return tuple(found)


def path_loss(bore: float, path: Iterable[Sequence[float]], radius: float) -> Loss:
    """Loss of all bends along a tube's centreline (its length is counted as pipe).

    Parameters
    ----------
    bore : [m]
    path : points (x, y, z) of the centreline, [m]; bends are polylines of small turns
    radius : of its bends, [m]; below one bore, one bore is taken
    """
    points = list(path)
    legs = [[q - p for p, q in zip(a, b, strict=True)] for a, b in pairwise(points)]
    turn = math.fsum(_angle(a, b) for a, b in pairwise(legs))
    if turn < 1e-6:
        return NO_LOSS
    quarter = bend_loss(bore, max(radius, bore), math.pi / 2.0)
    return quarter.times(turn / (math.pi / 2.0))


def _angle(one: Sequence[float], other: Sequence[float]) -> float:
    cosine = sum(p * q for p, q in zip(one, other, strict=True)) / (math.hypot(*one) * math.hypot(*other))
    return math.acos(max(-1.0, min(1.0, cosine)))


def _between(value: float, places: list[float], figures: list[float]) -> float:
    """Interpolate linearly, holding the ends."""
    import numpy as np

    return float(np.interp(value, places, figures))


def _ratio(small: float, large: float, rule: str) -> float:
    ratio = above_zero(small, "bore", "m") / above_zero(large, "bore", "m")
    if ratio > 1.0 + 1e-12:
        raise OutOfRange(f"{rule}, got {show(small, 'length')} against {show(large, 'length')}")
    return min(ratio, 1.0)
