"""The order of building: found by taking the finished tank apart, in thought, and read backwards.

Of what may come out next, what a builder puts in last comes first. Something may come out where nothing
that stays needs it, where a way leads out past all that stays, and, of a bulkhead, where a hand gets to both
of its ends. Taking something away never bars another's way: an order is found wherever there is one by such
ways. Rock and wood go by straight legs and turns past the exact meshes (``shop.hardscape_in``), all else by
straight pulls (``shop.pulls``); rigid pipe may be turned once it is out of its place, and so may slabs that
pass the tank's opening, while nothing loose stands in the tank.
"""

from __future__ import annotations

import itertools
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace

import numpy as np

from layout3d.errors import UnknownName, nearest
from layout3d.keep import code_of, kept, key_of
from layout3d.model.model import Model
from layout3d.parts.base import Body, Port
from layout3d.shop.access import hand_reaches
from layout3d.shop.fault import Fault
from layout3d.shop.hardscape_in import HardscapeWays, way_words
from layout3d.shop.opening import passes
from layout3d.shop.pulls import Pull, Pulls, pulls_of
from layout3d.shop.service import ways_out
from layout3d.shop.step import ORDER, BuildOrder, Step, longest
from layout3d.shop.task import SOFT, Task, words_of_steps
from layout3d.shop.tasks import tasks
from layout3d.units import show

__all__ = ["build_order"]

UP, DOWN, FRONT, BACK, LEFT, RIGHT = (2, 1), (2, -1), (1, -1), (1, 1), (0, -1), (0, 1)
ALL = (UP, FRONT, BACK, LEFT, RIGHT, DOWN)
OUT = (UP, FRONT, BACK, LEFT, RIGHT)
"""Ways that lead out of the scene; the floor is below."""
LOOSE = ("rock", "wood", "equipment")
"""Groups that leave no room in the tank to turn a slab."""
ROD = 0.06  # what is no wider is turned as easily as pipe: a heater, [m]
SHORT = 0.08  # so far out of its place a piece is free to be turned, [m]
_TURNED = tuple(Pull(way, reach=SHORT) for way in ALL)


def build_order(model: Model) -> BuildOrder:
    """Return the order of building a model.

    Raises
    ------
    UnknownName : ``shop: order:`` or ``shop: in_place:`` names something that no step puts in.
    """
    scene = model.scene
    key = key_of(
        "order of building",
        code_of(),
        *(model.bodies, model.ports, model.joins, model.keep_clear, model.spaces, model.tank_name),
        *((built.part, built.data) for built in model.built.values()),
        *(scene.waterline, scene.units, scene.style, scene.conditions, scene.shop, scene.catalog),
    )
    found: BuildOrder = kept(key, ORDER, lambda: _found(model))
    return found


def _found(model: Model) -> BuildOrder:
    """Return the order, computed."""
    made = _pinned(model, tasks(model))
    standing = {key: task for key, task in made.items() if _stands(model, task)}
    made = {key: task for key, task in made.items() if key not in standing}
    made = {key: replace(task, after=task.after - standing.keys()) for key, task in made.items()}
    found = _Apart(model, made, standing)
    found.put_off()
    found.take()
    order = found.taken[::-1]
    pulled = {name: pull for ways in found.ways.values() for name, pull in ways.items()}
    turned = tuple(
        sorted(n for n, pull in pulled.items() if pull.reach < np.inf and model.body(n).group != "plumbing")
    )
    return BuildOrder(
        steps=_steps(order, found, turned),
        never_again=tuple(dict.fromkeys(b for task in (*standing.values(), *order) for b in task.hides)),
        no_way_out=tuple(dict.fromkeys(out.part for out in ways_out(model) if out.way is None)),
        turned=turned,
        faults=tuple(found.faults),
    )


def _stands(model: Model, task: Task) -> bool:
    """Tell whether the scene says that what a task puts in is in place already."""
    names = set(model.scene.shop.in_place)
    glass = model.tank_name in names and task.label in ("drill", "temper", "bond")
    return glass or bool(task.parts and set(task.parts) <= names and task.label not in ("dry", "plant"))


def _pinned(model: Model, made: dict[str, Task]) -> dict[str, Task]:
    """Return the tasks with what the scene says goes before what."""
    shop = model.scene.shop
    known = {
        part: [k for k, task in made.items() if task.parts == (part,)]
        for key in made
        for part in made[key].parts
    }

    def keys(name: str, path: str) -> list[str]:
        if not known.get(name):
            raise UnknownName(
                f"no step puts in {name!r}",
                expected=nearest(name, [part for part in known if known[part]]),
                path=path,
                place=model.scene.place_of(path),
            )
        return known[name]

    for number, name in enumerate(shop.in_place, start=1):
        keys(name, f"shop.in_place[{number}]")
    for number, pair in enumerate(shop.order, start=1):
        path = f"shop.order[{number}]"
        first = keys(pair.first, f"{path}.first")
        said = f"{pair.then} after {pair.first}, by the scene" + (f": {pair.why}" if pair.why else "")
        for key in keys(pair.then, f"{path}.then"):
            task = made[key]
            made[key] = replace(task, after=task.after | set(first) - {key}, why=said)
    return made


class _Apart:
    """Takes the finished tank apart."""

    def __init__(self, model: Model, made: Mapping[str, Task], standing: Mapping[str, Task]) -> None:
        self.model = model
        self.left = dict(made)
        self.standing = standing
        self.pulls = Pulls(body for body in model.bodies if body.kind not in SOFT)
        self.taken: list[Task] = []
        self.ways: dict[str, dict[str, Pull]] = {}
        self.faults: list[Fault] = []
        phases = list(words_of_steps())
        self.rank = {key: (phases.index(task.label), place) for place, (key, task) in enumerate(made.items())}
        self.hardscape = HardscapeWays(model)
        self.openings = self.hardscape.openings
        self._through: dict[str, bool] = {}
        self._fixed = {model.tank_name, *(built.part.name for built in model.of_kind("stand"))}

    def put_off(self) -> None:
        """Put off pumps and open pipes that bar a slab's way; what it hides is wet-tested by a hose then."""
        for slab in [task for task in self.left.values() if task.label == "background"]:
            before = self._closure(slab.key, without=("wet",))
            there = self._solids(before)
            if self._comes_in(slab, there) is None:
                continue
            for key, task in list(self.left.items()):
                if task.label not in ("pump", "cement", "tube") or key in before:
                    continue
                if self._comes_in(slab, [*there, *task.solids]) is None:
                    self.left[key] = replace(task, after=task.after | {slab.key})
            wet = self.left.get("wet")
            later = [
                key for key in (wet.after if wet else ()) if slab.key in self._closure(key, without=("wet",))
            ]
            if wet and later:
                names = _and(
                    name
                    for key in sorted(later, key=lambda key: self.rank[key])
                    for name in self.left[key].named
                )
                said = f"not there yet: {names}; feed what they feed by a hose"
                self.left["wet"] = replace(wet, after=wet.after - set(later), tests=(*wet.tests, said))

    def take(self) -> None:
        """Take everything, the last first; what can't be taken is a fault, and is taken all the same."""
        while self.left:
            free = self.left.keys() - {key for task in self.left.values() for key in task.after}
            ranked = sorted(free, key=lambda key: self.rank[key], reverse=True)
            for turned, key in itertools.product((False, True), ranked):
                present = self._solids(k for k in self.left if k != key)
                ways = self._comes_in(self.left[key], present, turned=turned)
                if ways is not None:
                    self.ways[key] = ways
                    break
            else:
                key = self._stuck(ranked)
            self.taken.append(self.left.pop(key))

    def bars(self, later: Task, first: Task, before: Iterable[Task]) -> bool:
        """Tell whether something that is put in later would bar the way of what went in first."""
        if not later.solids or not (first.moves or first.ports):
            return False
        if first.label == "hardscape":
            return any(
                self.hardscape.bars(name, self._others(first, name, later.solids)) for name in first.moves
            )
        there = [name for task in (*self.standing.values(), *before) for name in task.solids]
        return (
            self._comes_in(first, there) is not None
            and self._comes_in(first, [*there, *later.solids]) is None
        )

    def _stuck(self, free: Sequence[str]) -> str:
        """Return what is told, and taken nevertheless: first what has no way even past what it needs."""
        if not free:
            key = max(self.left, key=lambda key: self.rank[key])
            self.faults.append(self._circle(key))
            return key
        for key in free:
            least = self._solids(self._closure(key))
            if self._comes_in(self.left[key], least) is None:
                self.faults.append(self._barred(self.left[key], least))
                return key
        there = self._solids(key for key in self.left if key != free[0])
        self.faults.append(self._barred(self.left[free[0]], there))
        return free[0]

    def _closure(self, key: str, *, without: Sequence[str] = ()) -> set[str]:
        """Return what has to be done before a task, and before that, and so on."""
        found: set[str] = set()
        waiting = [key]
        while waiting:
            for before in self.left[waiting.pop()].after:
                if before in self.left and before not in found and before not in without:
                    found.add(before)
                    waiting.append(before)
        return found

    def _solids(self, keys: Iterable[str]) -> list[str]:
        """Return the bodies that are there once these tasks are done."""
        done = [*self.standing.values(), *(self.left[key] for key in sorted(keys, key=self.rank.__getitem__))]
        return [name for task in done for name in task.solids]

    def _comes_in(self, task: Task, present: Sequence[str], *, turned: bool = True) -> dict[str, Pull] | None:
        """Return the ways in of a task's bodies past those present; None where one, or a hand, has none.

        Rock and wood are turned on their way only if asked for: that takes longest to find.
        """
        ways = {}
        for name in task.moves:
            pull = self._way(task, name, present, turned=turned)
            if pull is None:
                return None
            ways[name] = pull
        solids = [self.pulls.bodies[name].solid for name in present]
        return ways if all(hand_reaches(port, solids) for port in task.ports) else None

    def _way(self, task: Task, name: str, present: Sequence[str], *, turned: bool = True) -> Pull | None:
        others = self._others(task, name, present)
        if task.label == "hardscape":
            way = self.hardscape.way(name, others, turned=turned)
            if way is None:
                return None
            told = way_words(way, style=self.model.scene.style)
            return Pull(UP, reach=SHORT if way.turned else np.inf, told=told)
        found = self.pulls.way_out(name, others, self._pulls(task))
        if found is not None:
            return found
        rod = float(np.sort(np.ptp(self.pulls.bodies[name].solid.bounds, axis=0))[1]) <= ROD
        if task.label in ("cement", "tube") or (task.label == "equipment" and rod):
            return self.pulls.way_out(name, others, _TURNED)
        in_tank = [self.pulls.bodies[other] for other in present]
        loose = any(body.group in LOOSE and body.where == "tank" for body in in_tank)
        if task.label == "background" and not loose:
            return self.pulls.way_out(name, others, _TURNED) if self._passes(name) else None
        return None

    def _pulls(self, task: Task) -> list[Pull]:
        if task.label != "bulkhead":
            return pulls_of(ALL, OUT)
        hole = self.model.tank.holes[task.key]
        inward = np.array(self.model.tank.panels[hole.panel].facing)
        way = inward if hole.flange == "inside" else -inward
        axis = int(np.abs(way).argmax())
        first = (axis, 1 if way[axis] > 0 else -1)
        return [
            Pull(first),
            *(Pull(out, first, 0.12) for out in OUT if out[0] != axis),
            Pull(first, reach=SHORT),
        ]

    def _others(self, task: Task, name: str, present: Sequence[str]) -> list[str]:
        """Return the bodies that may bar a body's way: not those that it is pushed or screwed into."""
        body = self.pulls.bodies[name]
        joined = {
            other
            for join in self.model.joins
            if join.how in ("socket", "barb", "hole", "embedded") and {name, body.part} & {join.a, join.b}
            for other in (join.a, join.b)
            if join.how != "embedded" or task.label == "background"
        }
        bulkhead = task.label == "bulkhead"
        return [
            other
            for other in present
            if other not in joined
            and self.pulls.bodies[other].part not in joined - {body.part}
            and (other != name if bulkhead else self.pulls.bodies[other].part != body.part)
        ]

    def _passes(self, name: str) -> bool:
        found = self._through.get(name)
        if found is None:
            solid = self.pulls.bodies[name].solid
            found = self._through[name] = any(passes(solid, opening) for opening in self.openings)
        return found

    # -- what is told where there is no order ---------------------------------------------------------

    def _barred(self, task: Task, present: Sequence[str]) -> Fault:
        """Say what bars the way of a task past what is there."""
        said: list[str] = []
        parts = [*task.parts]
        for name in task.moves:
            if self._way(task, name, present) is not None:
                continue
            if task.label == "background" and not self._passes(name):
                said.append(
                    f"{name} is too large for the tank's opening ({self._room()}), however it is turned"
                )
                parts.append(self.model.tank_name)
                continue
            others = self._others(task, name, present)
            barred = [self.pulls.in_the_way(name, pull, others) for pull in self._pulls(task)[: len(OUT)]]
            owners = [list(dict.fromkeys(self._owner(other) for other in found)) for found in barred if found]
            # of each way what might be moved; glass and stand alone bar those that nobody would try
            movable = [[part for part in found if part not in self._fixed] for found in owners]
            least = min([found for found in movable if found] or owners, key=len, default=[])
            parts += least
            said.append(f"{name} has no way in past {_and(least) or 'what stands there'}")
        solids = [self.pulls.bodies[name].solid for name in present]
        for port in task.ports:
            if not hand_reaches(port, solids):
                owner = self._closing(port, present)
                parts += [owner] if owner else []
                side = port.name.removeprefix(f"{self.model.tank_name}.")
                said.append(f"no hand gets to {side} past {owner or 'what stands there'}")
        return Fault(
            parts=tuple(dict.fromkeys(parts)),
            message=f"no order of work puts in {', '.join(task.named)}: {'; '.join(said)}",
            remedy=words_of_steps()[task.label].get("remedy", "move one of them, or lead it another way"),
        )

    def _room(self) -> str:
        sides = [np.sort(np.ptp(opening, axis=0))[::-1] for opening in self.openings]
        length, width = max(sides, key=lambda room: float(np.prod(room)), default=np.zeros(2))
        style = self.model.scene.style
        return " x ".join(show(float(side), "length", system=style) for side in (length, width))

    def _closing(self, port: Port, present: Sequence[str]) -> str:
        """Return the part without which a hand would get to a port; '' where it isn't one alone."""
        solids = {name: self.pulls.bodies[name] for name in present}
        for part in dict.fromkeys(body.part for body in solids.values() if body.group != "glass"):
            if hand_reaches(port, [body.solid for body in solids.values() if body.part != part]):
                return part
        return ""

    def _owner(self, name: str) -> str:
        body: Body = self.pulls.bodies[name]
        return name.removeprefix(f"{self.model.tank_name}.") if body.kind == "bulkhead" else body.part

    def _circle(self, key: str) -> Fault:
        """Say which tasks need each other in a circle."""
        chain = [key]
        while chain[-1] not in chain[:-1]:  # each is needed by another, or it would be free
            needing = [other for other, task in self.left.items() if chain[-1] in task.after]
            chain.append(min(needing, key=lambda other: self.rank[other]))
        chain = chain[chain.index(chain[-1]) :][::-1]
        reasons = dict.fromkeys(self.left[k].why for k in chain if self.left[k].why)
        told = f" ({'; '.join(reasons)})" if reasons else ""
        called = [words_of_steps().get(k, {}).get("called", k) for k in chain]
        return Fault(
            parts=tuple(dict.fromkeys(part for k in chain for part in self.left[k].parts)),
            message=f"no order of work: {' needs '.join(called)}{told}",
            remedy="take a pair out of `shop: order:`, or build one of them in another way",
        )


def _and(names: Iterable[str]) -> str:
    *rest, last = [*dict.fromkeys(names)] or [""]
    return f"{', '.join(rest)} and {last}" if rest else last


def _odd(task: Task, pull: Pull) -> bool:
    """Tell whether something that is no plumbing goes in by another way than from above."""
    return (
        task.label not in ("cement", "tube", "bulkhead")
        and pull.reach == np.inf
        and pull.words != Pull(UP).words
    )


def _steps(order: Sequence[Task], found: _Apart, turned: Sequence[str]) -> tuple[Step, ...]:
    """Return the steps: tasks of one label that follow each other are one."""
    groups: list[list[Task]] = []
    for task in order:
        if groups and groups[-1][-1].label == task.label:
            groups[-1].append(task)
        else:
            groups.append([task])
    number = {task.key: place for place, group in enumerate(groups, start=1) for task in group}
    steps, told = list[Step](), words_of_steps()
    for place, group in enumerate(groups, start=1):
        parts = tuple(dict.fromkeys(part for task in group for part in task.parts))
        asked = {number[key] for task in group for key in task.after if number.get(key, place) < place}
        for n in range(place - 1, 0, -1):  # what would not come in any more, were this there already
            if n not in asked | _all_needs(asked, steps) and _barred_by(group, groups, n, found):
                asked.add(n)
        needs = _nearest(asked, steps)
        begin = max((steps[n - 1].earliest + longest(steps[n - 1].waits) for n in needs), default=0.0)
        waits = {wait.why: wait for task in group if (wait := task.wait) is not None}
        reasons = [task.why for task in group if task.why]
        pulled = {body: pull for task in group for body, pull in found.ways.get(task.key, {}).items()}
        tests = [test for task in group for test in task.tests]
        named, words = dict.fromkeys(name for task in group for name in task.named), told[group[0].label]
        steps.append(
            Step(
                number=place,
                label=group[0].label,
                does=words["does"].format(parts=", ".join(named)),
                tools=words.get("tools", ""),
                parts=parts,
                needs=tuple(needs),
                waits=tuple(waits.values()),
                tests=tuple(dict.fromkeys(filter(None, (words.get("test"), *tests, *reasons)))),
                hides=tuple(dict.fromkeys(body for task in group for body in task.hides)),
                pulls=pulled,
                solids=tuple(name for task in group for name in task.solids),
                earliest=begin,
                big=frozenset(body for body in pulled if body in turned),
                odd=frozenset(body for body, pull in pulled.items() if _odd(group[0], pull)),
            )
        )
    return tuple(steps)


def _barred_by(group: Sequence[Task], groups: Sequence[Sequence[Task]], n: int, found: _Apart) -> bool:
    """Tell whether something of a group would bar the way of something of the earlier group n, from 1."""
    before = [task for each in groups[: n - 1] for task in each]
    return any(
        found.bars(later, first, [*before, *groups[n - 1][:place]])
        for place, first in enumerate(groups[n - 1])
        for later in group
    )


def _all_needs(needs: Iterable[int], steps: Sequence[Step]) -> set[int]:
    """Return all that these steps need, and what that needs, and so on."""
    further: set[int] = set()
    waiting = [*needs]
    while waiting:
        before = set(steps[waiting.pop() - 1].needs) - further
        further |= before
        waiting += before
    return further


def _nearest(needs: set[int], steps: Sequence[Step]) -> list[int]:
    """Return the needed steps without those that another of them needs anyway."""
    return sorted(needs - _all_needs(needs, steps))
