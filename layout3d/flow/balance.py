"""Flows and heads at which every node of a network is in balance: the numerics behind ``flow.solve``.

Knows laws and numbers only, no pipes. Damped Newton on flows and heads together (the global gradient
method): after one step every node is in balance and stays so; what is left is to bring the head round every
loop to 0, which is the bottom of a convex bowl, so each step is cut back until it goes downhill. Pressure
recovery in drilled pipe is no part of that bowl: it is taken from the step before, and where that swings, all
is solved at once.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from copy import copy
from dataclasses import dataclass, field, replace

import numpy as np
from numpy.typing import NDArray

from layout3d.errors import NotSettled
from layout3d.flow.pipe import head_and_slope
from layout3d.flow.pump import Curve
from layout3d.units import GRAVITY

__all__ = ["SHUT_SLOPE", "TRACE_SLOPE", "TRICKLE", "Chain", "Floats", "Law", "Laws", "Places"]

HEAD_TOLERANCE = 1e-9  # [m], greatest miss of any link's law
FLOW_TOLERANCE = 1e-8  # of the largest flow, greatest change that one more step would make
TRICKLE = 1e-13  # [m³/s], 0.4 mm³/h: a change of flow that is nothing in any link
FLOW_ROUNDING = 1e-11  # [m³/s], what rounding of the heads makes of a link that loses next to nothing
STEPS = 400
COUPLED = (
    25  # steps after which recovery is no more taken from the step before, nor entrances: they may swing
)
NEAR = 40  # steps in which flows from nearby settle, if they do
FIRST_RECOVERY, LEAST_RECOVERY = 0.25, 0.001  # shares of the recovery that are added at a time
SHORTEST = (0.25, 2.0**-4, 2.0**-8)  # shares of a step that aren't cut further, one after the other
DENSE_NODES = 150  # up to here a dense solve is quicker than importing the sparse one

SHUT_SLOPE = 1e8  # [m/(m³/s)], what a one-way link sets against backward flow: 1 m drives 36 mL/h through it
SHORT = 1e-6  # [m], pipe up to here has no friction
TRACE_SLOPE = 1e-3  # [m/(m³/s)], 1e-6 m at 1 L/s, of a link that loses nothing: keeps it solvable
LEAST_SLOPE = 1e-6  # [m/(m³/s)] at rest, from which on a loss needs no such trace
ORDINARY_SPEED = 0.5  # [m/s], to start the search from
REST_SPEED = 1e-4  # [m/s], below which a square law goes over to a straight line: a head of 5e-10 m
OF_EACH = "bore", "length", "roughness", "square", "square_back", "linear", "rest", "entered", "one_way"

Floats = NDArray[np.float64]
Places = NDArray[np.intp]


@dataclass(frozen=True, slots=True, kw_only=True)
class Law:
    """Head that one link takes at a flow, strictly rising.

    A full pipe of ``bore``: friction over ``length``, ``coefficient`` times the velocity head (``back`` times
    it for water running back, where given) and ``laminar`` over the Reynolds number times it; or a pump,
    which takes minus its head. ``one_way`` sets a steep rise against backward flow, as a pump without a
    ``coefficient`` does; one with it holds its shut-off head against what is pushed back through its bore.
    """

    bore: float = 1.0
    length: float = 0.0
    roughness: float = 0.0
    coefficient: float = 0.0
    back: float | None = None
    laminar: float = 0.0
    one_way: bool = False
    curve: Curve | None = None


@dataclass(frozen=True, slots=True)
class Chain:
    """A drilled pipe in the network: its holes' links, and the links of pipe between them, (h,) and (h+1,).

    ``segments`` run along the pipe, the last is -1 where its end is capped. Head in the pipe is the recovered
    head, static head and ``recovery`` times the velocity head, which a hole leaves as it is. ``speed_head``
    times a flow squared is its velocity head, [m/(m³/s)²].
    """

    holes: Places
    segments: Places
    recovery: float
    speed_head: float

    @property
    def outer(self) -> Places:
        """The links of pipe at its ends: one, or two where its end is not capped."""
        return self.segments[[0, -1]] if self.segments[-1] >= 0 else self.segments[:1]

    def passing(self, flows: Floats) -> Floats:
        """Flow that goes on behind each hole, [m³/s]; none where two streams meet."""
        along = np.where(self.segments < 0, 0.0, flows[self.segments])
        before, after = along[:-1], along[1:]
        return np.maximum(0.0, np.maximum(np.minimum(before, after), np.minimum(-before, -after)))

    def speeds(self, flows: Floats) -> Floats:
        """Velocity head behind each hole that is no pressure on it, [m]."""
        back: Floats = self.recovery * self.speed_head * self.passing(flows) ** 2
        return back


class Laws:
    """Laws of all links (m,) from node to node, with the heads that are given, NaN where sought (n,) [m].

    ``chains`` are the drilled pipes; each hole's link ends at a node of its own whose given head is the
    hole's height.
    """

    def __init__(
        self,
        laws: Sequence[Law],
        starts: Sequence[int],
        ends: Sequence[int],
        fixed: Sequence[float],
        chains: Sequence[Chain],
        *,
        viscosity: float,
    ) -> None:
        def column(name: str) -> Floats:
            return np.array([getattr(law, name) for law in laws], dtype=np.float64)

        self.count = len(laws)
        self.start, self.end = np.array(starts, dtype=np.intp), np.array(ends, dtype=np.intp)
        self.fixed = np.array(fixed, dtype=np.float64)
        self.known = np.flatnonzero(~np.isnan(self.fixed))
        self.chains, self.viscosity = tuple(chains), viscosity
        self.bore, self.length, self.roughness = column("bore"), column("length"), column("roughness")
        self.area = 0.25 * math.pi * self.bore**2
        self.square = column("coefficient") / (2.0 * GRAVITY * self.area**2)
        self.entrance = np.zeros(self.count)
        self.entered = np.ones(self.count)  # the way that is inward, 1 or -1
        for chain in chains:
            self.entrance[chain.outer] = (1.0 - chain.recovery) * chain.speed_head
            self.entered[chain.outer[1:]] = -1.0
        back = [law.coefficient if law.back is None else law.back for law in laws]
        self.square_back = np.array(back, dtype=np.float64) / (2.0 * GRAVITY * self.area**2)
        # (K1/Re) V²/2g is straight in V: K1 nu V / (2 g D)
        self.linear = column("laminar") * viscosity / (2.0 * GRAVITY * self.bore * self.area)
        self.rest = REST_SPEED * self.area
        self.long = np.flatnonzero(self.length > SHORT)
        at_rest = np.minimum(self.square, self.square_back) * self.rest + self.linear
        self.linear += np.where((self.length > SHORT) | (at_rest > LEAST_SLOPE), 0.0, TRACE_SLOPE)
        self.one_way = np.array(
            [law.one_way or (law.curve is not None and not law.coefficient) for law in laws], dtype=bool
        )
        self.curves: Mapping[int, Curve] = {
            place: law.curve for place, law in enumerate(laws) if law.curve is not None
        }
        self.guess = ORDINARY_SPEED * self.area
        for place, curve in self.curves.items():
            self.guess[place] = 0.5 * curve.max_flow

    def only(self, live: Places) -> Laws:
        """Return the laws of some links alone, in their order, for ``lost``."""
        laws = copy(self)
        for name in OF_EACH:
            setattr(laws, name, getattr(self, name)[live])
        laws.long = np.flatnonzero(laws.length > SHORT)
        place_of = {place: spot for spot, place in enumerate(live.tolist())}
        laws.curves = {place_of[place]: curve for place, curve in self.curves.items() if place in place_of}
        return laws

    def lost(self, flows: Floats, entrance: Floats, *, relaxed: bool) -> tuple[Floats, Floats]:
        """Head lost in the links [m] and its slope [m/(m³/s)]; ``relaxed`` lets one-way links return."""
        size = np.abs(flows)
        head, slope = np.zeros(len(flows)), np.zeros(len(flows))
        if len(long := self.long):
            pipe = self.length[long], self.bore[long], self.roughness[long]
            head[long], slope[long] = head_and_slope(size[long], *pipe, self.viscosity)
        # a square law rounded off at rest, so that its slope there is not 0
        back = flows < 0.0
        square = np.where(back, self.square_back, self.square)
        square = square + np.where(flows * self.entered > 0.0, entrance, 0.0)
        reach = np.hypot(size, self.rest)
        head += square * size * reach + self.linear * size
        slope += square * (reach + size * size / reach) + self.linear
        head = np.where(back, -head, head)
        if not relaxed:
            against = self.one_way & back
            head = np.where(against, SHUT_SLOPE * flows, head)
            slope = np.where(against, SHUT_SLOPE, slope)
        for spot, curve in self.curves.items():
            if flows[spot] < 0.0 and not self.one_way[spot]:
                head[spot] -= curve.shut_off_head
            else:
                head[spot], slope[spot] = _pump(curve, float(flows[spot]))
        return head, slope

    def recovered(self, flows: Floats) -> tuple[Floats, Floats]:
        """Return the given heads with what passes the holes taken in (n,) [m], and what entrances lose (m,).

        The latter is the share of an entrance's loss that is left to each end of a drilled pipe: water that
        leaves by the other end takes its velocity head along.
        """
        fixed, share = self.fixed, self.entrance
        if self.chains:
            fixed, share = fixed.copy(), share.copy()
        for chain in self.chains:
            fixed[self.end[chain.holes]] += chain.speeds(flows)
            first, last = chain.segments[0], chain.segments[-1]
            into, out = (flows[first], flows[last]) if flows[first] > 0.0 else (-flows[last], -flows[first])
            if last >= 0 and into > 0.0 and out > 0.0:
                share[[first, last]] *= 1.0 - min(1.0, out / into) ** 2
        return fixed, share

    def balance(
        self, live: Places, *, first: Floats | None = None, relaxed: bool = False
    ) -> tuple[Floats, Floats]:
        """Solve for the steady state of the live links, every node of which must reach a given head.

        Returns
        -------
        Flows (m,), 0 in links that are not live, and heads (n,), NaN where none of the live comes.

        Raises
        ------
        NotSettled : the search did not settle.

        Sources
        -------
        Todini and Pilati 1988, A gradient algorithm for the analysis of pipe networks, in Computer
        Applications in Water Supply 1. The convex bowl: Collins et al. 1978, Management Science 24, 747-760.
        From memory.
        """
        start, end = self.start[live], self.end[live]
        touched = np.zeros(len(self.fixed), dtype=bool)
        touched[start] = touched[end] = True
        meets = _Meets(start, end, np.flatnonzero(touched & np.isnan(self.fixed)), len(self.fixed))
        flows = (self.guess if first is None else first)[live].astype(np.float64)
        whole, own = np.zeros(self.count), self.only(live)
        given, entrance = self.fixed, self.entrance
        in_balance, ahead = False, None
        for _ in range(COUPLED if self.chains and not relaxed else STEPS):
            whole[live] = flows
            # water drawn in by holes would gain speed without end
            newer, left = (self.fixed, self.entrance) if relaxed else self.recovered(whole)
            agreed = max(_largest((newer - given)[self.known]), _largest((left - entrance)[live] * flows**2))
            if ahead is None or not np.array_equal(left, entrance):
                ahead = own.lost(flows, left[live], relaxed=relaxed)
            given, entrance, (lost, slope) = newer, left, ahead
            heads = given.copy()
            heads[meets.free] = meets.heads(heads, flows, lost, slope)
            miss = heads[start] - heads[end] - lost
            move = miss / slope
            if in_balance and agreed <= HEAD_TOLERANCE and _met(miss, move, flows):
                whole[live] = meets.continuous(flows)
                return whole, heads
            cut, ahead = 1.0, None
            if in_balance:
                cut, ahead = own.share(flows, lost, move, meets.drop(given), entrance[live], relaxed)
            flows, in_balance = flows + cut * move, True
        if self.chains and not relaxed:
            attempts = self._all_at_once(live, meets, meets.continuous(flows), heads)
            found = next((attempt for attempt in attempts if attempt is not None), None)
            if found is not None:
                whole[live], heads = found
                return whole, heads
        raise NotSettled(
            f"the flow in the network did not settle in {STEPS} steps",
            remedy="look for a valve almost shut beside a wide open one, or simplify the network",
        )

    def _all_at_once(
        self, live: Places, meets: _Meets, flows: Floats, heads: Floats
    ) -> Iterator[tuple[Floats, Floats] | None]:
        """Try to solve recovery and entrances with all else, the quickest way first; None where one fails."""
        yield self._coupled(live, meets, flows, heads, SHORTEST[0], NEAR)
        yield self._bit_by_bit(live, meets)
        for shortest in SHORTEST:
            yield self._coupled(live, meets, flows, heads, shortest, STEPS)

    def _with_recovery(self, share: float) -> Laws:
        """Return the same laws with a share of the recovery behind each hole."""
        laws = copy(self)
        laws.chains = tuple(replace(chain, recovery=share * chain.recovery) for chain in self.chains)
        laws.entrance = np.zeros(self.count)
        for chain in laws.chains:
            laws.entrance[chain.outer] = (1.0 - chain.recovery) * chain.speed_head
        return laws

    def _bit_by_bit(self, live: Places, meets: _Meets) -> tuple[Floats, Floats] | None:
        """Let the recovery grow from none, where all is a bowl, each time from the flows before.

        Where holes take many times what the bore carries, flows far from balance lead nowhere.
        """
        if not any(chain.recovery for chain in self.chains):
            return None
        try:
            whole, heads = self._with_recovery(0.0).balance(live)
        except NotSettled:
            return None
        found, done, more = (whole[live], heads), 0.0, FIRST_RECOVERY
        while done < 1.0 and more >= LEAST_RECOVERY:
            share = min(1.0, done + more)
            laws = self if share == 1.0 else self._with_recovery(share)
            further = laws._coupled(live, meets, *found, SHORTEST[0], NEAR)
            if further is None:
                more *= 0.5
            else:
                found, done, more = further, share, 1.5 * more
        return found if done == 1.0 else None

    def _coupled(
        self, live: Places, meets: _Meets, flows: Floats, heads: Floats, shortest: float, steps: int
    ) -> tuple[Floats, Floats] | None:
        """Go on from flows in balance by Newton's steps on all at once, recovery and entrances included.

        Where the holes take all that comes, each hole's head hangs on every flow behind it, and what is taken
        from the step before grows along the pipe. None where that doesn't settle either.
        """
        whole, own = np.zeros(self.count), self.only(live)

        def missed(flows: Floats, heads: Floats) -> tuple[Floats, Floats, Floats]:
            whole[live] = flows
            given, entrance = self.recovered(whole)
            lost, slope = own.lost(flows, entrance[live], relaxed=False)
            known = np.where(meets.place < 0, given, heads)
            return known[meets.start] - known[meets.end] - lost, slope, known

        miss, slope, heads = missed(flows, heads)
        for _ in range(steps):
            whole[live] = flows
            move, rise = meets.step(miss, slope, self._couplings(whole, live))
            if _met(miss, move, flows):
                return meets.continuous(flows), heads
            share, size = 1.0, float(np.linalg.norm(miss / slope))
            while True:
                lifted = heads.copy()
                lifted[meets.free] += share * rise
                trial = missed(flows + share * move, lifted)
                if share <= shortest or np.linalg.norm(trial[0] / slope) < (1.0 - 1e-4 * share) * size:
                    break
                share *= 0.5
            flows, (miss, slope, heads) = flows + share * move, trial
        return None

    def _couplings(self, flows: Floats, live: Places) -> tuple[Places, Places, Floats]:
        """Rise of the head that one live link takes with the flow of another: links, others, [m/(m³/s)]."""
        found: list[tuple[int, int, float]] = []
        for chain in self.chains:
            along = np.where(chain.segments < 0, 0.0, flows[chain.segments])
            passing = chain.passing(flows)
            for spot in np.flatnonzero(passing > 0.0).tolist():
                less = spot + int(abs(along[spot + 1]) <= abs(along[spot]))
                rise = 2.0 * chain.recovery * chain.speed_head * along[less]
                found.append((int(chain.holes[spot]), int(chain.segments[less]), rise))
            first, last = int(chain.segments[0]), int(chain.segments[-1])
            if last >= 0:
                if along[0] <= 0.0:
                    first, last, along = last, first, -along[::-1]
                into, out = float(along[0]), float(along[-1])
                if into > out > 0.0:
                    found.append((first, last, -2.0 * self.entrance[first] * out))
                    found.append((first, first, 2.0 * self.entrance[first] * out**2 / into))
        place = np.full(self.count, -1, dtype=np.intp)
        place[live] = np.arange(len(live))
        kept = [
            (place[own], place[other], rise) for own, other, rise in found if place[own] >= 0 <= place[other]
        ]
        own, other, rises = zip(*kept, strict=True) if kept else ((), (), ())
        return np.array(own, dtype=np.intp), np.array(other, dtype=np.intp), np.array(rises, dtype=np.float64)

    def share(
        self, flows: Floats, lost: Floats, move: Floats, given: Floats, entrance: Floats, relaxed: bool
    ) -> tuple[float, tuple[Floats, Floats] | None]:
        """Share of the step to take, and what is ``lost`` after it, where it is known.

        All of the step, unless the bowl rises again before its end.
        """

        def rise(share: float) -> tuple[float, tuple[Floats, Floats]]:
            there = self.lost(flows + share * move, entrance, relaxed=relaxed)
            return float(move @ (there[0] - given)), there

        at_end, end = rise(1.0)
        if at_end <= 0.0:
            return 1.0, end
        at_start = float(move @ (lost - given))
        if at_start >= 0.0 or at_end <= -0.5 * at_start:
            return 1.0, end  # at the bottom but for rounding, or nearly level at the end
        low, high = 0.0, 1.0
        for _ in range(60):
            middle = 0.5 * (low + high)
            at_middle, there = rise(middle)
            if abs(at_middle) <= -0.5 * at_start:
                return middle, there
            low, high = (middle, high) if at_middle < 0.0 else (low, middle)
        return low or high, None


@dataclass(slots=True)
class _Meets:
    """Which links meet at which free nodes: the matrices of the search."""

    start: Places
    end: Places
    free: Places
    nodes: int
    place: Places = field(init=False)
    mine: tuple[Places, Places] = field(init=False)  # links that start, and that end, at a free node
    both: Places = field(init=False)  # those that do both
    at: tuple[Places, Places] = field(init=False)  # the free nodes there
    rows: Places = field(init=False)
    columns: Places = field(init=False)

    def __post_init__(self) -> None:
        self.place = np.full(self.nodes, -1, dtype=np.intp)
        self.place[self.free] = np.arange(len(self.free))
        ends = self.place[self.start], self.place[self.end]
        begin, finish = self.mine = np.flatnonzero(ends[0] >= 0), np.flatnonzero(ends[1] >= 0)
        both = self.both = np.flatnonzero((ends[0] >= 0) & (ends[1] >= 0))
        self.at = ends[0][begin], ends[1][finish]
        self.rows = np.concatenate([ends[0][begin], ends[0][both], ends[1][finish], ends[1][both]])
        self.columns = np.concatenate([ends[0][begin], ends[1][both], ends[1][finish], ends[0][both]])

    def drop(self, fixed: Floats) -> Floats:
        """Head that the given heads alone set over each link, [m]."""
        known = np.where(self.place < 0, fixed, 0.0)  # no link here comes to a node where it is not known
        drop: Floats = known[self.start] - known[self.end]
        return drop

    def heads(self, heads: Floats, flows: Floats, lost: Floats, slope: Floats) -> Floats:
        """Heads of the free nodes that bring every node into balance, with the laws as straight lines."""
        weight = 1.0 / slope
        carried = flows - weight * lost
        known = np.where(self.place < 0, heads, 0.0)
        starts, ends = weight * known[self.end] - carried, weight * known[self.start] + carried
        return self._at_free(weight, (0, starts), (1, ends))

    def _at_free(self, weight: Floats, *brought: tuple[int, Floats]) -> Floats:
        """Solve for a figure of each free node: links of a weight; what each brings to start (0) and end."""
        if len(self.free) == 0:
            return np.zeros(0)
        (begin, finish), both = self.mine, self.both
        values = np.concatenate([weight[begin], -weight[both], weight[finish], -weight[both]])
        at = np.concatenate([self.at[side] for side, _ in brought])
        right = np.concatenate([figures[self.mine[side]] for side, figures in brought])
        right = np.bincount(at, right, len(self.free)).astype(np.float64)
        return _solved(self.rows, self.columns, values, right)

    def step(
        self, miss: Floats, slope: Floats, couplings: tuple[Places, Places, Floats]
    ) -> tuple[Floats, Floats]:
        """Return changes of flows and free heads that make up each law's miss and keep nodes in balance."""
        links = np.arange(len(miss))
        own, other, rises = couplings
        rows, columns, values = [links, own], [links, other], [slope, rises]
        for ends, sign in ((self.start, 1.0), (self.end, -1.0)):
            mine = self.place[ends] >= 0
            at = len(links) + self.place[ends][mine]
            rows += [links[mine], at]
            columns += [at, links[mine]]
            values += [np.full(len(at), -sign), np.full(len(at), sign)]
        right = np.append(miss, np.zeros(len(self.free)))
        found = _solved(np.concatenate(rows), np.concatenate(columns), np.concatenate(values), right)
        return found[: len(links)], found[len(links) :]

    def continuous(self, flows: Floats) -> Floats:
        """Return the nearest flows that leave nothing over at any free node: without rounding."""
        if len(self.free) == 0:
            return flows
        # every free node hangs on a given head, so the matrix is not singular
        at_nodes = np.append(self._at_free(np.ones(len(flows)), (1, flows), (0, -flows)), 0.0)
        nearest: Floats = flows - (at_nodes[self.place[self.end]] - at_nodes[self.place[self.start]])
        return nearest


def _solved(rows: Places, columns: Places, values: Floats, right: Floats) -> Floats:
    count = len(right)
    if count <= DENSE_NODES:
        matrix = np.bincount(rows * count + columns, values, count * count).reshape(count, count)
        dense: Floats = np.linalg.solve(matrix, right).astype(np.float64)
        return dense
    from scipy.sparse import csc_array
    from scipy.sparse.linalg import spsolve

    sparse: Floats = spsolve(csc_array((values, (rows, columns)), shape=(count, count)), right)
    return sparse


def _met(miss: Floats, move: Floats, flows: Floats) -> bool:
    """Tell whether every law is met and one more step would change nothing."""
    settled = _largest(move) <= FLOW_TOLERANCE * _largest(flows) + FLOW_ROUNDING
    # through a shut link even a trickle too small to count makes a miss
    return settled and bool(np.all((np.abs(miss) <= HEAD_TOLERANCE) | (np.abs(move) <= TRICKLE)))


def _largest(values: Floats) -> float:
    return float(np.max(np.abs(values), initial=0.0))


def _pump(curve: Curve, flow: float) -> tuple[float, float]:
    """Return minus the head a running pump gives, and slope; a wall beyond its curve, refused later."""
    if flow < 0.0:
        return -curve.shut_off_head + SHUT_SLOPE * flow, SHUT_SLOPE
    if flow > curve.max_flow:
        return -curve.heads[-1] + SHUT_SLOPE * (flow - curve.max_flow), SHUT_SLOPE
    head, slope = curve.head_and_slope(flow)
    return -head + TRACE_SLOPE * flow, -slope + TRACE_SLOPE
