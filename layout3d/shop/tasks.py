"""The tasks of building a model, each with what has to be done before it; not yet in an order.

What a task needs follows from the trade (holes before bonding, dry fit before cement, a wet test before
anything is hidden) and from the scene (what stands on, starts from or is fixed to what). Which part bars the
way of which is not looked at here.
"""

from __future__ import annotations

import itertools
from collections.abc import Iterator, Sequence
from dataclasses import replace

import numpy as np

from layout3d.catalog import Pipe
from layout3d.fittings.registry import comes_apart
from layout3d.model.model import Model
from layout3d.parts.background import Background
from layout3d.parts.base import Built, Part
from layout3d.parts.run import Run
from layout3d.parts.run_data import Element, RunData
from layout3d.shop.access import hidden_by
from layout3d.shop.beds import ON_FLOOR, sunk_in
from layout3d.shop.consumables import cement_joints
from layout3d.shop.task import SOFT, Task, lifting
from layout3d.shop.waiting import Wait, cement_wait, foam_wait, rule_wait, silicone_wait
from layout3d.units import show

__all__ = ["tasks"]

TOUCH = 0.004  # parts nearer than this carry each other, [m]


def tasks(model: Model) -> dict[str, Task]:
    """Return the tasks by key: a part's own is its name, a hole's its bulkhead's."""
    made = {task.key: task for task in _Tasks(model).all()}
    return {key: replace(task, after=task.after & made.keys() - {key}) for key, task in made.items()}


class _Tasks:
    """Makes the tasks of one model."""

    def __init__(self, model: Model) -> None:
        self.model = model
        self.scene = model.scene
        self.tank = model.built[model.tank_name]
        self.runs = [built for built in model.runs if built.data.elements]
        self.hides = {built.part.name: hidden_by(model, built) for built in model.backgrounds}
        self.stretches = {built.part.name: self._stretches(built) for built in self.runs}

    def all(self) -> Iterator[Task]:
        yield from self._glass()
        yield from self._sumps()
        yield from self._bulkheads()
        yield from self._plumbing()
        yield from self._backgrounds()
        yield from self._beds_and_hardscape()
        yield from self._equipment()
        yield from self._last()

    # -- glass ------------------------------------------------------------------------------------------

    def _glass(self) -> Iterator[Task]:
        built, data = self.tank, self.model.tank
        drilled = [name for name in data.panels if any(h.panel == name for h in data.holes.values())]
        tempered = [name for name in drilled if data.panels[name].tempered]
        whole = self.scene.shop.tank == "whole"
        for stand in self.model.of_kind("stand"):
            yield self._put(stand, "stand")
        if not whole:
            if drilled:
                yield Task(
                    label="drill",
                    parts=tuple(f"{built.part.name}.{name}" for name in drilled),
                )
            if tempered:
                yield Task(
                    label="temper",
                    parts=tuple(f"{built.part.name}.{name}" for name in tempered),
                    after=frozenset({"drill"}),
                )
            depth = max(wall.thickness for wall in data.panels.values())
            glass = {body.material for body in built.bodies if body.kind == "panel"} == {"glass"}
            unknown = Wait(time=None, why="the glue of the panes", source="not glass: ask the glue's maker")
            yield Task(
                label="bond",
                parts=(built.part.name,),
                after=frozenset({"drill", "temper"}),
                wait=silicone_wait(depth) if glass else unknown,
                tests=(f"not moved for {_told(rule_wait('silicone_move', 'silicone'))}",) if glass else (),
            )
        yield Task(
            key=built.part.name,
            label="tank",
            parts=(built.part.name,),
            solids=tuple(body.name for body in built.bodies if body.kind in ("panel", "brace", "rim")),
            after=frozenset({"bond", *(stand.part.name for stand in self.model.of_kind("stand"))}),
        )

    def _sumps(self) -> Iterator[Task]:
        for built in self.model.sumps:
            sump = built.part
            depth = max([sump.glass, *(c.baffle.thickness for c in sump.compartments if c.baffle)])
            glass = sump.material == "glass"
            unknown = Wait(time=None, why=f"the glue of {sump.name}", source="ask the glue's maker")
            yield Task(
                key=f"bond {sump.name}",
                label="bond_sump",
                parts=(sump.name,),
                wait=silicone_wait(depth) if glass else unknown,
            )
            solids = tuple(b.name for b in built.bodies if b.kind in ("panel", "baffle"))
            yield Task(
                key=sump.name,
                label="sump",
                parts=(sump.name,),
                moves=(f"{sump.name}.box",),
                solids=solids,
                after=frozenset({f"bond {sump.name}", *_fixed(sump), *self._stands()}),
            )
            if any(body.kind == "media" for body in built.bodies):
                yield Task(
                    key=f"media of {sump.name}",
                    label="media",
                    parts=(sump.name,),
                    after=frozenset({sump.name, "wet"}),
                )

    def _stands(self) -> list[str]:
        return [built.part.name for built in self.model.of_kind("stand")]

    def _bulkheads(self) -> Iterator[Task]:
        tank, data = self.tank.part.name, self.model.tank
        standing = tank in self.scene.shop.in_place
        for hole in data.holes.values():
            if hole.bulkhead:
                ports = tuple(
                    self.model.ports[f"{tank}.{hole.name}.{side}"] for side in ("inside", "outside")
                )
                yield Task(
                    key=hole.name,
                    label="bulkhead",
                    parts=(hole.name,),
                    moves=(f"{tank}.{hole.name}",),
                    solids=(f"{tank}.{hole.name}",),
                    after=frozenset({tank}),
                    ports=ports,
                    tests=("its hole is drilled: the tank stands already",) if standing else (),
                )
        for built in self.model.overflow_boxes:
            glass = built.part.material == "glass"
            unknown = Wait(time=None, why=f"the glue of {built.part.name}", source="ask the glue's maker")
            yield self._put(
                built,
                "box",
                after={tank, *built.data.holes},
                wait=silicone_wait(built.part.glass) if glass else unknown,
            )
        boxes = [built.part.name for built in self.model.overflow_boxes]
        yield Task(
            label="leak",
            after=frozenset({tank, *data.holes, *boxes}),
            said=("close the bulkheads, " if data.holes else "") + "fill a quarter, look, then fill by steps",
            wait=rule_wait("leak_test", "the bare tank stands full"),
        )

    # -- plumbing ---------------------------------------------------------------------------------------

    def _plumbing(self) -> Iterator[Task]:
        starts = {built.data.start_port.split(".")[0] for built in self.runs if built.data.start_port}
        starts |= {built.data.end_port.split(".")[0] for built in self.runs if built.data.end_port}
        pumps = [built for built in self.model.pumps if built.part.name in starts]
        sumps = {built.part.name for built in self.model.sumps}
        for pump in pumps:
            height = float(pump.bodies[0].solid.bounds[0, 2])
            held = pump.bodies[0].where == "tank" and height > ON_FLOOR and not pump.part.fixed_to
            block = show(height, "length", system=self.scene.style)
            tests = (f"on a block {block} high until the bed carries it",) if held else ()
            yield self._put(pump, "pump", after={self.tank.part.name, "leak", *sumps}, tests=tests)
        rigid = [built for built in self.runs if not built.data.flexible]
        fixed = {"leak", *sumps}
        if rigid:
            yield Task(
                label="dry",
                parts=tuple(built.part.name for built in rigid),
                after=frozenset(fixed),
            )
        pipes: dict[str, list[Pipe]] = {}
        for join, pipe in cement_joints(self.model):
            for name in (join.a, join.b):
                pipes.setdefault(name.split(".")[0], []).append(pipe)
        for built in self.runs:
            yield from self._run(built, pipes.get(built.part.name, []), fixed)
        if self.runs:
            dripping = any(element.holes for built in self.runs for element in built.data.elements)
            hidden = any(self.hides.values())
            yield Task(
                label="wet",
                after=frozenset(
                    {
                        *(key for keys in self.stretches.values() for key in keys),
                        *(p.part.name for p in pumps),
                    }
                ),
                wait=rule_wait("wet_test", "the pipework runs"),
                tests=(
                    *(["each drip hole runs"] if dripping else []),
                    *(["what will be hidden is looked at twice"] if hidden else []),
                    "with the pump off nothing siphons",
                ),
            )

    def _run(self, built: Built[Run, RunData], pipes: list[Pipe], fixed: set[str]) -> Iterator[Task]:
        """Yield the tasks of a run: one, or one for each stretch that another background hides."""
        data, name = built.data, built.part.name
        widest = max(pipes, key=lambda pipe: pipe.outside_diameter, default=None)
        start = data.start_port.split(".")[0]
        still: tuple[str, ...] = ()
        if widest is not None:
            still = (f"not moved for {_told(cement_wait(widest, self.scene.conditions, set_only=True))}",)
        for key, elements in self.stretches[name].items():
            bodies = tuple(element.body for element in elements)
            behind = key.removeprefix(f"{name} behind ") if key != name else ""
            first, last = (body.removeprefix(f"{name}.") for body in (bodies[0], bodies[-1]))
            part = (
                ""
                if len(self.stretches[name]) == 1
                else f" ({first} to {last})"
                if first != last
                else f" ({first})"
            )
            after = {*fixed, *([] if data.flexible else ["dry"])}
            if data.elements[0] in elements:
                after |= {start, *self.stretches.get(start, ())}
            yield Task(
                key=key,
                label="tube" if data.flexible else "cement",
                parts=(name,),
                moves=bodies,
                solids=bodies,
                after=frozenset(after),
                wait=self._cure(data, widest),
                tests=(*_joint_tests(data, closes=data.elements[-1].body in bodies), *still),
                said=f"{name}{f' behind {behind}' if behind else ''}{part}",
            )

    def _cure(self, data: RunData, widest: Pipe | None) -> Wait | None:
        if widest is not None:
            return cement_wait(widest, self.scene.conditions)
        if data.flexible or data.material == "pvc":
            return None
        return Wait(
            time=None, why=f"joints of {data.material}", source="no cement of PVC-U holds it: ask its maker"
        )

    def _stretches(self, built: Built[Run, RunData]) -> dict[str, list[Element]]:
        """Return a run's elements by the task that lays them: those that a background hides apart."""
        name = built.part.name
        found: dict[str, list[Element]] = {}
        for element in built.data.elements:
            behind = next((b for b, bodies in self.hides.items() if element.body in bodies), "")
            found.setdefault(f"{name} behind {behind}" if behind else name, []).append(element)
        return {name: next(iter(found.values()))} if len(found) == 1 else found

    # -- background, bed, hardscape ---------------------------------------------------------------------

    def _backgrounds(self) -> Iterator[Task]:
        for built in self.model.backgrounds:
            part = built.part
            gap = max(slab.back for slab in built.data.slabs)
            bedded = bool(part.bedding)
            foam = part.bedding == "expanding polyurethane foam"
            wait = foam_wait(gap) if foam else None
            if not foam:
                what = part.bedding or "what holds it to the glass"
                wait = Wait(time=None, why=what, source="no figure is known: ask its maker")
            tests = (
                ["pipes and joints behind it were wet-tested and are dry"] if self.hides[part.name] else []
            )
            tests.append(
                "carved, dusted off and coated before anything stands before it; cure by the coat's sheet"
            )
            around = [name for name in part.embeds if name in self.stretches]
            if around:
                tests.append(f"sawn or slit so that it goes over {', '.join(around)}; foam fills the pockets")
            tests.append(
                "held against its lift until it is fast, before any water"
                if bedded
                else "held until it is fast"
            )
            yield self._put(
                built,
                "background",
                after={"leak", "wet", *self._inside(part)},
                wait=wait,
                tests=tuple(tests),
                hides=self.hides[part.name],
            )

    def _inside(self, part: Background) -> Iterator[str]:
        """Yield the tasks of what a background is foamed around or has a channel for."""
        for name in part.embeds:
            yield from self.stretches.get(name, [name])
        for channel in part.channels:
            keys = self.stretches.get(channel.follow, {})
            behind = f"{channel.follow} behind {part.name}"
            yield from [behind] if behind in keys else keys

    def _beds_and_hardscape(self) -> Iterator[Task]:
        stones = self.model.of_kind("rock", "wood")
        beds = tuple(built.part.name for built in self.model.substrates)
        tank = self.tank.part.name
        low = {built.part.name: min(float(b.solid.bounds[0, 2]) for b in built.bodies) for built in stones}
        sunk = list(sunk_in(self.model))
        mats = tuple(built.part.name for built in self.model.of_kind("mat"))
        if mats:
            yield Task(label="mat", parts=mats, after=frozenset({tank, "leak"}))
        if beds and sunk:
            yield Task(
                label="base",
                parts=beds,
                after=frozenset({tank, "leak", "mat"}),
                tests=(f"heights over the floor: {self._heights(low, sunk)}",),
            )
        for built in stones:
            name = built.part.name
            after = {tank, "leak", "mat", *_fixed(built.part), *self._carriers(built, stones)}
            if name in sunk:
                after.add("base")
            yield self._put(
                built,
                "hardscape",
                after=after,
                tests=lifting(name, built.bodies, style=self.scene.style),
            )
        if beds:
            yield Task(
                label="bed",
                parts=beds,
                after=frozenset({tank, "leak", "mat", "base", *low}),
            )

    def _heights(self, low: dict[str, float], names: list[str]) -> str:
        style = self.scene.style
        return ", ".join(f"{name} {show(low[name], 'length', system=style, give=0.004)}" for name in names)

    def _carriers(self, built: Built[Part, object], stones: Sequence[Built[Part, object]]) -> set[str]:
        """Return the stones that a stone stands on: those that it touches and whose middle is lower."""
        from layout3d.solid.distance import gap

        found = set()
        for other in stones:
            if other is built:
                continue
            for a, b in itertools.product(built.bodies, other.bodies):
                apart = np.maximum(
                    a.solid.bounds[0] - b.solid.bounds[1], b.solid.bounds[0] - a.solid.bounds[1]
                )
                if apart.max() > TOUCH or a.solid.centroid[2] <= b.solid.centroid[2]:
                    continue
                if gap(a.solid, b.solid).distance <= TOUCH:
                    found.add(other.part.name)
        return found

    # -- the rest ---------------------------------------------------------------------------------------

    def _equipment(self) -> Iterator[Task]:
        connected = {built.data.start_port.split(".")[0] for built in self.runs}
        connected |= {built.data.end_port.split(".")[0] for built in self.runs}
        sumps = {built.part.name for built in self.model.sumps}
        for built in self.model.built.values():
            part = built.part
            if part.group != "equipment" or (part.kind == "pump" and part.name in connected):
                continue
            after = {self.tank.part.name, *_fixed(part)}
            if built.bodies[0].where == "sump":
                after |= sumps
            yield self._put(built, "light" if part.kind == "light" else "equipment", after=after)
        for built in self.model.of_kind("plant"):
            rooted = any(body.kind == "root" for body in built.bodies)
            beds = {"bed"} if rooted else set()
            yield self._put(built, "plant", after={self.tank.part.name, *_fixed(built.part), *beds})

    def _last(self) -> Iterator[Task]:
        tank = self.tank.part.name
        everything = {tank, "leak", "wet", "mat", "bed", *(part.name for part in self.scene.parts)}
        everything |= {key for keys in self.stretches.values() for key in keys}
        sumps = [built.part.name for built in self.model.sumps]
        rinsed = _told(rule_wait("stocking", "cement", of="solvent_cement"))
        everything |= {f"media of {name}" for name in sumps}
        level = show(self.model.waterline, "length", system=self.scene.style)
        yield Task(
            label="fill",
            after=frozenset(everything),
            tests=(f"stop at a quarter and at half, and look; waterline {level} over the floor",),
        )
        yield Task(
            label="final",
            after=frozenset({"fill"}),
            said="full flow, then the main drain blocked, then the power off"
            if sumps
            else "full flow, then the power off",
            wait=rule_wait("wet_test", "the whole tank runs"),
            tests=(
                "nothing on the floor in any of the three; the sump's rise against its fill line"
                if sumps
                else "nothing on the floor in either",
                "test button of the residual-current device; drip loops on every cord",
                f"no livestock sooner than {rinsed} after the last cement, and a full rinse",
            ),
        )

    def _put(
        self,
        built: Built[Part, object],
        label: str,
        *,
        after: set[str] | frozenset[str] = frozenset(),
        wait: Wait | None = None,
        tests: tuple[str, ...] = (),
        hides: tuple[str, ...] = (),
    ) -> Task:
        """Return the task of putting in a part."""
        hard = tuple(body.name for body in built.bodies if body.kind not in SOFT)
        return Task(
            key=built.part.name,
            label=label,
            parts=(built.part.name,),
            moves=hard if label != "stand" else (),
            solids=hard,
            after=frozenset(after),
            wait=wait,
            tests=tests,
            hides=hides,
        )


def _joint_tests(run: RunData, *, closes: bool) -> tuple[str, ...]:
    loose = run.flexible or any(comes_apart(element.kind) for element in run.elements)
    if run.end_port and closes and not loose:
        return ("a run's last joint closes between two fixed ends: leave one of them loose until then",)
    return ()


def _told(wait: Wait) -> str:
    """Return a wait in words, with what it is for."""
    time = "as long as its maker says" if wait.time is None else show(wait.time, "time")
    return f"{time} ({wait.why}; {wait.source.partition(':')[0]})"


def _fixed(part: Part) -> set[str]:
    return {name.split(".")[0] for name in getattr(part, "fixed_to", ())}
