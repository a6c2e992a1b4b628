"""Builds a scene into a model: parts in the order they ask for each other, all mistakes told in one run."""

from __future__ import annotations

import math
from dataclasses import replace
from pathlib import Path
from typing import Any, cast

import numpy as np

from layout3d.catalog import Catalog
from layout3d.errors import LayoutError, SceneMistake, SceneRefused, nearest
from layout3d.fields_composite import Coordinate, Position, Turn
from layout3d.model.model import Model, Question
from layout3d.model.names import unknown_names
from layout3d.model.same import same, told_by
from layout3d.model.spot import CameraSpot
from layout3d.parts.base import Built, Part, Port, Space, Vector
from layout3d.parts.drilled_tank import TankPart
from layout3d.parts.tank_data import TankData
from layout3d.scene.scene import Scene
from layout3d.solid.face import Face
from layout3d.solid.shape import Placement, Shape, Solid
from layout3d.units import show, shown_in

__all__ = ["BuildSite", "build_model", "tank_alone"]


def build_model(scene: Scene, *, last: Model | None = None) -> Model:
    """Build every part of the scene.

    Parameters
    ----------
    last : a model built before: parts that are the same in it, and would get the same answers from the site,
        are taken from it. The model is the same as without it.

    Raises
    ------
    SceneRefused : parts that can't be built as asked, or names under ``clearances:`` and ``accept:`` that
        nothing bears; each mistake once, at its place in the file.
    """
    site = BuildSite(scene, last)
    with shown_in(scene.style):
        for part in scene.parts:
            site.try_build(part)
        site.mistakes += _waterline_mistakes(site)
        cameras = site.cameras()
    _refuse(scene, site.mistakes)
    built = {part.name: site.done[part.name] for part in scene.parts}
    _refuse(scene, unknown_names(scene, built))
    bodies = tuple(body for item in built.values() for body in item.bodies)
    names = [body.name for body in bodies]
    if len(set(names)) != len(names):
        twice = sorted({name for name in names if names.count(name) > 1})
        raise RuntimeError(f"bodies with one name: {', '.join(twice)} (build_model)")
    return Model(
        scene=scene,
        built=built,
        bodies=bodies,
        ports={port.name: port for item in built.values() for port in item.ports},
        joins=tuple(join for item in built.values() for join in item.joins),
        keep_clear=tuple(space for item in built.values() for space in item.keep_clear),
        spaces={space.name: space for item in built.values() for space in item.spaces},
        tank_name=site.tank().part.name,
        cameras=cameras,
        asked=site.asked,
        before={**last.before, **last.known} if site.last is not None and last is not None else {},
    )


def tank_alone(scene: Scene) -> Model:
    """Build the scene's tank and nothing else: what can be told of it where other parts can't be built.

    Raises
    ------
    SceneRefused : the tank itself can't be built, or not hold water up to the waterline.
    """
    tanks = tuple(part for part in scene.parts if isinstance(part, TankPart))
    return build_model(replace(scene, parts=tanks, clearances=(), accept=(), cameras={}))


def _refuse(scene: Scene, mistakes: list[LayoutError]) -> None:
    """Raise mistakes, if there are any, each at its place in the file."""
    for mistake in mistakes:
        if not mistake.place.line:
            mistake.place = scene.place_of(mistake.path)
    if mistakes:
        raise SceneRefused(mistakes)


def _waterline_mistakes(site: BuildSite) -> list[LayoutError]:
    data = next((built.data for built in site.done.values() if isinstance(built.data, TankData)), None)
    if data is None or site.waterline <= data.height:
        return []
    over, height = (site.length(length) for length in (site.waterline - data.height, data.height))
    return [
        SceneMistake(
            f"the waterline is {over} above the tank's rim",
            expected=f"a height of at most {height}",
            path="waterline",
        )
    ]


_DEEPEST = 30
"""How deep parts may need each other before they are built; well within Python's own stack."""


class _FollowsError(Exception):
    """A part can't be built because another one can't; that one's mistake is told already."""


class BuildSite:
    """What parts ask while they are built (``parts.base.Site``): other parts, ports, points, the ground."""

    def __init__(self, scene: Scene, last: Model | None = None) -> None:
        self.scene = scene
        alike = last is not None and (last.scene.style, last.scene.catalog) == (scene.style, scene.catalog)
        self.last = last if alike else None
        self.catalog: Catalog = scene.catalog
        self.asked: dict[str, dict[Question, object]] = {}
        self.done: dict[str, Built[Part, object]] = {}
        self.failed: set[str] = set()
        self.busy: list[str] = []
        self.mistakes: list[LayoutError] = []

    def try_build(self, part: Part) -> None:
        """Build a part if it isn't yet; record its mistake."""
        if part.name in self.done or part.name in self.failed:
            return
        self.busy.append(part.name)
        self.asked[part.name] = {}
        try:
            self.done[part.name] = self._as_before(part) or self._the_same(part.build(self))
        except _FollowsError:
            self.failed.add(part.name)
        except SceneRefused as refused:
            self.failed.add(part.name)
            self.mistakes += refused.mistakes
        except LayoutError as mistake:
            self.failed.add(part.name)
            own = f"parts.{part.name}"
            mistake.path = mistake.path or own
            if not mistake.place.line and not mistake.path.startswith(own):
                mistake.place = self.scene.place_of(own)
            self.mistakes.append(mistake)
        finally:
            self.busy.pop()

    def _as_before(self, part: Part) -> Built[Part, object] | None:
        """Return the part as the last model has it, if it and all that it asked for are the same."""
        before = self.last.built.get(part.name) if self.last is not None else None
        if before is None or self.last is None:
            return None
        if not same(before.part, part):
            return None
        answers = self.last.asked[part.name]
        if not all(same(self._answer(question), answer) for question, answer in answers.items()):
            return None
        self.asked[part.name] = dict(answers)
        return before

    def _the_same(self, built: Built[Part, object]) -> Built[Part, object]:
        """Return the part as the last model has it where it came out the same: what rests on it is too."""
        before = self.last.built.get(built.part.name) if self.last is not None else None
        alike = before is not None and all(
            same(getattr(before, name), getattr(built, name)) for name in told_by(Built)
        )
        return before if before is not None and alike else built

    def _answer(self, question: Question) -> object:
        """Return what a part's question is answered by here; what can't be told is like nothing else."""
        what, *names = question
        if what == "waterline":
            return self.scene.waterline
        if what == "kinds":
            return tuple(part for part in self.scene.parts if part.kind in names)
        if what == "others":
            return tuple(part for part in self.scene.parts if part.name not in names)
        part = self.scene.part(names[0]) if names else None
        if what == "is a part":
            return part is not None
        if what == "built" and part is not None and part.name not in self.busy:
            if part.name not in self.done and len(self.busy) >= _DEEPEST:
                return object()
            self.try_build(part)
            return self.done.get(part.name)
        return object()

    def _ask(self, *question: str) -> Any:
        """Return an answer of the site, and note for the part that is being built that it asked for it."""
        answer = self._answer(question)
        if self.busy:
            self.asked[self.busy[-1]][question] = answer
        return answer

    @property
    def waterline(self) -> float:
        """Return the height of the water over the tank's inside floor, [m]."""
        height: float = self._ask("waterline")
        return height

    @property
    def folder(self) -> Path:
        """Return the scene's folder; whoever reads files there is built anew each time."""
        self._ask("files")
        return self.scene.folder

    def length(self, metres: float, *, enough: bool = False) -> str:
        """Write a length for a message in the scene's units; ``enough`` rounds it up, never down."""
        system = self.scene.style
        if not enough:
            return show(metres, "length", system=system)
        step = 1e-4 if system == "metric" else 0.0254 / 100  # the last figure that is shown
        return show(math.ceil(metres / step - 1e-6) * step, "length", system=system, digits=9)

    def built(self, name: str, asked_by: Part, where: str = "") -> Built[Part, object]:
        """Return another part, built."""
        part = self.scene.part(name)
        if part is None:
            known = [other.name for other in self.scene.parts]
            raise asked_by.mistake(where, f"no part is called {name!r}", expected=nearest(name, known))
        if name == asked_by.name and name in self.busy:
            raise asked_by.mistake(
                where,
                f"{name} is measured from itself, which is not built yet",
                expected="another part, or a place in figures",
                remedy="give the place in figures; a ring of pipe is two runs that meet at two tees",
            )
        if name in self.busy:
            circle = " -> ".join([*self.busy[self.busy.index(name) :], name])
            raise asked_by.mistake(
                where,
                f"parts stand on each other in a circle: {circle}",
                expected="parts that can be built one after another",
            )
        if name not in self.done and len(self.busy) >= _DEEPEST:
            raise asked_by.mistake(
                where,
                f"{_DEEPEST} parts that each need the next one, down to {name}",
                expected="parts that need those above them in the file",
                remedy="write the parts that others start from or stand on above them",
            )
        self.try_build(part)
        if name in self.failed:
            raise _FollowsError
        self._ask("built", name)
        return self.done[name]

    def tank(self) -> Built[Part, TankData]:
        """Return the tank."""
        part = next(part for part in self.scene.parts if isinstance(part, TankPart))
        built = self.built(part.name, part)
        assert isinstance(built.data, TankData), "a tank builds its data (BuildSite.tank)"
        return cast("Built[Part, TankData]", built)

    def of_kind(self, *kinds: str) -> tuple[Part, ...]:
        """Return the scene's parts of these kinds."""
        parts: tuple[Part, ...] = self._ask("kinds", *kinds)
        return parts

    def others(self, part: Part) -> tuple[Part, ...]:
        """Return all parts but this one."""
        parts: tuple[Part, ...] = self._ask("others", part.name)
        return parts

    def _owner(self, name: str, asked_by: Part, where: str) -> Built[Part, object]:
        """Return the part a dotted name belongs to: its first word is a part, or a hole of the tank."""
        first = name.split(".")[0]
        if self._ask("is a part", first):
            return self.built(first, asked_by, where)
        tank = self.tank()
        if first in tank.data.holes:
            return tank
        known = [*(part.name for part in self.scene.parts), *tank.data.holes]
        raise asked_by.mistake(
            where, f"{name!r}: no part or hole is called {first!r}", expected=nearest(first, known)
        )

    def port(self, name: str, asked_by: Part, where: str = "") -> Port:
        """Return a port by 'part.port' or 'hole.inside'."""
        owner = self._owner(name, asked_by, where)
        full = {port.name: port for port in owner.ports}
        tank_name = f"{owner.part.name}.{name}"
        if name in full or tank_name in full:
            return full.get(name) or full[tank_name]
        prefix = f"{owner.part.name}." if isinstance(owner.part, TankPart) else ""
        known = [port.removeprefix(prefix) for port in full]
        raise asked_by.mistake(
            where,
            f"{name!r} is not a port",
            expected=nearest(name, known, most=20) if known else f"a part with ports ({name} has none)",
        )

    def cameras(self) -> dict[str, CameraSpot]:
        """Return the scene's cameras by name; record the mistakes of those that can't stand so."""
        found = {}
        for name, camera in self.scene.cameras.items():
            asked_by = Part(name=name)
            try:
                at, target = (self.point(position, asked_by) for position in (camera.at, camera.target))
                if math.dist(at, target) < _NEAREST_TARGET:
                    raise asked_by.mistake(
                        "target", "the camera stands where it looks", expected="a target away from it"
                    )
                found[name] = CameraSpot(at=at, target=target, angle=camera.angle)
            except _FollowsError:
                continue
            except LayoutError as mistake:
                mistake.path = mistake.path.replace("parts.", "cameras.", 1)
                self.mistakes.append(mistake)
        return found

    def point(self, position: Position, asked_by: Part) -> Vector:
        """Return where a position lies."""
        if position.base:
            base = self._named_point(position, asked_by)
            x, y, z = (a + b for a, b in zip(base, position.offset, strict=True))
            return (x, y, z)
        space = self._space(position, asked_by)
        if position.on:
            return self._on_face(position, space, asked_by)
        if position.x is None or position.y is None or position.z is None:
            raise RuntimeError("a position lacks a coordinate (PositionType)")
        x = _along(position.x, space.low[0], space.high[0], ("left", "right"))
        y = _along(position.y, space.low[1], space.high[1], ("front", "back"))
        return (x, y, self._height(position.z, x, y, space, position, asked_by))

    def _height(
        self, along: Coordinate, x: float, y: float, space: Space, position: Position, asked_by: Part
    ) -> float:
        if along.face == "ground":
            in_tank = space.name == self.tank().part.name
            return (self.ground(x, y) if in_tank else space.low[2]) + along.distance
        if along.face == "waterline":
            return self._water_in(space, position, asked_by) + along.distance
        return _along(along, space.low[2], space.high[2], ("bottom", "top"))

    def face(self, position: Position, asked_by: Part) -> Face:
        """Return the face on which a position with ``on`` lies: of a part, or of one body of it.

        Lines run to the back where no y is given, down where no z is, and from the tank's middle to the side
        where the part lies if no x is.
        """
        where = _field_of(position)
        owner = self.built(position.on.split(".")[0], asked_by, where)
        bodies = [body for body in owner.bodies if position.on in (body.part, body.name)]
        if not bodies:
            raise asked_by.mistake(
                where,
                f"{position.on!r} is no body",
                expected=nearest(position.on, [body.name for body in owner.bodies]),
            )
        solids = tuple(body.solid for body in bodies)
        bounds = np.array([solid.bounds for solid in solids])
        low, high = bounds[:, 0].min(axis=0), bounds[:, 1].max(axis=0)
        if position.z is None:
            return Face(solids, 2, -1.0, float(high[2]) + _CLEAR)
        if position.y is None:
            return Face(solids, 1, 1.0, float(low[1]) - _CLEAR)
        middle = float(self.tank().data.interior.bounds[:, 0].mean())
        if low[0] < middle < high[0]:
            raise asked_by.mistake(
                where,
                f"{position.on} reaches over both sides of the tank",
                expected="the name of a body on one side, such as "
                + " or ".join([body.name for body in bodies][:2])
                + ", or a distance from left or right, and none from front or back",
            )
        return Face(solids, 0, 1.0 if low[0] >= middle else -1.0, middle)

    def _on_face(self, position: Position, space: Space, asked_by: Part) -> Vector:
        at = [0.0, 0.0, 0.0]
        faces = (("left", "right"), ("front", "back"))
        for axis, coordinate in enumerate((position.x, position.y)):
            if coordinate is not None:
                at[axis] = _along(coordinate, space.low[axis], space.high[axis], faces[axis])
        if position.z is not None:
            at[2] = self._height(position.z, at[0], at[1], space, position, asked_by)
        face = self.face(position, asked_by)
        met = float(face.met([at])[0])
        if not math.isfinite(met):
            way = ("beside the tank's middle", "behind the front", "below the top")[face.axis]
            raise asked_by.mistake(
                _field_of(position),
                f"nothing of {position.on} lies {way} there",
                expected=f"a place over {position.on}",
            )
        at[face.axis] = met - face.sign * position.off
        return (at[0], at[1], at[2])

    def _water_in(self, space: Space, position: Position, asked_by: Part) -> float:
        if space.name == self.tank().part.name:
            return self.waterline
        if space.water is None:
            raise asked_by.mistake(
                _field_of(position),
                f"{space.name!r} has no waterline of its own",
                expected="`bottom:` or `top:`, or a compartment of the sump",
            )
        return space.water

    def _named_point(self, position: Position, asked_by: Part) -> Vector:
        where = _field_of(position)
        owner = self._owner(position.base, asked_by, where)
        points = {f"{owner.part.name}.{name}": at for name, at in owner.anchors.items()}
        points |= {port.name: port.at for port in owner.ports}
        for name in (position.base, f"{owner.part.name}.{position.base}"):
            if name in points:
                return points[name]
        raise asked_by.mistake(
            where,
            f"{position.base!r} is not an anchor, a port or a hole",
            expected=nearest(position.base, points, most=20)
            if points
            else f"a part with anchors ({owner.part.name} has none)",
        )

    def _space(self, position: Position, asked_by: Part) -> Space:
        if not position.space:
            return self.tank().spaces[0]
        where = _field_of(position)
        owner = self._owner(position.space, asked_by, where)
        for space in owner.spaces:
            if space.name == position.space:
                return space
        known = [space.name for space in owner.spaces]
        raise asked_by.mistake(
            where,
            f"{position.space!r} is not a space",
            expected=nearest(position.space, known) if known else "a tank, a sump or one of its compartments",
        )

    def placement(self, part: Part, whole: Shape | Solid, *, stands: bool = True) -> Placement:
        """Return the placement of a part's ``at`` and ``turn``; over the ``ground:`` by its lowest point."""
        position, turn = getattr(part, "at", None), getattr(part, "turn", Turn())
        if not isinstance(position, Position):
            raise RuntimeError(f"{part.kind} has no position (BuildSite.placement)")
        rotation = _turned(turn, whole)
        x, y, z = self.point(position, part)
        if stands and position.z is not None and position.z.face == "ground":
            z -= float(rotation.apply(whole.vertices)[:, 2].min())
        if position.on:
            yaw = self.face(position, part).yaw((x, y, z))
            rotation = Placement.turned((0.0, 0.0, 1.0), yaw) @ rotation
        return Placement.at((x, y, z)) @ rotation

    def ground(self, x: float, y: float) -> float:
        """Return the height of the substrate or the floor at a point."""
        heights = [0.0]
        for part in self.of_kind("substrate", "mat"):
            try:
                height = part.height_at(self, x, y)  # type: ignore[attr-defined] # the kind has it
            except LayoutError as mistake:
                raise _FollowsError from mistake  # told when the bed itself is built
            if math.isfinite(height):
                heights.append(height)
        return max(heights)


_CLEAR = 0.001
"""Lines that look for a face begin so far before it, [m]."""

_NEAREST_TARGET = 0.01
"""A camera looks no nearer than so, [m]."""

_ALIKE = 1e-6
"""Of sides that differ by less the first counts as the longest, [m]."""


def _turned(turn: Turn, whole: Shape | Solid) -> Placement:
    """Return the rotation of a turn; both tips together are one about the level axis between theirs."""
    sides = np.ptp(whole.bounds, axis=0)
    length = np.eye(3)[int(np.argmax(sides >= sides.max() - _ALIKE))]
    rotation = Placement.turned((0, 0, 1), turn.about_up) @ Placement.turned(length, turn.about_length)
    tip = math.hypot(turn.tip_right, turn.tip_back)
    return Placement.turned((-turn.tip_back, turn.tip_right, 0.0), tip) @ rotation if tip else rotation


def _field_of(position: Position) -> str:
    """Return the field that a position was read from, as a path below its part; '' if it wasn't."""
    return "".join(position.path.split(".", 2)[2:])


def _along(coordinate: Coordinate, low: float, high: float, faces: tuple[str, str]) -> float:
    """Return a coordinate: from the low face up, or from the high face down."""
    return high - coordinate.distance if coordinate.face == faces[1] else low + coordinate.distance
