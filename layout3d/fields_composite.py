"""Field types made of others: lists, named entries, records, either-or, points, positions and turns."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from typing import Any

from layout3d.errors import LayoutError, nearest
from layout3d.fields import OWN_NAME, FieldSpec, FieldType, Name, Node, Quantity, Reader, is_own_name

__all__ = [
    "Coordinate",
    "Either",
    "Entries",
    "Listing",
    "Point",
    "Position",
    "PositionType",
    "Record",
    "Steps",
    "Turn",
    "TurnType",
    "made",
    "record",
]

_X_FACES = ("left", "right", "x")
_Y_FACES = ("front", "back", "y")
_Z_FACES = ("bottom", "top", "ground", "waterline", "z")


def _need(kind: str, type: FieldType, node: Node, reader: Reader) -> None:
    if node.kind != kind:
        found = f"no {'mapping' if kind == 'map' else kind} stands here"
        reader.fail(node, found, expected=type.words())


@dataclass(frozen=True, slots=True)
class Listing(FieldType):
    """A list of values of one type."""

    item: FieldType
    least: int = 0
    most: int = 1000

    def read(self, node: Node, reader: Reader) -> tuple[Any, ...]:
        """Return the values; a single value that isn't a list is taken as a list of one."""
        nodes = node.value if node.kind == "list" else [node]
        if not self.least <= len(nodes) <= self.most:
            entries = "1 entry" if len(nodes) == 1 else f"{len(nodes)} entries"
            reader.fail(node, entries, expected=self.words())
        return tuple(reader.read(child, self.item, f"[{index + 1}]") for index, child in enumerate(nodes))

    def schema(self) -> dict[str, Any]:
        inner = self.item.schema()
        return {"anyOf": [{"type": "array", "items": inner, "maxItems": self.most}, inner]}

    def words(self) -> str:
        count = f"{self.least} to {self.most}" if self.most < 1000 else f"{self.least} or more"
        if self.least == self.most:
            count = str(self.most)
        return f"a list of {count}: {self.item.words()}"


@dataclass(frozen=True, slots=True)
class Entries(FieldType):
    """A mapping of the user's own names to values of one type."""

    item: FieldType
    what: str = "entry"

    def read(self, node: Node, reader: Reader) -> dict[str, Any]:
        _need("map", self, node, reader)
        values = {}
        for key, child in node.value.items():
            if is_own_name(key):
                values[key] = reader.read(child, self.item, f".{key}")
            else:
                reader.tell(node, f"{key!r} can't be a name", expected=OWN_NAME)
        return values

    def schema(self) -> dict[str, Any]:
        return {"type": "object", "additionalProperties": self.item.schema()}

    def words(self) -> str:
        return f"name: {self.what}, each {self.item.words()}"


@dataclass(frozen=True, slots=True)
class Record(FieldType):
    """A mapping with fixed keys, handed to ``make`` (a dict if none is given)."""

    fields: Mapping[str, FieldSpec]
    what: str
    make: Callable[..., Any] = dict

    def read(self, node: Node, reader: Reader) -> Any:
        _need("map", self, node, reader)
        values = reader.record(node, self.fields, self.what)
        return made(node, reader, lambda: self.make(**values))

    def schema(self) -> dict[str, Any]:
        return {
            "type": "object",
            "properties": {
                name: {**spec.type.schema(), "description": f"{spec.doc}: {spec.type.words()}"}
                for name, spec in self.fields.items()
            },
            "required": [name for name, spec in self.fields.items() if spec.required],
            "additionalProperties": False,
        }

    def words(self) -> str:
        return f"{self.what} with " + ", ".join(self.fields)


def made(node: Node, reader: Reader, make: Callable[[], Any]) -> Any:
    """Return what ``make`` gives; a mistake that it raises is told at the field its path names, or here.

    A path may lead further down: 'holes.drain', 'compartments[2].length'.
    """
    try:
        return make()
    except LayoutError as mistake:
        at = node.below(mistake.path)
        reader.fail(at, mistake.found, expected=mistake.expected, remedy=mistake.remedy, below=mistake.path)


def record(cls: type, what: str) -> Record:
    """Return the record type of a dataclass whose fields were declared with ``fields.field``."""
    from layout3d.fields import field_specs

    return Record(field_specs(cls), what, cls)


@dataclass(frozen=True, slots=True)
class Either(FieldType):
    """One type where a scalar stands, others where a list or a mapping stands."""

    scalar: FieldType | None = None
    list: FieldType | None = None
    map: FieldType | None = None

    def read(self, node: Node, reader: Reader) -> Any:
        chosen: FieldType | None = getattr(self, node.kind)
        if chosen is None:
            reader.fail(node, f"a {node.kind} stands here", expected=self.words())
        return chosen.read(node, reader)

    def _options(self) -> tuple[FieldType, ...]:
        return tuple(option for option in (self.scalar, self.list, self.map) if option is not None)

    def schema(self) -> dict[str, Any]:
        return {"anyOf": [option.schema() for option in self._options()]}

    def words(self) -> str:
        return ", or ".join(dict.fromkeys(option.words() for option in self._options()))


@dataclass(frozen=True, slots=True)
class Point(FieldType):
    """A fixed number of quantities in a list, such as [length, depth, height]."""

    names: tuple[str, ...] = ("x", "y", "z")
    item: Quantity = field(default_factory=Quantity)
    each: tuple[Quantity, ...] = ()
    """The type of each by itself, where they are not all of one."""

    def read(self, node: Node, reader: Reader) -> tuple[float, ...]:
        if node.kind != "list" or len(node.value) != len(self.names):
            reader.fail(node, f"no list of {len(self.names)} stands here", expected=self.words())
        items = self.each or (self.item,) * len(self.names)
        return tuple(
            reader.read(child, item, f".{name}")
            for child, item, name in zip(node.value, items, self.names, strict=True)
        )

    def schema(self) -> dict[str, Any]:
        count = len(self.names)
        items = {"type": ["number", "string"]} if self.each else self.item.schema()
        return {"type": "array", "items": items, "minItems": count, "maxItems": count}

    def words(self) -> str:
        told = ", ".join(item.words() for item in self.each) or f"each {self.item.words()}"
        return f"[{', '.join(self.names)}], {told}"


@dataclass(frozen=True, slots=True)
class Coordinate:
    """A distance from a face (or from the axes' origin for 'x', 'y', 'z'), [m]."""

    face: str
    distance: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Position:
    """Where a part stands, still relative: to faces of a space, or to a named point with an offset.

    ``space`` is '' for the tank's inside, else the name of a part or compartment that has faces of its own.
    ``base`` is '' or the name of an anchor, port or hole; then ``offset`` is added to it, [m].
    ``on`` is '' or the name of a part or body on whose face it lies, ``off`` its distance from that, [m];
    then one coordinate is None.
    """

    x: Coordinate | None = None
    y: Coordinate | None = None
    z: Coordinate | None = None
    space: str = ""
    base: str = ""
    offset: tuple[float, float, float] = (0.0, 0.0, 0.0)
    on: str = ""
    off: float = 0.0
    path: str = ""
    """Where it stands in the file: 'parts.rock.at'."""


_LENGTH = Quantity("length", least=-20.0, most=20.0)


@dataclass(frozen=True, slots=True)
class PositionType(FieldType):
    """A position: [x, y, z], distances from faces, on a part's face, or an offset from a named point."""

    def read(self, node: Node, reader: Reader) -> Position:
        if node.kind == "list":
            if len(node.value) != 3:
                reader.fail(node, f"a list of {len(node.value)} stands here", expected=self.words())
            x, y, z = (reader.read(c, _LENGTH, f".{n}") for c, n in zip(node.value, "xyz", strict=True))
            return Position(
                x=Coordinate("x", x), y=Coordinate("y", y), z=Coordinate("z", z), path=reader.where
            )
        if node.kind == "scalar":
            base = reader.read(node, Name("an anchor, a port or a hole"), "")
            return Position(base=base, path=reader.where)
        keys = node.value
        if "from" in keys:
            return self._from_point(node, reader)
        known = (*_X_FACES, *_Y_FACES, *_Z_FACES, "in", "face_of", *(("off",) if "face_of" in keys else ()))
        unknown = [key for key in keys if key not in known]
        for key in unknown:
            reader.tell(keys[key], f"{key!r} is not known in a position", expected=nearest(key, known))
        axes: dict[str, Coordinate] = {}
        lacking = []
        for axis, faces in zip("xyz", (_X_FACES, _Y_FACES, _Z_FACES), strict=True):
            given = [face for face in faces if face in keys]
            if len(given) == 1:
                axes[axis] = Coordinate(given[0], reader.read(keys[given[0]], _LENGTH, f".{given[0]}"))
            elif "face_of" in keys and not given:
                lacking.append(axis)
            elif given or not unknown:  # else the unknown key was meant for it
                found = " and ".join(given) if given else f"nothing of {', '.join(faces)}"
                reader.tell(node, f"{found} in a position", expected=f"exactly one of {', '.join(faces)}")
        space = reader.read(keys["in"], Name("a part or compartment"), ".in") if "in" in keys else ""
        on, off = "", 0.0
        if "face_of" in keys:
            on = reader.read(keys["face_of"], Name("a part, or a body of one (part.piece)"), ".face_of")
            off = reader.read(keys["off"], _LENGTH, ".off") if "off" in keys else 0.0
            if len(lacking) != 1 and not unknown:
                found = f"{len(axes)} distance{'s' * (len(axes) != 1)} beside `face_of:`"
                reader.tell(node, found, expected="two of the three: the face says the third")
        return Position(
            x=axes.get("x"),
            y=axes.get("y"),
            z=axes.get("z"),
            space=space,
            on=on,
            off=off,
            path=reader.where,
        )

    def _from_point(self, node: Node, reader: Reader) -> Position:
        keys = node.value
        for key in keys:
            if key not in ("from", "offset"):
                reader.tell(keys[key], f"{key!r} beside 'from' in a position", expected="from and offset")
        base = reader.read(keys["from"], Name("an anchor, a port or a hole"), ".from")
        offset = (
            reader.read(keys["offset"], Point(item=_LENGTH), ".offset") if "offset" in keys else (0.0,) * 3
        )
        return Position(base=base, offset=offset, path=reader.where)

    def schema(self) -> dict[str, Any]:
        number = _LENGTH.schema()
        faces = dict.fromkeys((*_X_FACES, *_Y_FACES, *_Z_FACES), number)
        return {
            "anyOf": [
                {"type": "array", "items": number, "minItems": 3, "maxItems": 3},
                {"type": "string"},
                {
                    "type": "object",
                    "properties": {
                        **faces,
                        "in": {"type": "string"},
                        "face_of": {"type": "string"},
                        "off": number,
                    },
                    "additionalProperties": False,
                },
                {
                    "type": "object",
                    "properties": {"from": {"type": "string"}, "offset": Point().schema()},
                    "required": ["from"],
                    "additionalProperties": False,
                },
            ]
        }

    def words(self) -> str:
        return (
            "a position: [x, y, z]; or {left|right|x, front|back|y, bottom|top|ground|waterline|z} with an "
            "optional in: space; or two of these and face_of: part; or {from: name, offset: [x, y, z]}; "
            "or a name"
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class Turn:
    """How hands turn a part of any kind: about its own length, then about the upright, then tip it, [rad].

    ``about_length`` is about the longest side of its box, clockwise as seen along that from its left, front
    or lower end; ``about_up`` anticlockwise from above. ``tip_right`` and ``tip_back`` lean its top towards
    the tank's right and back (below zero: left and front); both at once lean it one way between the two.
    """

    about_length: float = 0.0
    about_up: float = 0.0
    tip_right: float = 0.0
    tip_back: float = 0.0


_ANGLE = Quantity("angle", least=-6.2832, most=6.2832)
_TIP = Quantity("angle", least=0.0, most=3.1416)
_TURNS = {
    "about_up": _ANGLE,
    "about_length": _ANGLE,
    "tip_left": _TIP,
    "tip_right": _TIP,
    "tip_front": _TIP,
    "tip_back": _TIP,
}


@dataclass(frozen=True, slots=True)
class TurnType(FieldType):
    """A turn: an angle about the upright axis, or a mapping of the turns that hands make."""

    def read(self, node: Node, reader: Reader) -> Turn:
        if node.kind == "scalar":
            return Turn(about_up=_ANGLE.read(node, reader))
        specs = {name: FieldSpec(name=name, type=type, default=0.0, doc="") for name, type in _TURNS.items()}
        given = Record(specs, "a turn").read(node, reader)
        for one, other in (("left", "right"), ("front", "back")):
            if given[f"tip_{one}"] and given[f"tip_{other}"]:
                reader.fail(node, f"it tips to the {one} and to the {other}", expected="one of the two")
        return Turn(
            about_length=given["about_length"],
            about_up=given["about_up"],
            tip_right=given["tip_right"] - given["tip_left"],
            tip_back=given["tip_back"] - given["tip_front"],
        )

    def schema(self) -> dict[str, Any]:
        names = {name: type.schema() for name, type in _TURNS.items()}
        map_form = {"type": "object", "properties": names, "additionalProperties": False}
        return {"anyOf": [_ANGLE.schema(), map_form]}

    def words(self) -> str:
        return "an angle about the upright axis, or {" + ", ".join(_TURNS) + "}"


@dataclass(frozen=True, slots=True)
class Steps(FieldType):
    """A list of steps, each a bare word or a mapping in which one key names the step."""

    words_alone: Mapping[str, str]
    records: Mapping[str, Record]
    what: str = "step"

    def read(self, node: Node, reader: Reader) -> tuple[Any, ...]:
        """Return a tuple of (word, record or None)."""
        _need("list", self, node, reader)
        step = _Step(self)
        return tuple(reader.read(child, step, f"[{index + 1}]") for index, child in enumerate(node.value))

    def schema(self) -> dict[str, Any]:
        return {"type": "array", "items": _Step(self).schema()}

    def words(self) -> str:
        return f"a list of steps: {_Step(self).words()}"


@dataclass(frozen=True, slots=True)
class _Step(FieldType):
    """One step of ``Steps``, a type of its own so that each bad step is told."""

    steps: Steps

    def read(self, node: Node, reader: Reader) -> tuple[str, Any]:
        alone, records, what = self.steps.words_alone, self.steps.records, self.steps.what
        known = (*alone, *records)
        if node.kind == "scalar":
            if node.value not in alone and node.value in records:
                value = records[node.value].fields[node.value].type.words()
                reader.fail(
                    node, f"{what} {node.value!r} without its value", expected=f"{node.value}: {value}"
                )
            if node.value not in alone:
                reader.fail(
                    node, f"{what} {node.value!r} is not known", expected=nearest(node.value, known, most=30)
                )
            return node.value, None
        keys = list(node.value) if node.kind == "map" else []
        if not keys:
            reader.fail(node, f"no {what} stands here", expected=nearest("", known, most=30))
        named = [key for key in keys if key in records]
        first = named[0] if len(named) == 1 else keys[0]
        if first not in records:
            told = "with a value" if first in alone else "is not known"
            expected = f"{first!r} alone" if first in alone else nearest(first, known, most=30)
            reader.fail(node, f"{what} {first!r} {told}", expected=expected)
        return first, records[first].read(node, reader)

    def schema(self) -> dict[str, Any]:
        records = self.steps.records.values()
        return {"anyOf": [{"enum": list(self.steps.words_alone)}, *(each.schema() for each in records)]}

    def words(self) -> str:
        return ", ".join(dict.fromkeys([*self.steps.words_alone, *self.steps.records]))
