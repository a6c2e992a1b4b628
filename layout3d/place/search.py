"""Positions, turns and tilts of one or several pieces, tried by the thousand and ranked by stated wishes.

Most are turned down by the collision library alone; the best of the rest are written into the scene's text,
built and examined by every rule, so that what is proposed is what would be written. A piece keeps the height
that the file gives it: over the ground, the floor or the waterline. What is fixed to it goes with it.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from functools import cached_property, partial
from pathlib import Path

import numpy as np

from layout3d.checks.examine import examine
from layout3d.errors import LayoutError, UnknownName, nearest
from layout3d.fields_composite import Coordinate, Position, Turn
from layout3d.live import Mover
from layout3d.model.beds import bed_height
from layout3d.model.build import build_model
from layout3d.model.model import Model
from layout3d.parts.base import PlacedPart
from layout3d.place.engine import Engine, each
from layout3d.place.wishes import Asked, Pieces, measured
from layout3d.scene.file import read_text
from layout3d.scene.reader import read_scene
from layout3d.scene.write_back import Value, changed, stands_at, text_at, written_like
from layout3d.solid.distance import meet
from layout3d.solid.placement import Placement
from layout3d.solid.shape import Solid
from layout3d.water.displaced import displaced

__all__ = ["Candidate", "Found", "Region", "search"]

GRID = {"mm": 0.001, "in": 0.0254 / 4}
"""Places are tried on this grid, which is written without rounding, [m]."""
ANGLE_GRID = math.radians(1.0)
AT_A_TIME = 6  # scenes examined for each one that is wanted, before the next ones are
MOST_ROUNDS = 4
HARD = ("way-in",)
"""Rules whose warnings about a piece that is placed count as faults: a place has to be reached."""
Texts = Mapping[str, Value]


@dataclass(frozen=True, slots=True, kw_only=True)
class Region:
    """Where base points may be, from the inside left and front [m], and how pieces may be turned [rad].

    None for ``turn`` or ``tip`` leaves that as the file has it; ``tip`` is how far a top may lean, any way.
    """

    left: tuple[float, float] | None = None
    front: tuple[float, float] | None = None
    turn: tuple[float, float] | None = None
    tip: tuple[float, float] | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Candidate:
    """A set of places: base points ``at`` [m] and ``turn`` of each part, as the scene's text then says.

    ``changes`` write it; ``faults`` are the rules that find one anywhere in the scene, no way in for one of
    the pieces, or that it can't be built. ``score`` is the mean of the wishes by their weights; 0 with
    faults, for what must not stand so is not weighed against what may.
    """

    at: Mapping[str, tuple[float, float]]
    turn: Mapping[str, Turn]
    changes: Texts
    wishes: Mapping[str, float]
    score: float
    faults: tuple[str, ...] = ()
    figures: Mapping[str, float] = field(default_factory=dict)


@dataclass(frozen=True, slots=True, kw_only=True)
class Found:
    """What a search found: where the pieces stood before, and the best places, those free of faults first.

    ``tried`` positions were looked at, ``free`` of them touched nothing, ``examined`` by every rule.
    """

    before: Candidate
    candidates: tuple[Candidate, ...]
    tried: int
    free: int
    examined: int
    seed: int
    stopped: bool = False


@dataclass(frozen=True, slots=True)
class _Pose:
    """A base point, and how the piece is turned; ``z`` of what goes with another, None where it stays."""

    x: float
    y: float
    turn: Turn
    z: float | None = None


class _Piece:
    """One part that is moved: where it may go, and what that makes of its solids and its text."""

    def __init__(self, model: Model, name: str, text: str, *, holder: str = "") -> None:
        built = model.built.get(name)
        if built is None:
            raise UnknownName(f"no part is called {name!r}", expected=nearest(name, list(model.built)))
        part = built.part
        position = getattr(part, "at", None)
        if not isinstance(part, PlacedPart) or not isinstance(position, Position):
            raise LayoutError(f"{name} is no part that stands at a place", expected="rock, wood or equipment")
        if position.x is None or position.y is None or position.space or not (position.z or position.on):
            why = f"{name} is fixed to {holder}, which is moved, but" if holder else name
            raise LayoutError(
                f"{why} stands from another part",
                expected="distances from the tank's faces",
                remedy=f"write parts.{name}.at as {{left: …, front: …, ground: …}}",
            )
        self.name, self.text, self.units = name, text, model.scene.units
        self.x, self.y, self.z = position.x, position.y, position.z
        self.turn = part.turn
        self.low, self.high = np.asarray(model.tank.interior.bounds)
        self.model = model
        self.solids = tuple(body.solid for body in model.bodies_of(name) if body.part == name)
        self.ground = bed_height(model)
        self.waterline = model.waterline
        self.here = _Pose(_from_low(self.x, 0, self), _from_low(self.y, 1, self), self.turn, self._height())
        changed(text, self.changes(self.here))  # refuses arithmetic before a search begins

    @cached_property
    def mover(self) -> Mover:
        """Return what tells what it would touch."""
        return Mover(self.model, self.name)

    def _height(self) -> float | None:
        """Return the height of its base point, if the file tells it: not over the ground, nor on a face."""
        if self.z is None or self.z.face == "ground":
            return None
        over = {"top": self.high[2] - self.z.distance, "waterline": self.waterline + self.z.distance}
        return float(over.get(self.z.face, self.z.distance))

    @property
    def base(self) -> np.ndarray:
        """Return its base point, about which it is turned, as it stands now, (3,), [m].

        A part that was built elsewhere and not brought to its place by a move counts as turned on its foot.
        """
        offset = self.solids[0].placement.offset
        if self.here.z is None and math.dist(offset[:2], (self.here.x, self.here.y)) < 1e-6:
            return offset
        low = min(float(solid.bounds[0, 2]) for solid in self.solids)
        return np.array([self.here.x, self.here.y, low if self.here.z is None else self.here.z])

    def pose(self, region: Region, random: np.random.Generator) -> _Pose:
        """Draw a place within the region, on the grid of the field that says it."""
        places = []
        for axis, (coordinate, span) in enumerate(((self.x, region.left), (self.y, region.front))):
            low, high = (self.low[axis], self.high[axis]) if span is None else np.add(span, self.low[axis])
            told = _from_low(coordinate, axis, self, random.uniform(low, high))
            grid = GRID[self.units]
            places.append(_from_low(coordinate, axis, self, round(told / grid) * grid))
        return _Pose(places[0], places[1], self._turned(region, random), self.here.z)

    def _turned(self, region: Region, random: np.random.Generator) -> Turn:
        about, right, back = self.turn.about_up, self.turn.tip_right, self.turn.tip_back
        if region.turn is not None:
            about = _on_grid(random.uniform(*region.turn))
        if region.tip is not None:
            tip, way = random.uniform(*region.tip), random.uniform(0.0, 2.0 * math.pi)
            right, back = _on_grid(tip * math.cos(way)), _on_grid(tip * math.sin(way))
        return Turn(about_length=self.turn.about_length, about_up=about, tip_right=right, tip_back=back)

    def move(self, pose: _Pose) -> Placement:
        """Return the move from where the piece is now; on the ground it rises and falls with that."""
        base = self.base
        turned = _rotation(pose.turn) @ _rotation(self.here.turn).inverse()
        there = (pose.x, pose.y, base[2] if pose.z is None else pose.z)
        move = Placement.at(there) @ turned @ Placement.at(-base)
        if self.z is None or self.z.face != "ground":
            return move
        low = min(float(move.apply(solid.vertices)[:, 2].min()) for solid in self.solids)
        ground = float(self.ground(np.array([pose.x]), np.array([pose.y]))[0])
        return Placement.at((0.0, 0.0, ground + self.z.distance - low)) @ move

    def along(self, move: Placement, turn: float) -> _Pose:
        """Return where it comes with what it is fixed to, which is moved so and turned by an angle."""
        x, y, z = move.apply(self.base).tolist()
        own = self.turn
        about = _on_grid(math.remainder(own.about_up + turn, 2.0 * math.pi))
        turned = replace(own, about_up=about) if abs(turn) > 1e-9 else own
        return _Pose(round(x, 4), round(y, 4), turned, None if self.here.z is None else round(z, 4))

    def changes(self, pose: _Pose) -> dict[str, Value]:
        """Return the fields that say a pose, in the file's own manner; what is as it was is left out."""
        path = f"parts.{self.name}"
        listed = text_at_or_none(self.text, f"{path}.at[1]") is not None
        told = [
            (axis, coordinate, _from_low(coordinate, axis, self, place))
            for axis, (coordinate, place) in enumerate(((self.x, pose.x), (self.y, pose.y)))
        ]
        if self.z is not None and pose.z is not None and self.here.z is not None:
            up = pose.z - self.here.z
            told.append((2, self.z, self.z.distance + (-up if self.z.face == "top" else up)))
        found: dict[str, Value] = {}
        for axis, coordinate, distance in told:
            if abs(distance - coordinate.distance) > 1e-9 or (pose is self.here and axis < 2):
                where = f"{path}.at[{axis + 1}]" if listed else f"{path}.at.{coordinate.face}"
                old = text_at(self.text, stands_at(self.text, where))
                found[where] = written_like(old, distance, "length", units=self.units)
        if pose.turn != self.turn:
            found[f"{path}.turn"] = self._turn_text(pose.turn)
        return found

    def _turn_text(self, turn: Turn) -> Value:
        path = f"parts.{self.name}.turn"
        angles = {
            "about_up": turn.about_up,
            "about_length": turn.about_length,
            "tip_right" if turn.tip_right > 0 else "tip_left": abs(turn.tip_right),
            "tip_back" if turn.tip_back > 0 else "tip_front": abs(turn.tip_back),
        }
        kept = {name: angle for name, angle in angles.items() if angle or name == "about_up"}
        old = text_at_or_none(self.text, path)
        if len(kept) == 1 and (old is not None or text_at_or_none(self.text, f"{path}.about_up") is None):
            return written_like(old, turn.about_up, "angle", units=self.units)
        return {name: written_like(None, angle, "angle", units=self.units) for name, angle in kept.items()}


def search(
    path: str,
    parts: Sequence[str],
    wishes: Mapping[str, float],
    *,
    region: Region,
    tries: int = 2000,
    keep: int = 6,
    seed: int = 0,
    focal: tuple[float, float] | None = None,
    lit: Sequence[str] = (),
    settings: Mapping[str, str] | None = None,
    engine: Engine | None = None,
    done: Callable[[int, int], None] = lambda count, of: None,
) -> Found:
    """Try places for some pieces at once, and return the best by stated wishes.

    Parameters
    ----------
    path : the scene file
    parts : the pieces, each at distances from the tank's faces
    wishes : weights by the names in ``wishes.WISHES``
    tries : positions of all pieces together that are looked at
    keep : how many candidates are wanted
    seed : the same seed gives the same result, on any number of cores
    focal : place that the wish 'focal' means, from the inside left and front, [m]
    lit : plants that the wish 'light' means; all if none is named
    settings : values and fields that differ from the file's
    done : is told how many of the scenes are examined, of how many

    Returns
    -------
    Where the pieces were, and the candidates. Ctrl-C ends it early with those that were examined.

    Raises
    ------
    LayoutError : the scene can't be read, a part can't be moved, or its place stands as arithmetic.
    """
    engine = engine or Engine()
    if "focal" in wishes and focal is None:
        raise LayoutError(
            "the wish 'focal' has no place", expected="--focal X,Y, from the left and the front"
        )
    text = read_text(Path(path))
    asked = Asked(weights=dict(wishes), focal=focal, lit=tuple(lit))
    model = build_model(read_scene(path, text=text, overrides=settings))
    known = [built.part.name for built in model.of_kind("plant")]
    for name in lit:
        if name not in known:
            raise UnknownName(
                f"no plant is called {name!r}", expected=nearest(name, known) if known else "a plant"
            )
    pieces = [_Piece(model, name, text) for name in dict.fromkeys(parts)]
    tied = {piece.name: _tied(model, piece.name, parts, text) for piece in pieces}
    random = np.random.default_rng(seed)
    work = partial(_examined, path, text, tuple((settings or {}).items()), asked)
    before = work(({piece.name: piece.here for piece in pieces}, {}))
    ranked, tried, stopped = [], 0, False
    try:
        for number in range(tries):
            poses = {piece.name: piece.pose(region, random) for piece in pieces}
            tried += 1
            score = _quick(model, pieces, poses, asked)
            if score is not None:
                ranked.append((-score, number, poses))
    except KeyboardInterrupt:
        stopped = True
    ranked.sort(key=lambda entry: entry[:2])
    batch = max(keep, AT_A_TIME)
    tasks = [(poses, _changes(pieces, tied, poses)) for _, _, poses in ranked[: MOST_ROUNDS * batch]]
    found: list[Candidate] = []
    for start in range(0, len(tasks), batch):
        results = each(work, tasks[start : start + batch], engine=engine, done=done)
        found += [result for result in results if result is not None]
        stopped = stopped or None in results
        if stopped or sum(not candidate.faults for candidate in found) >= keep:
            break
    examined = len(found)
    found.sort(
        key=lambda one: (bool(one.faults), -asked.mean(one.wishes))
    )  # stable: equals stay in the order drawn
    return Found(
        before=before,
        candidates=tuple(found[:keep]),
        tried=tried,
        free=len(ranked),
        examined=examined,
        seed=seed,
        stopped=stopped,
    )


def text_at_or_none(text: str, path: str) -> str | None:
    """Return the text at a path; None too where the path leads nowhere."""
    try:
        return text_at(text, path)
    except UnknownName:
        return None


def _tied(model: Model, name: str, moved: Sequence[str], text: str) -> list[_Piece]:
    """Return what is fixed to a piece, or to what is, and stays behind unless it is moved along."""
    found: dict[str, None] = {name: None}
    while True:
        more = [
            other
            for other, built in model.built.items()
            if other not in found
            and other not in moved
            and {holder.split(".")[0] for holder in getattr(built.part, "fixed_to", ())} & found.keys()
            and isinstance(getattr(built.part, "at", None), Position)
        ]
        if not more:
            return [_Piece(model, other, text, holder=name) for other in found if other != name]
        found |= dict.fromkeys(more)


def _changes(
    pieces: Sequence[_Piece], tied: Mapping[str, Sequence[_Piece]], poses: Mapping[str, _Pose]
) -> dict[str, Value]:
    """Return what writes the poses, with those of what is fixed to the pieces."""
    found: dict[str, Value] = {}
    for piece in pieces:
        pose = poses[piece.name]
        found |= piece.changes(pose)
        move, turn = piece.move(pose), pose.turn.about_up - piece.turn.about_up
        for other in tied[piece.name]:
            found |= other.changes(other.along(move, turn))
    return found


def _quick(model: Model, pieces: Sequence[_Piece], poses: Mapping[str, _Pose], asked: Asked) -> float | None:
    """Return the score of places where nothing is touched; None for any other."""
    names = set(poses)
    solids: dict[str, tuple[Solid, ...]] = {}
    takes = 0.0
    for piece in pieces:
        move = piece.move(poses[piece.name])
        touch = piece.mover.at(move)
        meets = [other for _, other in touch.meets if model.body(other).part not in names]
        if meets or touch.short or not touch.inside:
            return None
        moved = tuple(solid.moved(move) for solid in piece.solids)
        if any(meet(one, other) for there in solids.values() for one in there for other in moved):
            return None
        solids[piece.name] = moved
        takes += piece.mover.displaced(move)
    return asked.mean(measured(Pieces(model=model, solids=solids, takes=takes, asked=asked), built=False))


def _examined(
    path: str,
    text: str,
    settings: Sequence[tuple[str, str]],
    asked: Asked,
    task: tuple[Mapping[str, _Pose], Texts],
) -> Candidate:
    """Build the scene that would be written, and examine it by every rule."""
    poses, changes = task
    at = {name: (pose.x, pose.y) for name, pose in poses.items()}
    turn = {name: pose.turn for name, pose in poses.items()}
    try:
        scene = read_scene(path, text=changed(text, changes, file=path), overrides=dict(settings))
        model = build_model(scene)
        findings = examine(model)
    except LayoutError as error:
        return Candidate(
            at=at,
            turn=turn,
            changes=changes,
            wishes=dict.fromkeys(asked.weights, 0.0),
            score=0.0,
            faults=(f"can't be built: {error.found}",),
        )
    taken = displaced(model).parts
    solids = {
        name: tuple(body.solid for body in model.bodies_of(name) if body.part == name) for name in poses
    }
    takes = sum(taken.get(name, 0.0) for name in poses)
    figures = measured(Pieces(model=model, solids=solids, takes=takes, asked=asked), built=True)
    faults = dict.fromkeys(
        finding.rule
        for finding in findings
        if finding.severity == "fault" or (finding.rule in HARD and poses.keys() & set(finding.parts))
    )
    return Candidate(
        at=at,
        turn=turn,
        changes=changes,
        wishes=figures,
        score=0.0 if faults else asked.mean(figures),
        faults=tuple(faults),
        figures={"displaced": takes},
    )


def _from_low(coordinate: Coordinate, axis: int, piece: _Piece, value: float | None = None) -> float:
    """Turn a field's distance into a place along its axis, or a place into the distance: the same sum."""
    distance = coordinate.distance if value is None else value
    if coordinate.face in ("right", "back"):
        return float(piece.high[axis] - distance)
    if coordinate.face in ("left", "front"):
        return float(piece.low[axis] + distance) if value is None else float(distance - piece.low[axis])
    return float(distance)


def _rotation(turn: Turn) -> Placement:
    """Return the turn about the upright and the tip; that about the length comes before both."""
    about = Placement.turned((0.0, 0.0, 1.0), turn.about_up)
    tip = math.hypot(turn.tip_right, turn.tip_back)
    return Placement.turned((-turn.tip_back, turn.tip_right, 0.0), tip) @ about if tip else about


def _on_grid(angle: float) -> float:
    return round(angle / ANGLE_GRID) * ANGLE_GRID
