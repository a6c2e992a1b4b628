"""Reads nodes of a scene's tree for the field types: arithmetic over names, catalogue names, mistakes.

A name is a named value or a dimension of a part (``tank.inside_depth``); parts are read when a name asks for
them, each once. What sections a file has is told in ``scene.reader``. Nothing is built here.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import replace
from typing import Any, NoReturn

from layout3d.catalog import Catalog, default
from layout3d.errors import LayoutError, Place, SceneMistake, UnknownName, nearest, nearest_name
from layout3d.fields import FieldSpec, FieldType, Node, Quantity, field_specs
from layout3d.fields_composite import made
from layout3d.parts.base import Part
from layout3d.parts.registry import kinds
from layout3d.scene import arithmetic
from layout3d.scene.file import shown
from layout3d.scene.scene import PartRead
from layout3d.scene.syntax import steps_of

__all__ = ["FAILED", "GiveUpError", "NodeReader", "kind_text"]

FAILED: Any = object()
"""Stands where a value could not be read; its mistake is recorded."""

_DEEPEST_VALUES = 50
_DEEPEST_PARTS = 15
"""How deep values and parts may need each other before they are read; well within Python's own stack."""


class GiveUpError(Exception):
    """A value can't be had; its mistake is recorded already."""


class NodeReader:
    """What field types ask of a reader (``fields.Reader``), and the names of one scene."""

    def __init__(self) -> None:
        self.mistakes: list[LayoutError] = []
        self.steps: list[str] = []
        self.values: dict[str, arithmetic.Quantity | None] = {}
        self.parts: dict[str, Part | None] = {}
        self.dimensions: dict[str, arithmetic.Quantity | None] = {}
        self.busy: list[str] = []
        self.given_up = 0  # values that could not be had, though their mistake may have been told before
        self.too_deep = False
        self.bare_length = 0.001
        self.system = "metric"
        self.catalog: Catalog = default()
        self.value_nodes: dict[str, Node] = {}
        self.part_nodes: dict[str, Node] = {}
        self.asked: dict[str, dict[str, arithmetic.Quantity]] = {}  # what names stood for, by who asked
        self.before: Mapping[str, PartRead] = {}

    # -- what field types ask for -------------------------------------------------------------------

    @property
    def where(self) -> str:
        """Return the path of what is being read, from the file's top: 'parts.rock.at'."""
        return "".join(self.steps).lstrip(".")

    def quantity(self, node: Node, kind: str, *, expected: str = "", example: str = "") -> float:
        """Evaluate arithmetic to a quantity of this kind, SI."""
        quantity = self._evaluate(node)
        try:
            return arithmetic.as_kind(
                quantity, kind, bare_length=self.bare_length, expected=expected, example=example
            )
        except arithmetic.ArithmeticMistake as mistake:
            self._tell_arithmetic(node, mistake, 0)
            raise GiveUpError from mistake

    def fail(
        self, node: Node, found: str, *, expected: str = "", remedy: str = "", below: str = ""
    ) -> NoReturn:
        """Record a mistake and give up this value."""
        self.tell(node, found, expected=expected, remedy=remedy, below=below)
        raise GiveUpError

    def tell(
        self,
        node: Node,
        found: str,
        *,
        expected: str = "",
        remedy: str = "",
        below: str = "",
        place: Place | None = None,
    ) -> None:
        """Record a mistake and read on; the record around it is given up at its end."""
        path = f"{self.where}.{below}" if below else self.where
        self.mistakes.append(
            SceneMistake(found, expected=expected, remedy=remedy, path=path, place=place or node.place)
        )

    def catalog_name(self, node: Node, table: str) -> str:
        """Return the canonical name of a catalogue entry."""
        try:
            return str(getattr(self.catalog, table)(str(node.value)).name)
        except LayoutError as mistake:
            self.fail(node, mistake.found, expected=mistake.expected, remedy=mistake.remedy)

    def read(self, node: Node, type: FieldType, step: str) -> Any:
        """Read a value one step down; a failed one gives a marker, so that reading goes on."""
        self.steps.append(step)
        try:
            return type.read(node, self)
        except GiveUpError:
            self.given_up += 1
            return FAILED
        finally:
            self.steps.pop()

    def record(
        self, node: Node, fields: Mapping[str, FieldSpec], what: str, also: tuple[str, ...] = ()
    ) -> dict[str, Any]:
        """Read a mapping with these fields; unknown and missing keys are mistakes, a misspelt one once."""
        before = len(self.mistakes) + self.given_up
        known, meant = (*fields, *also), set[str | None]()
        for key, child in node.value.items():
            if key not in fields:
                meant.add(nearest_name(key, known))
                self.tell(
                    child,
                    f"{what} has no key {key!r}",
                    expected=nearest(key, known, most=40),
                    place=node.key_places.get(key),
                )
        result: dict[str, Any] = {}
        for name, spec in fields.items():
            if name in node.value:
                result[name] = self.read(node.value[name], spec.type, f".{name}")
            elif spec.required and name not in meant:
                self.tell(node, f"{what} lacks {name!r}", expected=f"{name}: {spec.type.words()}")
            else:
                result[name] = spec.default
        if len(self.mistakes) + self.given_up > before:
            raise GiveUpError
        return result

    # -- names ----------------------------------------------------------------------------------------

    def value(self, name: str) -> arithmetic.Quantity:
        """Return a named value, evaluated once."""
        if name not in self.values:
            self.values[name] = self._elsewhere(
                f"values.{name}", lambda: self._evaluate(self.value_nodes[name])
            )
        quantity = self.values[name]
        if quantity is None:
            raise GiveUpError
        return quantity

    def part(self, name: str) -> Part | None:
        """Return a part, read once; None where it has mistakes."""
        if name not in self.parts:
            self.parts[name] = self._elsewhere(
                f"parts.{name}", lambda: self._as_before(name) or self._read_part(name)
            )
        return self.parts[name]

    def _evaluate(self, node: Node) -> arithmetic.Quantity:
        if node.kind != "scalar":
            self.fail(node, f"a {node.kind} stands here", expected="a number, or arithmetic that gives one")
        text = str(node.value)
        asked = ""

        def lookup(name: str) -> arithmetic.Quantity:
            nonlocal asked
            asked = name
            return self._lookup(name)

        try:
            return arithmetic.evaluate(text, lookup=lookup, bare_length=self.bare_length)
        except arithmetic.ArithmeticMistake as mistake:
            self._tell_arithmetic(node, mistake, mistake.offset)
            raise GiveUpError from mistake
        except LayoutError as mistake:  # of a name; the first that fails ends it
            offset = next((s.offset for s in steps_of(text) if s.kind == "name" and s.text == asked), 0)
            self._tell_arithmetic(node, mistake, offset)
            raise GiveUpError from mistake

    def _tell_arithmetic(self, node: Node, mistake: LayoutError, offset: int) -> None:
        """Record what is wrong with an expression at its place within the text, and quote the text."""
        text, found, place = str(node.value).strip(), mistake.found, node.place
        if node.text_column:
            place = Place(place.file, place.line, node.text_column + offset)
        if text and text not in found:
            found = f"{found}, in {shown(text)}"
        self.tell(node, found, expected=mistake.expected, remedy=mistake.remedy, place=place)

    def _lookup(self, name: str) -> arithmetic.Quantity:
        if "." in name:
            quantity = self._dimension(name)
        elif name not in self.value_nodes:
            known = self.value_nodes
            raise UnknownName(
                f"no value is called {name!r}",
                expected=nearest(name, known) if known else "a name under `values:`",
            )
        else:
            quantity = self.value(name)
        if self.busy:
            self.asked.setdefault(self.busy[-1], {})[name] = quantity
        return quantity

    def _elsewhere(self, path: str, read: Callable[[], Any]) -> Any:
        """Read what stands elsewhere in the file, None where it has mistakes.

        Raises
        ------
        SceneMistake : a circle, or names that need each other too deep; told once, where it is met.
        """
        if path in self.busy:
            circle = " -> ".join([*self.busy[self.busy.index(path) :], path])
            raise SceneMistake(f"a circle of names: {circle}", expected="values that don't need themselves")
        whole = _is_part(path)
        nested = sum(_is_part(each) == whole for each in self.busy)
        if nested >= (_DEEPEST_PARTS if whole else _DEEPEST_VALUES):
            if self.too_deep:
                raise GiveUpError
            self.too_deep = True
            raise SceneMistake(
                f"{nested} names that each need the next one, down to {path}",
                expected="names that need those above them in the file",
                remedy="write what others need above them",
            )
        self.busy.append(path)
        steps, self.steps = self.steps, [path]
        try:
            return read()
        except GiveUpError:
            return None
        finally:
            self.steps = steps
            self.busy.pop()

    def _dimension(self, name: str) -> arithmetic.Quantity:
        part_name, _, rest = name.partition(".")
        node = self.part_nodes.get(part_name)
        if node is None:
            raise UnknownName(
                f"no part is called {part_name!r}", expected=nearest(part_name, self.part_nodes)
            )
        cls = kinds().get(kind_text(node))
        if cls is None:
            raise GiveUpError  # its own mistake is told where the part stands
        specs = {n: s for n, s in field_specs(cls).items() if isinstance(s.type, Quantity)}
        if rest in specs:
            return self._field_dimension(name, node, specs[rest])
        if rest in cls.dimensions:
            part = self.part(part_name)
            if part is None:
                raise GiveUpError
            return arithmetic.quantity_of(cls.dimensions[rest](part), "length")
        raise UnknownName(
            f"{part_name} has no dimension {rest!r}",
            expected=nearest(rest, [*specs, *cls.dimensions], most=40),
        )

    def _field_dimension(self, name: str, node: Node, spec: FieldSpec) -> arithmetic.Quantity:
        kind = spec.type.kind if isinstance(spec.type, Quantity) else "length"
        child = node.value.get(spec.name)
        if child is None:
            if not isinstance(spec.default, float | int):
                raise SceneMistake(f"{name} is not given", expected=f"`{spec.name}:` in that part")
            return arithmetic.quantity_of(float(spec.default), kind)
        if name not in self.dimensions:
            self.dimensions[name] = self._elsewhere(f"parts.{name}", lambda: self._evaluate(child))
        quantity = self.dimensions[name]
        if quantity is None:
            raise GiveUpError
        try:
            value = arithmetic.as_kind(quantity, kind, bare_length=self.bare_length)
        except arithmetic.ArithmeticMistake as mistake:
            raise GiveUpError from mistake  # told where the field itself is read
        return arithmetic.quantity_of(value, kind)

    # -- parts ------------------------------------------------------------------------------------------

    def _as_before(self, name: str) -> Part | None:
        """Return the part as it was read before, if it stands so still, and names in it for the same."""
        before = self.before.get(name)
        if before is None or not before.node.says_as(self.part_nodes[name]):
            return None
        too_deep = self.too_deep
        try:
            for each, quantity in before.asked.items():
                if repr(self._lookup(each)) != repr(quantity):  # 0.0 is not -0.0
                    return None
        except (LayoutError, GiveUpError):  # told where it is read
            self.too_deep = too_deep
            return None
        return before.part

    def read_parts(self) -> dict[str, PartRead]:
        """Return all parts that were read, each with what it rests on."""
        return {
            name: PartRead(part, self.part_nodes[name], self.asked.get(f"parts.{name}", {}))
            for name, part in self.parts.items()
            if part is not None
        }

    def _read_part(self, name: str) -> Part:
        self.asked.pop(f"parts.{name}", None)
        node = self.part_nodes[name]
        if node.kind != "map":
            self.fail(node, f"a {node.kind} stands here", expected="a mapping with `kind:`")
        kind_node = node.value.get("kind")
        known = kinds()
        if kind_node is None:
            self.fail(node, "the part has no `kind:`", expected=nearest("", known, most=40))
        text = kind_text(node)
        if kind_node.kind != "scalar":
            self.fail(kind_node, f"a {kind_node.kind} stands here", expected=nearest("", known, most=40))
        if text not in known:
            self.fail(kind_node, f"no part kind is called {text!r}", expected=nearest(text, known, most=40))
        cls = known[text]
        rest = {key: child for key, child in node.value.items() if key != "kind"}
        what = f"an {text}" if text[0] in "aeiou" else f"a {text}"
        values = self.record(replace(node, value=rest), field_specs(cls), what, also=("kind",))
        part: Part = made(node, self, lambda: cls(name=name, **values))
        return part


def kind_text(node: Node) -> str:
    """Return what a part's node says after ``kind:``; '' for none."""
    child = node.value.get("kind") if node.kind == "map" else None
    return str(child.value) if child is not None and child.kind == "scalar" else ""


def _is_part(path: str) -> bool:
    """Tell a whole part, 'parts.tank', from a value or one field of a part."""
    return path.startswith("parts.") and path.count(".") == 1
