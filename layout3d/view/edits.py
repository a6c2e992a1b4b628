"""What hands do, as changes of the file's own fields; and the fields as they stand there."""

from __future__ import annotations

import itertools
import math
import re
from collections.abc import Iterable, Mapping
from dataclasses import replace
from fractions import Fraction
from pathlib import Path

import numpy as np

from layout3d.errors import LayoutError, SceneMistake
from layout3d.fields import OWN_NAME, Node, field_specs, is_own_name
from layout3d.fields_composite import Coordinate, Position
from layout3d.files import own_data
from layout3d.fittings.base import WAYS
from layout3d.parts.base import PlacedPart, Vector
from layout3d.parts.registry import kinds
from layout3d.parts.run.fields import RunFields
from layout3d.scene.entries import added
from layout3d.scene.scene import Scene
from layout3d.scene.tree import read_tree
from layout3d.scene.write_back import Value, stands_at, text_at, written_like
from layout3d.units import exact_unit, to_si

__all__ = [
    "all_moved",
    "arithmetic_at",
    "fields_under",
    "free_name",
    "movable",
    "moved",
    "on_a_face",
    "pipes",
    "raised",
    "riders",
    "starter",
    "step_of",
    "there",
    "times",
    "times_of",
    "towards_face",
    "turned",
    "values_changed",
    "with_part",
]

_FIGURE = re.compile(r"(?P<figure>[0-9./]+( [0-9]+/[0-9]+)?)(?P<unit>\s*[^0-9\s./+*()-][^+*()]*)?")
_ADDED = re.compile(r"(?P<all>.*[\w)\"'″°])\s*(?P<sign>[+-])\s*(?P<figure>[0-9][^+*()-]*)")
_AXIS = {"left": 0, "right": 0, "x": 0, "front": 1, "back": 1, "y": 1}
_AGAINST = ("right", "back", "top")  # faces that distances grow away from, against the axes


def step_of(scene: Scene, *, fine: bool = False) -> float:
    """Return what an arrow key moves by, [m]: 5 mm or 1/4 in; ``fine`` 1 mm or 1/16 in."""
    if scene.units == "in":
        return to_si(0.0625 if fine else 0.25, "in")
    return to_si(1.0 if fine else 5.0, "mm")


def movable(scene: Scene) -> frozenset[str]:
    """Return the parts that stand somewhere by numbers of their own."""
    return frozenset(part.name for part in scene.parts if isinstance(part, PlacedPart) and _has_figures(part))


def _has_figures(part: PlacedPart) -> bool:
    return not part.at.base or part.at.offset != (0.0, 0.0, 0.0)


def on_a_face(scene: Scene, part: str) -> bool:
    """Tell whether a part is fixed to a wall or a pane, so that it is moved along that."""
    found = scene.part(part)
    fixed = found.fixed_to if isinstance(found, PlacedPart) else ()
    walls = {one.name for one in scene.parts if one.group in ("background", "glass")}
    return any(name.split(".")[0] in walls for name in fixed)


def towards_face(scene: Scene, part: str) -> int | None:
    """Return the axis along which a part stands wherever it meets a face: it isn't moved along that one."""
    found = scene.part(part)
    at = found.at if isinstance(found, PlacedPart) else Position()
    return next((axis for axis, one in enumerate((at.x, at.y, at.z)) if at.on and one is None), None)


def riders(scene: Scene, part: str) -> dict[str, bool]:
    """Return the parts that go with one that is moved, and whether each does so by itself.

    What is counted from a point or a space of what goes does; what is fixed to that has to be moved too.
    """
    found, waiting = {part: True}, [part]
    for goes in waiting:  # grows as it goes
        for other in scene.parts:
            if not isinstance(other, PlacedPart) or other.name in found:
                continue
            alone = goes in {name.split(".")[0] for name in (other.at.base, other.at.space)}
            if alone or (goes in {name.split(".")[0] for name in other.fixed_to} and _has_figures(other)):
                found[other.name] = alone
                waiting.append(other.name)
    del found[part]
    return found


def pipes(scene: Scene, parts: Iterable[str]) -> dict[str, tuple[bool, bool, bool]]:
    """Return the runs that start from parts that are moved, and along which axes each goes with them whole.

    Along the others it is laid anew: a step of it leads to a point that stays.
    """
    goes = dict.fromkeys(parts, (True, True, True))
    runs = [part for part in scene.parts if isinstance(part, RunFields) and isinstance(part.start, str)]
    waiting = list(goes)
    for name in waiting:  # grows as it goes
        for run in runs:
            if run.start.split(".")[0] == name and run.name not in goes:
                free = np.array(goes[name])
                for word, step in run.route:
                    if word in ("to", "join"):
                        free[:] = False
                    elif word == "until":
                        free[np.array(WAYS[step["until"]]) != 0.0] = False
                goes[run.name] = tuple(free.tolist())
                waiting.append(run.name)
    return {name: free for name, free in goes.items() if name not in set(parts)}


def there(position: Position, by: Vector) -> Position:
    """Return a position with its own figures changed so that it lies farther by ``by``, [m].

    What it doesn't give stays open: of a place on a face, the way to that.
    """
    if position.base:
        offset = (position.offset[0] + by[0], position.offset[1] + by[1], position.offset[2] + by[2])
        return replace(position, offset=offset)
    places = (position.x, position.y, position.z)
    x, y, z = (None if one is None else _farther(one, delta) for one, delta in zip(places, by, strict=True))
    return replace(position, x=x, y=y, z=z)


def _farther(one: Coordinate, by: float) -> Coordinate:
    return replace(one, distance=one.distance + (-by if one.face in _AGAINST else by))


def all_moved(
    path: Path, text: str, scene: Scene, parts: Iterable[str], by: Vector, *, figures: bool = False
) -> dict[str, str]:
    """Return the fields to change so that several parts go by ``by``, [m], each as ``moved`` has it.

    Raises
    ------
    LayoutError : the first has no figure for that way; two of them hang on one value in two ways; or as
        ``moved`` does.
    """
    found: dict[str, str] = {}
    for part in parts:
        changes = moved(path, text, scene, part, by, figures=figures)
        if not (found or changes) and any(by):
            raise LayoutError(
                f"{part} doesn't go that way: there it stands wherever it meets its face",
                remedy=f"write its distance from that, in parts.{part}.at: `off:`",
            )
        for at, value in changes.items():
            if found.setdefault(at, value) != value:
                raise LayoutError(
                    f"{at} would become both {found[at]} and {value}",
                    remedy="give each of the two a value of its own",
                )
    return found


def moved(
    path: Path, text: str, scene: Scene, part: str, by: Vector, *, figures: bool = False
) -> dict[str, str]:
    """Return the fields to change, with their new text, so that a part goes by ``by``, [m].

    Values are rounded to ``step_of`` fine. What stands as a name is given as a figure: who writes it back
    changes the named value. Arithmetic stays so, where it stands (``raised``), if not ``figures`` are wanted.

    Raises
    ------
    LayoutError : the part stands at a named point, or nowhere.
    """
    found = scene.part(part)
    if not isinstance(found, PlacedPart):
        raise LayoutError(f"{part} has no place of its own", remedy="change its fields instead")
    node = _node(path, text, f"parts.{part}.at")
    at, own = f"parts.{part}.at", found.at
    changes: dict[str, str] = {}

    def change(where: str, before: float, after: float) -> None:
        if abs(after - before) > 1e-9:
            changes.update(_to(path, text, where, before, after, "length", scene, figures))

    if node is None or node.kind == "scalar" or (own.base and "offset" not in node.value):
        raise LayoutError(
            f"{part} stands at {own.base}, a point of another part", remedy="give it an offset from there"
        )
    goal = there(own, by)
    if own.base:
        for number, (before, after) in enumerate(zip(own.offset, goal.offset, strict=True), start=1):
            change(f"{at}.offset[{number}]", before, after)
        return changes
    pairs = ((own.x, goal.x), (own.y, goal.y), (own.z, goal.z))
    for number, (one, other) in enumerate(pairs, start=1):
        if one is not None and other is not None:
            where = f"{at}[{number}]" if node.kind == "list" else f"{at}.{one.face}"
            change(where, one.distance, other.distance)
    return changes


def raised(expression: str, by: float, *, units: str, kind: str = "length") -> str:
    """Return an expression of a length or an angle that comes out greater by ``by``, SI; it stays one.

    A figure that is added or taken away at its end takes that up; else one is put there.

    >>> raised("gap + 10 1/2", 0.00635, units="in"), raised("2 * gap", -0.005, units="mm")
    ('gap + 10 3/4', '2 * gap - 5')
    """
    unit = to_si(1.0, "deg" if kind == "angle" else units)
    found = _ADDED.fullmatch(expression.strip())
    value = _value(found["figure"]) if found and found["all"].count("(") == found["all"].count(")") else None
    if found is None or value is None:
        like = "0 deg" if kind == "angle" else "1/4" if units == "in" else "1"
        base, figure, added = expression.strip(), like, 0.0
    else:
        base, figure = found["all"], found["figure"]
        added = value[0] * (unit if value[1] == "number" else 1.0) * (-1.0 if found["sign"] == "-" else 1.0)
    added += by
    written = written_like(figure, abs(added), kind, units=units)
    return f"{base} {'-' if added < -1e-9 else '+'} {written}"


def _to(
    path: Path, text: str, where: str, before: float, after: float, kind: str, scene: Scene, figures: bool
) -> dict[str, str]:
    """Return the text at the place to change so that a field's value becomes another, SI."""
    at = None if figures else arithmetic_at(path, text, where)
    if at is None:
        return {where: _figure(path, text, where, after, kind, scene)}
    expression = text_at(text, at, file=str(path)) or ""
    return {at: raised(expression, after - before, units=scene.units, kind=kind)}


def turned(
    path: Path, text: str, scene: Scene, part: str, how: str, by: float, *, figures: bool = False
) -> dict[str, Value]:
    """Return the fields to change so that a part is turned ``by`` more, [rad].

    Where a plain angle stands, or none, a part that leans gets a mapping, with what stood there about the
    upright. Arithmetic stays so, as with ``moved``.

    Parameters
    ----------
    how : 'about_up', 'about_length', 'tip_right' or 'tip_back', as ``turn`` has them

    Raises
    ------
    LayoutError : the part has no turn.
    """
    found = scene.part(part)
    if not isinstance(found, PlacedPart):
        raise LayoutError(f"{part} can't be turned", remedy="change its fields instead")
    where = f"parts.{part}.turn"
    node = _node(path, text, where)
    before = getattr(found.turn, how)
    after = before + by
    if how in ("about_up", "about_length"):
        after = (after + math.pi) % math.tau - math.pi
    other = {"tip_right": "tip_left", "tip_back": "tip_front"}.get(how, how)
    signs = {how: 1.0} if other == how else {how: 1.0, other: -1.0}
    key = how if after >= 0.0 or other == how else other
    if node is not None and node.kind == "map":
        changes: dict[str, Value] = {}
        for one, sign in signs.items():
            if one in node.value or one == key:
                start, end = (
                    sign * each if other == how else max(0.0, sign * each) for each in (before, after)
                )
                changes.update(_to(path, text, f"{where}.{one}", start, end, "angle", scene, figures))
        return changes
    if how == "about_up":
        return {**_to(path, text, where, before, after, "angle", scene, figures)}
    stood = {} if node is None else {"about_up": str(node.value)}
    like = stood.get("about_up", "0 deg")
    figure = after if other == how else abs(after)
    return {where: {**stood, key: written_like(like, figure, "angle", units=scene.units)}}


def arithmetic_at(path: Path, text: str, where: str) -> str | None:
    """Return where the arithmetic stands that a field's value is, by name or itself; None for a figure."""
    try:
        stands_at(text, where, file=str(path))
    except SceneMistake as error:
        return error.path
    return None


def fields_under(path: Path, text: str, where: str) -> dict[str, str]:
    """Return the texts that stand below a place of the file, by full path; entries of lists count from 1."""
    node = _node(path, text, where)
    found: dict[str, str] = {}

    def gather(one: Node, at: str) -> None:
        if one.kind == "map":
            for key, child in one.value.items():
                gather(child, f"{at}.{key}")
        elif one.kind == "list":
            for number, child in enumerate(one.value, start=1):
                gather(child, f"{at}[{number}]")
        else:
            found[at] = str(one.value)

    if node is not None:
        gather(node, where)
    return found


def values_changed(path: Path, before: str, after: str) -> str:
    """Return in words which named values differ between two texts; '' for none."""
    old, new = (fields_under(path, text, "values") for text in (before, after))
    return ", ".join(
        f"{at.removeprefix('values.')} = {value}" for at, value in new.items() if old.get(at) != value
    )


def free_name(scene: Scene, like: str) -> str:
    """Return a name that no part bears, made from another or from a kind: with a number behind it."""
    stem = like.rstrip("0123456789").rstrip("_") or like
    taken = {part.name for part in scene.parts}
    return next(name for number in itertools.count(1) if (name := f"{stem}_{number}") not in taken)


def starter(scene: Scene, kind: str, at: Vector) -> dict[str, str]:
    """Return what a part that is added begins with, by field, as text in the scene's units, in whole steps.

    Parameters
    ----------
    at : where it is to stand, over the ground there, [m] in the tank's axes; a run begins there
    """
    step, like = step_of(scene), "1/4" if scene.units == "in" else None

    def written(value: object) -> str:
        if isinstance(value, dict):
            return f"{{{', '.join(f'{key}: {written(one)}' for key, one in value.items())}}}"
        if isinstance(value, list):
            return f"[{', '.join(written(one) for one in value)}]"
        if isinstance(value, float):
            return written_like(like, round(value / step) * step, "length", units=scene.units)
        return str(value)

    begun: dict[str, object] = own_data(Path(__file__).with_name("starters.yaml")).get(kind, {})
    if kind == "overflow_box":  # its crest at the waterline
        begun |= {"top": scene.waterline + 0.03, "level": scene.waterline - 0.05, "weir": {"depth": 0.03}}
    if kind == "run":
        begun |= {"start": list(at), "pipe": "1/2 in sch 40" if scene.units == "in" else "d32 pn 10"}
    if "at" in field_specs(kinds()[kind]):
        height = begun.pop("at", {"ground": 0})
        assert isinstance(height, dict), "heights are written so in starters.yaml"
        begun = {"at": {"left": at[0], "front": at[1], **height}, **begun}
    return {name: written(value) for name, value in begun.items()}


def with_part(text: str, name: str, kind: str, given: Mapping[str, str]) -> str:
    """Return the text with a part more, behind the last.

    Raises
    ------
    LayoutError : the name can't be one, or is taken; a value can't be read.
    """
    if not is_own_name(name):
        raise LayoutError(f"{name!r} can't be a name", expected=OWN_NAME)
    entry = ", ".join([f"kind: {kind}", *(f"{field}: {value}" for field, value in given.items())])
    return added(text, ("parts",), name, f"{{{entry}}}")


def times(text: str, share: float, *, units: str) -> str:
    """Return a figure's text with the figure times a share, written as it is; anything else as it stands."""
    value = _value(text)
    if value is None:
        return text
    figure, kind = value
    return written_like(text, figure * share, kind, units=units)


def times_of(text: str, first: str) -> float | None:
    """Return what share of another figure a figure's text is; None where either is none, or that one is 0."""
    one, other = _value(text), _value(first)
    return one[0] / other[0] if one and other and other[0] and one[1] == other[1] else None


def _value(text: str) -> tuple[float, str] | None:
    """Return a figure and its kind as ``written_like`` takes them: SI where it has a unit."""
    found = _FIGURE.fullmatch(text.strip())
    if found is None:
        return None
    try:
        figure = float(sum(Fraction(word) for word in found["figure"].split()))
    except (ValueError, ZeroDivisionError):
        return None
    unit = exact_unit(found["unit"].strip()) if found["unit"] else None
    if unit is None:
        return None if found["unit"] else (figure, "number")
    kinds_of = {exact_unit("m"): "length", exact_unit("rad"): "angle"}
    kind = next(
        (kind for one, kind in kinds_of.items() if one is not None and one.dims == unit.dims), "number"
    )
    return (figure * float(unit.factor), kind) if not unit.offset else None


def _node(path: Path, text: str, where: str) -> Node | None:
    node: Node | None = read_tree(path, text=text)
    for step in where.split("."):
        if node is None or node.kind != "map":
            return None
        node = node.value.get(step)
    return node


def _figure(path: Path, text: str, where: str, value: float, kind: str, scene: Scene) -> str:
    """Return a figure as text, written as the one is that stands there; where none does, with its unit."""
    name = str(path)
    old = (
        None
        if arithmetic_at(path, text, where)
        else text_at(text, stands_at(text, where, file=name), file=name)
    )
    if old is None and kind == "angle":
        old = "0 deg"
    return written_like(old, value, kind, units=scene.units)
