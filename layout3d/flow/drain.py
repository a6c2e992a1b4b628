"""Gravity drains: what their legs carry open, with air over the water, and what they carry running full.

Open flow is the safe figure. A drain running full carries several times as much, starts and stops by itself,
and is never counted on. Left out: foam, slime, the jump of fast water at the foot of an upright, the thicker
sheet in the first half metre of one.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

from layout3d.band import OPPOSITE, SETTINGS, Band, Setting
from layout3d.errors import OutOfRange
from layout3d.fittings.losses import NO_LOSS, Loss, total_loss
from layout3d.flow.open_channel import Reach, backwater, depth_of_energy, energy, normal_depth
from layout3d.flow.pipe import friction_head
from layout3d.flow.roots import root
from layout3d.flow.water import Water, water_at
from layout3d.guards import above_zero, finite, not_negative
from layout3d.units import GRAVITY, show

__all__ = [
    "AIR_NOTE",
    "LAYING",
    "MANNING",
    "DrainLeg",
    "DrainLimit",
    "Trap",
    "drain_legs",
    "full_flow",
    "open_limits",
    "self_venting_flow",
    "stack_flow",
    "standing_level",
    "traps",
]

GPM = 6.30902e-5  # [m³/s], US gallon a minute
INCH = 0.0254
# Wyly and Eaton 1961, NBS Monograph 31: gpm = 27.8 r^(5/3) D^(8/3), D in inches, r the share of the section
# filled
STACK = 27.8
STACK_FILL = Band(
    low=1 / 4, likely=7 / 24, high=1 / 3, note="share of the section filled, Wyly and Eaton 1961"
)
# smallest bore told without widening; the stacks of that work were larger. From memory, check before
# relying on it
STACK_BORE = 0.031  # [m]
NARROW_SHARE = 0.5  # what is taken off below it. Common practice, no source
# Manning's n of PVC, [s/m^(1/3)]: clean, design, and as codes often have it. Handbook values
MANNING = Band(low=0.009, likely=0.010, high=0.013, note="Manning's n of PVC: clean, design, codes")
# Froude number of the full pipe up to which air gets back up against the water: Hills 1983 and Simpson 1968,
# Chemical Engineering; no plug rises above 0.345, Davies and Taylor 1950. From memory, check before relying
# on it
SELF_VENTING = Band(
    low=0.30, likely=0.31, high=0.345, note="Hills 1983, Simpson 1968, Davies and Taylor 1950"
)
AIR_NOTE = (
    "between open and full a drain draws air in plugs, gulps and roars, and its flow swings; keep it well "
    "under the open figure, or throttle it full under water with an open emergency drain beside it"
)
UPRIGHT = math.sin(math.radians(45.0))  # legs that fall more steeply carry a sheet round a core of air
LEVEL = 1e-3  # a leg that falls less is told as level, [-]: laying is no better
LAYING = 1e-3  # smaller rises are put down to laying, [m]
LEAST = 1e-3  # least share of a leg's flow at which its depth is asked for, [-]


@dataclass(frozen=True, slots=True, kw_only=True)
class DrainLeg:
    """A straight stretch of a drain, from ``start`` to ``end`` (x, y, z), [m].

    ``bore`` is its least, ``length`` that of its centre line, [m]; ``loss`` that of all fittings in it and of
    the turn at its end, on its bore. ``valve`` is that of valves in it which are partly shut.
    """

    start: tuple[float, float, float]
    end: tuple[float, float, float]
    bore: float
    length: float
    loss: Loss = NO_LOSS
    valve: Loss = NO_LOSS

    @property
    def fall(self) -> float:
        """Fall over length, [-]; below 0 where it rises."""
        return (self.start[2] - self.end[2]) / self.length

    @property
    def upright(self) -> bool:
        """Whether it falls steeply enough to carry a sheet round a core of air."""
        return self.fall >= UPRIGHT

    def floor(self, height: float) -> float:
        """Return the height of its lowest line where its middle is at ``height``, z [m]."""
        return height - self._reach_up

    def crown(self, height: float) -> float:
        """Return the height of its highest line where its middle is at ``height``, z [m]."""
        return height + self._reach_up

    @property
    def _reach_up(self) -> float:
        return self.bore / 2.0 * math.sqrt(max(0.0, 1.0 - self.fall**2))

    def reach(self, setting: Setting) -> Reach:
        """Return it as a leg of open channel; at 'low' as rough as codes have it."""
        return Reach(bore=self.bore, length=self.length, fall=self.fall, n=MANNING.at(OPPOSITE[setting]))


@dataclass(frozen=True, slots=True, kw_only=True)
class DrainLimit:
    """What a stretch of a drain carries with air over the water, [m³/s]; from ``at`` to ``to`` (x, y, z)."""

    words: str
    at: tuple[float, float, float]
    to: tuple[float, float, float]
    flow: Band


@dataclass(frozen=True, slots=True, kw_only=True)
class Trap:
    """A stretch of a drain that rises: it holds water ``depth`` deep over its lowest point, ``at`` (x, y, z).

    ``sealed`` where it is deep enough to fill the bore: no air passes, and the drain can't run open.
    """

    first: int
    last: int
    at: tuple[float, float, float]
    depth: float
    sealed: bool


def stack_flow(bore: float) -> Band:
    """Open flow of a vertical drain: a sheet of water down the wall round a core of air.

    Parameters
    ----------
    bore : true inside diameter, [m]

    Returns
    -------
    Band, [m³/s]: the section 1/4, 7/24 and 1/3 filled. Under 31 mm, where the formula was not tried, low is
    half of it and the note says so.

    Sources
    -------
    Wyly and Eaton 1961, Capacities of stacks in sanitary drainage systems, NBS Monograph 31.
    """
    size = above_zero(bore, "bore of the drain", "m") / INCH
    flow = STACK_FILL.map(lambda share: STACK * share ** (5.0 / 3.0) * size ** (8.0 / 3.0) * GPM)
    if bore >= STACK_BORE:
        return flow
    under = f"bore {show(bore, 'length')} under {show(STACK_BORE, 'length')}"
    note = f"{under}: not tried by Wyly and Eaton, low is halved"
    return Band(low=flow.low * NARROW_SHARE, likely=flow.likely, high=flow.high, note=note)


def self_venting_flow(bore: float) -> Band:
    """Flow up to which air gets back up a pipe against the water, [m³/s]: where its way down is under water.

    Sources
    -------
    Froude number of the full pipe 0.30 to 0.345: Hills 1983; Simpson 1968; for the rise of a plug of air
    Davies and Taylor 1950. From memory, check before relying on it.
    """
    area = 0.25 * math.pi * above_zero(bore, "bore of the drain", "m") ** 2
    return SELF_VENTING.map(lambda number: number * area * math.sqrt(GRAVITY * bore))


def full_flow(
    bore: float,
    drop: float,
    length: float,
    *,
    loss: Loss = NO_LOSS,
    water: Water | None = None,
) -> Band:
    """Flow of a drain that runs full, or of a siphon hose, from level to level.

    Parameters
    ----------
    bore, length : of the pipe, [m]
    drop : from the water it starts in to the water (or mouth in air) it ends in, [m]; 0 or less gives none
    loss : of all fittings, entrance and exit with them, on the bore; their range makes the band
    water : fresh at 25 °C where None

    Returns
    -------
    Band, [m³/s]; low at the highest losses. Not a safe figure for a drain: one bubble ends it.

    Raises
    ------
    OutOfRange : neither length nor loss, so that nothing bounds the flow.
    """
    not_negative(length, "length of the drain", "m")
    if length == 0.0 and loss.low == 0.0:
        raise OutOfRange(
            "a full drain without length or loss has no bounded flow",
            remedy="count its entrance and exit losses",
        )
    area = 0.25 * math.pi * above_zero(bore, "bore of the drain", "m") ** 2
    if finite(drop, "drop of the drain", "m") <= 0.0:
        return Band.exact(0.0, "no drop")
    nu = (water or water_at()).viscosity
    flows = []
    for setting in SETTINGS:

        def miss(flow: float, coefficient: float = loss.at(setting)) -> float:
            speed = flow / area
            friction = friction_head(flow, length, inside_diameter=bore, viscosity=nu)
            fittings = (coefficient * speed + loss.laminar * nu / bore) * speed / (2.0 * GRAVITY)
            return friction + fittings - drop

        top = area
        while miss(top) < 0.0:
            top *= 2.0
        flows.append(root(miss, 0.0, top))
    return Band(
        low=flows[2], likely=flows[1], high=flows[0], note="running full, without air: not to be relied on"
    )


def drain_legs(
    pieces: Iterable[tuple[Sequence[tuple[float, float, float]], float, Loss, Loss]],
) -> tuple[DrainLeg, ...]:
    """Join pieces of pipe and fittings to straight legs, as long as they run one way.

    Parameters
    ----------
    pieces : in order from the intake: centre line (n, 3) [m], bore [m], loss on that bore, and that of a
        valve in it which is partly shut

    Returns
    -------
    Legs; a fitting's loss stands at the end of the leg that leads into it, on that leg's bore.
    """
    lines: list[tuple[tuple[float, float, float], ...]] = []
    facts: list[list[tuple[float, Loss, Loss]]] = []
    for points, bore, loss, valve in pieces:
        for number, (a, b) in enumerate((a, b) for a, b in pairwise(points) if math.dist(a, b) >= 1e-6):
            own = (bore, loss, valve) if number == 0 else (bore, NO_LOSS, NO_LOSS)
            if lines and _same_way(lines[-1][0], lines[-1][-1], b):
                lines[-1] = (*lines[-1], b)
                facts[-1].append(own)
            else:
                lines.append((a, b))
                facts.append([own])
    return tuple(_leg(line, own) for line, own in zip(lines, facts, strict=True))


def _leg(line: Sequence[tuple[float, float, float]], own: Sequence[tuple[float, Loss, Loss]]) -> DrainLeg:
    bore = min(bore for bore, _, _ in own)
    return DrainLeg(
        start=line[0],
        end=line[-1],
        bore=bore,
        length=sum(math.dist(a, b) for a, b in pairwise(line)),
        loss=total_loss(loss.on_bore(at, bore) for at, loss, _ in own),
        valve=total_loss(valve.on_bore(at, bore) for at, _, valve in own),
    )


def standing_level(
    legs: Sequence[DrainLeg],
    flow: float,
    setting: Setting,
    *,
    entry: Loss = NO_LOSS,
    below: float = -math.inf,
) -> float:
    """Level that water has to reach at the start of the first leg for ``flow`` to run away, z [m].

    Parameters
    ----------
    legs : from the intake to the outlet
    flow : [m³/s]
    setting : of what the drain carries: at 'low' the pipe is roughest and losses are largest
    entry : loss where the water gets in, on the first leg's bore
    below : level of the water over the outlet, z [m]; minus infinity for one in air

    Returns
    -------
    Depth and velocity head of open flow there; minus infinity where the first leg is an upright that takes it
    all down, infinity where a leg fills: from then on the drain runs full.
    """
    fills, level = _walk(legs, flow, setting, below, entry)
    open_to_air = zip(fills, _covered(legs, below), strict=True)
    return math.inf if any(fill >= 1.0 and not covered for fill, covered in open_to_air) else level


def open_limits(legs: Sequence[DrainLeg], *, depth: Band, below: float = -math.inf) -> tuple[DrainLimit, ...]:
    """Tell what each stretch of a drain carries open.

    Parameters
    ----------
    legs : from the intake to the outlet
    depth : depth over bore at which a leg still counts as open, [-], at most FULLEST
    below : level of the water over the outlet, z [m]; minus infinity for one in air

    Returns
    -------
    One limit for each upright; one for each row of legs between uprights, of open channel flow that fills its
    fullest leg to ``depth``, and no more than an upright of its bore; one for a valve in an upright that is
    partly shut, with water one bore deep over it; and where water shuts off the air, at the outlet or in a
    trap, that up to which it still gets back up.
    """
    covered = _covered(legs, below)
    limits: list[DrainLimit] = []
    for leg in legs:
        if leg.upright and leg.start[2] > below:
            limits.append(
                DrainLimit(words="upright, open", at=leg.start, to=leg.end, flow=stack_flow(leg.bore))
            )
            if leg.valve.high > 0.0:
                limits.append(_valve_limit(leg))
    limits += [_row_limit(legs, row, depth, below) for row in _rows(legs, covered)]
    if any(covered):
        wet = min((leg for leg, wet in zip(legs, covered, strict=True) if wet), key=lambda leg: leg.bore)
        flow = self_venting_flow(wet.bore)
        note = f"{flow.note}: faster, the water holds the air down; it gurgles and its flow swings"
        limits.append(
            DrainLimit(
                words="under water, air has to go back up",
                at=wet.start,
                to=wet.end,
                flow=replace(flow, note=note),
            )
        )
    return tuple(limits)


def _covered(legs: Sequence[DrainLeg], below: float) -> list[bool]:
    """Tell at which legs' ends standing water fills the bore: that over the outlet, or behind a rise."""
    found, level = [], below
    for number in reversed(range(len(legs))):
        leg = legs[number]
        found.append(level >= leg.crown(leg.end[2]))
        # at a turn between level and upright, water runs over the level side's edge
        if abs(leg.fall) < UPRIGHT:
            level = max(level, leg.floor(leg.end[2]), leg.floor(leg.start[2]))
        elif leg.fall < 0.0 and (number + 1 == len(legs) or legs[number + 1].upright):
            level = max(level, leg.end[2])
    return found[::-1]


def _rows(legs: Sequence[DrainLeg], covered: Sequence[bool]) -> list[list[int]]:
    """Return the legs between uprights that run part full, in rows."""
    rows: list[list[int]] = []
    for number, leg in enumerate(legs):
        if covered[number] or abs(leg.fall) >= UPRIGHT:
            continue
        if rows and rows[-1][-1] == number - 1:
            rows[-1].append(number)
        else:
            rows.append([number])
    return rows


def _row_limit(legs: Sequence[DrainLeg], row: Sequence[int], depth: Band, below: float) -> DrainLimit:
    bore = min(legs[number].bore for number in row)
    most = stack_flow(bore)
    flows: dict[Setting, float] = {}
    fullest = row[0]
    for setting in SETTINGS:
        share, top = depth.at(setting), most.at(setting)

        def deepest(flow: float, at: Setting = setting) -> tuple[float, int]:
            fills = _walk(legs, flow, at, below)[0]
            return max((fills[number], number) for number in row)

        if deepest(top)[0] <= share:
            flows[setting] = top
        elif deepest(LEAST * top)[0] >= share:
            flows[setting] = 0.0
        else:
            flows[setting] = root(lambda flow: deepest(flow)[0] - share, LEAST * top, top)  # noqa: B023 - at once
        if setting == "likely":
            fullest = deepest(flows[setting])[1]
    # half of an elbow leans half as far as the pipe beside it, which is told then
    near = 1 if legs[fullest].length < bore else 0
    leg = max((legs[number] for number in row if abs(number - fullest) <= near), key=lambda leg: leg.length)
    level = abs(leg.fall) <= LEVEL
    slope = f"leg that climbs {-leg.fall:.1%}" if leg.fall < 0.0 else f"slope of {leg.fall:.1%}"
    words = "level leg, part full" if level else f"{slope}, part full"
    note = f"{depth.note}, with air over the water to its free end; {MANNING.note}"
    low, likely, high = sorted(flows.values())
    return DrainLimit(
        words=words,
        at=legs[row[0]].start,
        to=legs[row[-1]].end,
        flow=Band(low=low, likely=likely, high=high, note=note),
    )


def _valve_limit(leg: DrainLeg) -> DrainLimit:
    """Return what a valve passes with water one bore deep over it: more, and it runs full behind it."""
    area = 0.25 * math.pi * leg.bore**2

    def passed(setting: Setting) -> float:
        return area * math.sqrt(2.0 * GRAVITY * leg.bore / (1.0 + leg.valve.at(OPPOSITE[setting])))

    flow = Band(
        **{setting: passed(setting) for setting in SETTINGS}, note="water one bore deep over the valve"
    )
    return DrainLimit(words="valve partly shut", at=leg.start, to=leg.end, flow=flow)


def _walk(
    legs: Sequence[DrainLeg], flow: float, setting: Setting, below: float, entry: Loss = NO_LOSS
) -> tuple[list[float], float]:
    """Follow the water upstream: depth over bore of each leg, and the level before the first, z [m]."""
    level, fills = below, [0.0] * len(legs)
    for number in reversed(range(len(legs))):
        leg, reach = legs[number], legs[number].reach(setting)
        before = legs[number - 1] if number else None
        loss = (entry if before is None else before.loss.on_bore(before.bore, leg.bore)).at(OPPOSITE[setting])
        if abs(leg.fall) >= UPRIGHT:
            level = _through_upright(leg, reach, flow, level, loss)
            fills[number] = 0.0 if level == -math.inf else 1.0
            continue
        floor = leg.floor(leg.end[2])
        end = depth_of_energy(leg.bore, flow, level - floor) if level > floor else 0.0
        fast = before is not None and before.upright and _drives(before, reach, flow, loss)
        water = backwater(reach, flow, end, fast=fast)
        fills[number] = water.most / leg.bore
        level = leg.floor(leg.start[2]) + water.energy + loss * (water.energy - water.start)
    return fills, level


def _through_upright(leg: DrainLeg, reach: Reach, flow: float, level: float, loss: float) -> float:
    """Return the level before an upright: none where what stands in it stays below its top."""
    if leg.fall > 0.0 and level <= leg.start[2]:
        return -math.inf
    speed = flow / (0.25 * math.pi * leg.bore**2)
    friction = (speed * reach.n) ** 2 * (4.0 / leg.bore) ** (4.0 / 3.0) * leg.length
    return float(max(level, leg.end[2]) + friction + loss * speed**2 / (2.0 * GRAVITY))


def _drives(fed: DrainLeg, reach: Reach, flow: float, loss: float) -> bool:
    """Tell whether an upright is high enough to send its water fast into the leg at its foot."""
    depth = normal_depth(reach, flow)
    if math.isinf(depth):
        return False
    whole = energy(reach.bore, flow, depth)
    return fed.start[2] - fed.end[2] >= whole + loss * (whole - depth)


def _same_way(
    a: tuple[float, float, float], b: tuple[float, float, float], c: tuple[float, float, float]
) -> bool:
    first = [q - p for p, q in zip(a, b, strict=True)]
    second = [q - p for p, q in zip(b, c, strict=True)]
    size = math.hypot(*first) * math.hypot(*second)
    return size == 0.0 or sum(p * q for p, q in zip(first, second, strict=True)) / size > 1.0 - 1e-6


def traps(points: Sequence[tuple[float, float, float]], bore: float) -> tuple[Trap, ...]:
    """Find where a drain's path rises on its way down, and so holds water and stops air.

    Parameters
    ----------
    points : (n, 3) centre line from the intake to the mouth, [m]
    bore : [m]

    Returns
    -------
    One Trap for each low point that a rise follows; ``depth`` is what stands over it, to the lower of its
    two sides. Empty where the path falls or runs level all the way.
    """
    above_zero(bore, "bore of the drain", "m")
    path = [(finite(x, "x", "m"), finite(y, "y", "m"), finite(z, "z", "m")) for x, y, z in points]
    heights = [z for _, _, z in path]
    found: list[Trap] = []
    first = 0
    while first < len(path) - 1:
        if heights[first + 1] >= heights[first]:
            first += 1
            continue
        low = first
        while low < len(path) - 1 and heights[low + 1] <= heights[low]:
            low += 1
        last = low
        while last < len(path) - 1 and heights[last + 1] >= heights[last]:
            last += 1
        depth = min(heights[first], heights[last]) - heights[low]
        if last > low and depth > LAYING:
            found.append(Trap(first=first, last=last, at=path[low], depth=depth, sealed=depth >= bore))
        first = last
    return tuple(found)
