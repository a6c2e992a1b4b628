"""Reads a scene file into a ``Scene``: every mistake of the file is found in one run.

Fields tell how they are read (``layout3d.fields``); this module gives them arithmetic over named values and
other parts' dimensions, catalogue names, and a place to put mistakes. Nothing is built here.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from pathlib import Path
from typing import Any, NoReturn

from layout3d.catalog import Catalog, default
from layout3d.errors import LayoutError, Place, SceneMistake, SceneRefused, UnknownName, nearest
from layout3d.fields import FieldSpec, FieldType, Quantity, Source, field_specs
from layout3d.fields_composite import Listing, made, record
from layout3d.parts.base import Part
from layout3d.parts.registry import kinds
from layout3d.scene import arithmetic
from layout3d.scene.own import OwnEntries, limit_kind
from layout3d.scene.scene import Acceptance, Clearance, Conditions, Head, Scene
from layout3d.scene.tree import Node, read_tree
from layout3d.units import KINDS

__all__ = ["read_scene"]

_NAME = re.compile(r"[A-Za-z_][A-Za-z0-9_]{0,59}$")
_SECTIONS = ("values", "parts", "clearances", "accept", "conditions", "limits", "catalog")
MOST_PARTS = 2000
"""Parts in one scene; a display of this kind has some hundred."""


def read_scene(
    path: str | Path, *, overrides: Mapping[str, str] | None = None, text: str | None = None
) -> Scene:
    """Read a scene file.

    Parameters
    ----------
    path : the YAML file; ``text``, if given, is read in its stead (its folder still counts)
    overrides : named values to set, as text in the file's own arithmetic

    Returns
    -------
    The scene, SI.

    Raises
    ------
    SceneRefused : with every mistake found, each with its place, what was expected and a remedy.
    """
    path = Path(path)
    root = read_tree(path, text=text)
    return _SceneReader(path, root, dict(overrides or {})).scene()


class _GiveUpError(Exception):
    """A value can't be had; its mistake is recorded already."""


_FAILED: Any = object()


class _SceneReader:
    """Holds what reading needs: the tree, the mistakes so far, and what was evaluated already."""

    def __init__(self, path: Path, root: Node, overrides: dict[str, str]) -> None:
        self.path = path
        self.root = root
        self.mistakes: list[LayoutError] = []
        self.steps: list[str] = []
        self.values: dict[str, arithmetic.Quantity | None] = {}
        self.parts: dict[str, Part | None] = {}
        self.dimensions: dict[str, Any] = {}
        self.busy: list[str] = []
        self.given_up = 0  # values that could not be had, though their mistake may have been told before
        self.bare_length = 0.001
        self.catalog: Catalog = default()
        self.value_nodes: dict[str, Node] = {}
        self.part_nodes: dict[str, Node] = {}
        self.overrides = overrides

    # -- the whole file -------------------------------------------------------------------------

    def scene(self) -> Scene:
        """Read everything; raise all mistakes at once."""
        root = self.root
        if root.kind != "map":
            raise SceneRefused(
                [SceneMistake(f"a {root.kind} stands on top", expected="a mapping", place=root.place)]
            )
        head_specs = field_specs(Head)
        units = root.value.get("units")
        if units is not None and units.value == "in":
            self.bare_length = 0.0254
        self.value_nodes = self._named_nodes("values")
        self.part_nodes = self._named_nodes("parts")
        self._take_overrides()
        self._read_catalog()
        top = {key: node for key, node in root.value.items() if key not in _SECTIONS}
        head = self._try(lambda: self.record(_Map(top, root), head_specs, "a scene", also=_SECTIONS))
        if "parts" not in root.value:
            self._mistake(root, "the scene has no parts", expected="a mapping `parts:` of name: part")
        if len(self.part_nodes) > MOST_PARTS:
            self._mistake(root, f"{len(self.part_nodes)} parts", expected=f"at most {MOST_PARTS}")
            raise SceneRefused(self.mistakes)
        values = {name: self._try(lambda name=name: self._value(name)) for name in self.value_nodes}
        for name in self.part_nodes:
            self._part(name)
        clearances = self._section("clearances", Listing(record(Clearance, "a clearance")), ())
        accept = self._section("accept", Listing(record(Acceptance, "an acceptance")), ())
        conditions = self._section("conditions", record(Conditions, "conditions"), Conditions())
        self._read_limits()
        self._one_tank()
        if self.mistakes:
            raise SceneRefused(self.mistakes)
        return Scene(
            file=str(self.path),
            folder=self.path.parent,
            title=head["title"] or self.path.stem,
            units=head["units"],
            style=head["style"] or ("inch" if head["units"] == "in" else "metric"),
            waterline=head["waterline"],
            values={name: quantity.value for name, quantity in values.items()},
            parts=tuple(part for part in self.parts.values() if part is not None),
            clearances=clearances,
            accept=accept,
            conditions=conditions,
            catalog=self.catalog,
            places={key: node.place for key, node in root.value.items()},
        )

    def _named_nodes(self, section: str) -> dict[str, Node]:
        node = self.root.value.get(section)
        if node is None:
            return {}
        if node.kind != "map":
            self.steps = [section]
            self._mistake(node, f"a {node.kind} stands here", expected="a mapping of names")
            self.steps = []
            return {}
        for name in node.value:
            if not _NAME.match(name):
                self.steps = [section]
                self._mistake(
                    node.value[name],
                    f"{name!r} can't be a name",
                    expected="a letter, then letters, digits and _, at most 60",
                )
                self.steps = []
        return {name: child for name, child in node.value.items() if _NAME.match(name)}

    def _take_overrides(self) -> None:
        for name, text in self.overrides.items():
            if name not in self.value_nodes:
                self.mistakes.append(
                    UnknownName(
                        f"--set {name}: no value is called so",
                        expected=nearest(name, self.value_nodes)
                        if self.value_nodes
                        else "a scene with values",
                        place=Place(file=str(self.path)),
                    )
                )
                continue
            place = Place(file=f"--set {name}", line=1, column=1)
            self.value_nodes[name] = Node(kind="scalar", value=text, plain=True, place=place)

    def _one_tank(self) -> None:
        tanks = [n for n, node in self.part_nodes.items() if self._kind_text(node) == "tank"]
        if len(tanks) != 1 and "parts" in self.root.value and self.root.value["parts"].kind == "map":
            found = "no tank" if not tanks else f"{len(tanks)} tanks ({', '.join(tanks)})"
            self._mistake(self.root.value["parts"], found, expected="exactly one part of kind: tank")

    def _section(self, name: str, type: FieldType, default: Any) -> Any:
        node = self.root.value.get(name)
        return default if node is None else self.read(node, type, name)

    def _read_catalog(self) -> None:
        own = self._section("catalog", OwnEntries(), None)
        if own is not None and own is not _FAILED:
            self._add_own(own, self.root.value["catalog"])

    def _read_limits(self) -> None:
        """Read the limits that the scene sets, and lay them over the catalogue's."""
        node = self.root.value.get("limits")
        if node is None:
            return
        self.steps.append("limits")
        if node.kind != "map":
            self._mistake(node, f"a {node.kind} stands here", expected="a mapping of limit: value")
        else:
            known = self.catalog.names("limits")
            values: dict[str, float] = {}
            for name, child in node.value.items():
                if name not in known:
                    self._mistake(child, f"no limit is called {name!r}", expected=nearest(name, known))
                    continue
                kind = limit_kind(self.catalog.limit(name).unit)
                value = self.read(child, Quantity(kind, least=0.0), f".{name}")
                if value is not _FAILED:
                    values[name] = value
            self._add_own({"limits": values}, node)
        self.steps.pop()

    def _add_own(self, own: Mapping[str, Mapping[str, Any]], node: Node) -> None:
        try:
            self.catalog = self.catalog.with_own(own)
        except SceneRefused as refused:
            for mistake in refused.mistakes:
                mistake.place = node.place
                self.mistakes.append(mistake)

    # -- what field types ask for (fields.Reader) --------------------------------------------------

    def quantity(self, node: Source, kind: str) -> float:
        """Evaluate arithmetic to a quantity of this kind, SI."""
        try:
            quantity = self._evaluate(node)
            return arithmetic.as_kind(quantity, kind, bare_length=self.bare_length)
        except _GiveUpError:
            raise
        except LayoutError as mistake:
            self.fail(node, mistake.found, expected=mistake.expected, remedy=mistake.remedy)

    def fail(self, node: Source, found: str, *, expected: str = "", remedy: str = "") -> NoReturn:
        """Record a mistake and give up this value."""
        self._mistake(node, found, expected=expected, remedy=remedy)
        raise _GiveUpError

    def catalog_name(self, node: Source, table: str) -> str:
        """Return the canonical name of a catalogue entry."""
        try:
            return str(getattr(self.catalog, table)(str(node.value)).name)
        except LayoutError as mistake:
            self.fail(node, mistake.found, expected=mistake.expected, remedy=mistake.remedy)

    def read(self, node: Source, type: FieldType, step: str) -> Any:
        """Read a value one step down; a failed one gives a marker, so that reading goes on."""
        self.steps.append(step)
        try:
            return type.read(node, self)
        except _GiveUpError:
            self.given_up += 1
            return _FAILED
        finally:
            self.steps.pop()

    def record(
        self, node: Source, fields: Mapping[str, FieldSpec], what: str, also: tuple[str, ...] = ()
    ) -> dict[str, Any]:
        """Read a mapping with these fields; unknown and missing keys are mistakes."""
        before = len(self.mistakes) + self.given_up
        known = (*fields, *also)
        key_places: Mapping[str, Place] = getattr(node, "key_places", {})
        for key, child in node.value.items():
            if key not in fields:
                self._mistake(
                    child,
                    f"{what} has no key {key!r}",
                    expected=nearest(key, known, most=40),
                    place=key_places.get(key),
                )
        result: dict[str, Any] = {}
        for name, spec in fields.items():
            if name in node.value:
                result[name] = self.read(node.value[name], spec.type, f".{name}")
            elif spec.required:
                self._mistake(node, f"{what} lacks {name!r}", expected=f"{name}: {spec.type.words()}")
            else:
                result[name] = spec.default
        if len(self.mistakes) + self.given_up > before:
            raise _GiveUpError
        return result

    # -- names ------------------------------------------------------------------------------------

    def _evaluate(self, node: Source) -> arithmetic.Quantity:
        if node.kind != "scalar":
            self.fail(node, f"a {node.kind} stands here", expected="a number, or arithmetic that gives one")
        return arithmetic.evaluate(str(node.value), lookup=self._lookup, bare_length=self.bare_length)

    def _lookup(self, name: str) -> arithmetic.Quantity:
        if "." not in name:
            if name not in self.value_nodes:
                raise UnknownName(
                    f"no value is called {name!r}",
                    expected=nearest(name, self.value_nodes)
                    if self.value_nodes
                    else "a name under `values:`",
                )
            return self._value(name)
        return self._dimension(name)

    def _value(self, name: str) -> arithmetic.Quantity:
        if name not in self.values:
            self.values[name] = self._guarded(f"values.{name}", self.value_nodes[name])
        quantity = self.values[name]
        if quantity is None:
            raise _GiveUpError
        return quantity

    def _guarded(self, path: str, node: Node) -> arithmetic.Quantity | None:
        """Evaluate a node that stands elsewhere; circles are told once, at the node that closes them."""
        if path in self.busy:
            circle = " -> ".join([*self.busy[self.busy.index(path) :], path])
            raise SceneMistake(f"a circle of names: {circle}", expected="values that don't need themselves")
        self.busy.append(path)
        steps, self.steps = self.steps, [path]
        try:
            return self._evaluate(node)
        except _GiveUpError:
            return None
        except LayoutError as mistake:
            self._mistake(node, mistake.found, expected=mistake.expected, remedy=mistake.remedy)
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
        cls = kinds().get(self._kind_text(node))
        if cls is None:
            raise _GiveUpError  # its own mistake is told where the part stands
        specs = {n: s for n, s in field_specs(cls).items() if isinstance(s.type, Quantity)}
        if rest in specs:
            return self._field_dimension(name, node, specs[rest])
        if rest in cls.dimensions:
            part = self._part(part_name)
            if part is None:
                raise _GiveUpError
            return _quantity(cls.dimensions[rest](part), "length")
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
            return _quantity(float(spec.default), kind)
        if name not in self.dimensions:
            self.dimensions[name] = self._guarded(f"parts.{name}", child)
        quantity = self.dimensions[name]
        if quantity is None:
            raise _GiveUpError
        return _quantity(arithmetic.as_kind(quantity, kind, bare_length=self.bare_length), kind)

    # -- parts ------------------------------------------------------------------------------------

    @staticmethod
    def _kind_text(node: Node) -> str:
        child = node.value.get("kind") if node.kind == "map" else None
        return str(child.value) if child is not None and child.kind == "scalar" else ""

    def _part(self, name: str) -> Part | None:
        path = f"parts.{name}"
        if path in self.busy:
            circle = " -> ".join([*self.busy[self.busy.index(path) :], path])
            raise SceneMistake(f"a circle of names: {circle}", expected="values that don't need themselves")
        if name in self.parts:
            return self.parts[name]
        self.busy.append(path)
        steps, self.steps = self.steps, [path]
        self.parts[name] = None
        try:
            self.parts[name] = self._read_part(name, self.part_nodes[name])
        except _GiveUpError:
            pass
        finally:
            self.steps = steps
            self.busy.pop()
        return self.parts[name]

    def _read_part(self, name: str, node: Node) -> Part:
        if node.kind != "map":
            self.fail(node, f"a {node.kind} stands here", expected="a mapping with `kind:`")
        kind_node = node.value.get("kind")
        known = kinds()
        if kind_node is None:
            self.fail(node, "the part has no `kind:`", expected=nearest("", known, most=40))
        text = self._kind_text(node)
        if kind_node.kind != "scalar":
            self.fail(kind_node, f"a {kind_node.kind} stands here", expected=nearest("", known, most=40))
        if text not in known:
            self.fail(kind_node, f"no part kind is called {text!r}", expected=nearest(text, known, most=40))
        cls = known[text]
        rest = {key: child for key, child in node.value.items() if key != "kind"}
        values = self.record(_Map(rest, node), field_specs(cls), f"a {text}", also=("kind",))
        places = {key: child.place for key, child in node.value.items()}
        part: Part = made(node, self, lambda: cls(name=name, place=node.place, places=places, **values))
        return part

    # -- mistakes ---------------------------------------------------------------------------------

    def _mistake(
        self, node: Source, found: str, *, expected: str = "", remedy: str = "", place: Place | None = None
    ) -> None:
        path = "".join(self.steps).lstrip(".")
        self.mistakes.append(
            SceneMistake(found, expected=expected, remedy=remedy, path=path, place=place or node.place)
        )

    def _try(self, call: Any) -> Any:
        try:
            return call()
        except _GiveUpError:
            return _FAILED


def _quantity(value: float, kind: str) -> arithmetic.Quantity:
    return arithmetic.Quantity(value=value, dims=KINDS[kind].dims, bare=False)


class _Map:
    """A mapping node with some keys taken out, standing where the whole stands."""

    kind = "map"
    plain = False

    def __init__(self, value: dict[str, Node], whole: Node) -> None:
        self.value = value
        self.place = whole.place
        self.key_places = whole.key_places
