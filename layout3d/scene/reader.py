"""Reads a scene file into a ``Scene``: every mistake of the file is found in one run.

Here stand the sections of the file and what they ask of each other; how a node becomes a value is told in
``scene.node_reader``. Nothing is built here.
"""

from __future__ import annotations

import re
from collections.abc import Collection, Mapping
from dataclasses import replace
from pathlib import Path
from typing import Any

from layout3d.errors import Place, SceneMistake, SceneRefused, UnknownName, nearest, nearest_name
from layout3d.fields import FieldType, Node, Quantity, field_specs
from layout3d.parts.base import GROUPS
from layout3d.parts.registry import is_tank, kinds
from layout3d.scene import arithmetic
from layout3d.scene.node_reader import FAILED, GiveUpError, NodeReader, kind_text
from layout3d.scene.own import OwnEntries, limit_kind
from layout3d.scene.scene import Head, Reading, Scene, Sections
from layout3d.scene.syntax import FUNCTIONS
from layout3d.scene.tree import HalfRead, read_tree, with_text
from layout3d.units import KINDS, kind_of, known_units, show, shown_in

__all__ = ["SECTIONS", "read_scene"]

_NAME = re.compile(r"[A-Za-z_][A-Za-z0-9_]{0,59}$")
SECTIONS = ("values", "parts", *field_specs(Sections), "limits", "catalog")
_Reason = tuple[str, str]
"""What is wrong with a name, and what to do."""

_ANOTHER = "give it another name"
_MIXED_GROUPS = ("glass", "plumbing")
"""Groups that bodies of more than one part kind are in: a tank has panes and bulkheads."""

MOST_PARTS = 2000
"""Parts in one scene; a display of this kind has some hundred."""


def read_scene(
    path: str | Path,
    *,
    overrides: Mapping[str, str] | None = None,
    text: str | None = None,
    last: Scene | None = None,
) -> Scene:
    """Read a scene file.

    Parameters
    ----------
    path : the YAML file; ``text``, if given, is read in its stead (its folder still counts)
    overrides : named values, or fields by their path ('parts.rock.at.left'), to set, as text in the file's
        own arithmetic
    last : this file's scene as it was read before: parts that stand so still are taken from it. The scene
        is the same as without it.

    Returns
    -------
    The scene, SI.

    Raises
    ------
    SceneRefused : with every mistake found, each with its place, what was expected and a remedy.
    UnknownName : an override's path leads to no field.
    """
    path = Path(path)
    try:
        return _read(path, read_tree(path, text=text), overrides, last)
    except HalfRead as half:
        try:
            _read(path, half.root, overrides, None)
        except SceneRefused as more:
            further = (mistake for mistake in more.mistakes if mistake.place not in half.doubtful)
            raise SceneRefused([*half.mistakes, *further]) from None
        except UnknownName:
            pass  # of an override, which is told once the file is mended
        raise


def _read(path: Path, root: Node, overrides: Mapping[str, str] | None, last: Scene | None) -> Scene:
    named = {}
    for name, new in (overrides or {}).items():
        if "." in name:
            root = with_text(root, name, new, Place(file=f"--set {name}", line=1, column=1))
        else:
            named[name] = new
    return _SceneReader(path, root, named, last).scene()


class _SceneReader(NodeReader):
    """Reads the sections of one file."""

    def __init__(self, path: Path, root: Node, overrides: dict[str, str], last: Scene | None = None) -> None:
        super().__init__()
        self.path = path
        self.last = last
        self.root = root
        self.overrides = overrides

    def scene(self) -> Scene:
        """Read everything; raise all mistakes at once."""
        root = self.root
        if root.kind != "map":
            raise SceneRefused(
                [
                    SceneMistake(
                        f"the file is {'a list' if root.kind == 'list' else 'one line of text'}",
                        expected="keys with their values: `units: mm`, `parts:` and so on",
                        place=root.place,
                    )
                ]
            )
        self._read_units()
        with shown_in(self.system):
            return self._read_all()

    def _read_all(self) -> Scene:
        self.value_nodes = self._named_nodes("values")
        self.part_nodes = self._named_nodes("parts")
        self._take_overrides()
        self._taken_names()
        self._refuse_other_kinds()
        self._read_catalog()
        settings = (self.bare_length, self.system, self.catalog)
        if self.last is not None and self.last.read.settings == settings:
            self.before = self.last.read.parts
        head = self._read_head()
        if len(self.part_nodes) > MOST_PARTS:
            self.tell(self.root, f"{len(self.part_nodes)} parts", expected=f"at most {MOST_PARTS}")
            raise SceneRefused(self.mistakes)
        values = {name: self._read_value(name) for name in self.value_nodes}
        parts = [self.part(name) for name in self.part_nodes]
        sections = {
            name: self._section(name, spec.type, spec.default) for name, spec in field_specs(Sections).items()
        }
        self._read_limits()
        self._one_tank()
        if self.mistakes:
            raise SceneRefused(self.mistakes)
        return Scene(
            file=str(self.path),
            folder=self.path.parent,
            title=head["title"] or self.path.stem,
            units=head["units"],
            date=head["date"],
            style=self.system,
            waterline=head["waterline"],
            values=values,
            parts=tuple(part for part in parts if part is not None),
            **sections,
            catalog=self.catalog,
            read=Reading(self.root, settings, self.read_parts()),
        )

    def _read_units(self) -> None:
        """Read what a bare number means; where it isn't said, no other figure can be judged."""
        units, style = (self.root.value.get(key) for key in ("units", "style"))
        if units is None:
            spec = field_specs(Head)["units"]
            self.tell(self.root, "a scene lacks 'units'", expected=f"units: {spec.type.words()}")
            raise SceneRefused(self.mistakes)
        inches = str(units.value).startswith("in")  # 'inch' is a mistake, but its numbers are none
        if inches:
            self.bare_length = 0.0254
        inch = inches if style is None else style.value == "inch"
        self.system = "inch" if inch else "metric"

    def _read_head(self) -> Any:
        root = self.root
        top = {key: node for key, node in root.value.items() if key not in SECTIONS}
        if "parts" not in root.value:
            self.tell(root, "the scene has no parts", expected="a mapping `parts:` of name: part")
        try:
            return self.record(replace(root, value=top), field_specs(Head), "a scene", also=SECTIONS)
        except GiveUpError:
            return FAILED

    def _read_value(self, name: str) -> float:
        try:
            return self.value(name).value
        except GiveUpError:
            return float("nan")  # its mistake is recorded: no scene is made

    # -- names --------------------------------------------------------------------------------------

    def _named_nodes(self, section: str) -> dict[str, Node]:
        node = self.root.value.get(section)
        if node is None:
            return {}
        self.steps = [section]
        if node.kind != "map":
            self.tell(node, f"a {node.kind} stands here", expected="a mapping of names")
            named: dict[str, Node] = {}
        else:
            named = {name: child for name, child in node.value.items() if _NAME.match(name)}
            for name in node.value.keys() - named.keys():
                self.tell(
                    node.value[name],
                    f"{name!r} can't be a name",
                    expected="a letter, then letters, digits and _, at most 60",
                    place=node.key_places.get(name),
                )
        self.steps = []
        return named

    def _take_overrides(self) -> None:
        for name, text in self.overrides.items():
            if name not in self.value_nodes:
                known = self.value_nodes
                self.mistakes.append(
                    UnknownName(
                        f"--set {name}: no value is called so",
                        expected=nearest(name, known) if known else "a scene with values",
                        place=Place(file=str(self.path)),
                    )
                )
                continue
            place = Place(file=f"--set {name}", line=1, column=1)
            self.value_nodes[name] = Node("scalar", text, True, place, text_column=1)

    def _refuse_other_kinds(self) -> None:
        """Refuse a value set to another kind than the file's own once, and read on with the file's own."""
        for name in self.overrides.keys() & self.value_nodes.keys():
            mine, other = (self._alone(name, overrides) for overrides in ({}, self.overrides))
            if mine is None or other is None or _may_stand_for(other, mine):
                continue
            wanted = "a length, an angle or a number" if mine.bare else _a_kind(mine)
            node = self.value_nodes[name]
            self.tell(
                node,
                f"{node.value} is {_a_kind(other)}",
                expected=f"{wanted}, as the file has it",
            )
            self.value_nodes[name] = self.root.value["values"].value[name]

    def _alone(self, name: str, overrides: dict[str, str]) -> arithmetic.Quantity | None:
        """Return a value as another reader finds it, whose mistakes are not told; None if it finds none."""
        reader = _SceneReader(self.path, self.root, overrides)
        reader.bare_length = self.bare_length
        reader.value_nodes, reader.part_nodes = (reader._named_nodes(key) for key in ("values", "parts"))
        reader._take_overrides()
        try:
            return reader.value(name)
        except (GiveUpError, SceneMistake):
            return None

    def _taken_names(self) -> None:
        """Refuse names that mean something else already."""
        of_kind = kinds()
        groups = {
            name: of_kind[kind_text(node)].group
            for name, node in self.part_nodes.items()
            if kind_text(node) in of_kind
        }
        tank = next((node for node in self.part_nodes.values() if is_tank(kind_text(node))), None)
        holes, panels = (_names_in(tank, key) for key in ("holes", "panels"))
        panels += ["front", "back", "left", "right", "bottom"]
        reasons = {("values", name): _taken_value(name) for name in self.value_nodes}
        reasons |= {
            ("parts", name): _taken_part(name, groups, panels=panels, holes=holes) for name in self.part_nodes
        }
        for (section, name), reason in reasons.items():
            if reason is None:
                continue
            self.steps = [section, f".{name}"]
            node = self.root.value[section]
            found, remedy = reason
            self.tell(node, found, remedy=remedy, place=node.key_places.get(name))
            self.steps = []

    def _one_tank(self) -> None:
        tanks = [n for n, node in self.part_nodes.items() if is_tank(kind_text(node))]
        other = {kind_text(node) for node in self.part_nodes.values()} - kinds().keys()
        if not tanks and any(is_tank(nearest_name(kind, kinds()) or "") for kind in other):
            return  # its kind is misspelt, which is told
        if len(tanks) != 1 and "parts" in self.root.value and self.root.value["parts"].kind == "map":
            found = "no tank" if not tanks else f"{len(tanks)} tanks ({', '.join(tanks)})"
            self.tell(
                self.root.value["parts"],
                found,
                expected=f"exactly one part of kind: {' or '.join(filter(is_tank, kinds()))}",
            )

    # -- other sections ---------------------------------------------------------------------------------

    def _section(self, name: str, type: FieldType, default: Any) -> Any:
        node = self.root.value.get(name)
        return default if node is None else self.read(node, type, name)

    def _read_catalog(self) -> None:
        own = self._section("catalog", OwnEntries(), None)
        if own is not None and own is not FAILED:
            self._add_own(own, self.root.value["catalog"])

    def _read_limits(self) -> None:
        """Read the limits that the scene sets, and lay them over the catalogue's."""
        node = self.root.value.get("limits")
        if node is None:
            return
        self.steps.append("limits")
        if node.kind != "map":
            self.tell(node, f"a {node.kind} stands here", expected="a mapping of limit: value")
        else:
            known = self.catalog.names("limits")
            values: dict[str, float] = {}
            for name, child in node.value.items():
                if name not in known:
                    self.tell(child, f"no limit is called {name!r}", expected=nearest(name, known))
                    continue
                kind = limit_kind(self.catalog.limit(name).unit)
                value = self.read(child, Quantity(kind, least=0.0), f".{name}")
                if value is not FAILED:
                    values[name] = value
            self._add_own({"limits": values}, node)
            self._refuse_crossed({name: child for name, child in node.value.items() if name in values})
        self.steps.pop()

    def _refuse_crossed(self, own: Mapping[str, Node]) -> None:
        """Refuse own limits past those that their misses are faults by: rules ask the first one first."""
        known = self.catalog.names("limits")
        for name in known:
            for end, past in ("_least", "under"), ("_most", "over"):
                other = name + end
                node = own.get(name, own.get(other))
                if node is None or other not in known:
                    continue
                first, last = (self.catalog.limit(one).value for one in (name, other))
                if first < last if past == "under" else first > last:
                    kind = limit_kind(self.catalog.limit(name).unit)
                    self.tell(
                        node,
                        f"{name} of {show(first, kind)} lies {past} {other}, which is {show(last, kind)}",
                        expected=f"{name} no lower" if past == "under" else f"{name} no higher",
                        remedy="set both",
                        below=name if name in own else other,
                    )

    def _add_own(self, own: Mapping[str, Mapping[str, Any]], node: Node) -> None:
        try:
            self.catalog = self.catalog.with_own(own)
        except SceneRefused as refused:
            for mistake in refused.mistakes:
                mistake.place = node.below(mistake.path.partition(".")[2]).place
                self.mistakes.append(mistake)


def _taken_value(name: str) -> _Reason | None:
    """Say why a value can't be called so; None where it can.

    A unit's name behind a number is that unit: ``2 h`` is two hours, whatever h stands for.
    """
    if name == "pi" or name in FUNCTIONS:
        return f"{name!r} is known to arithmetic already", _ANOTHER
    if name in known_units():
        return f"{name!r} is the name of a unit", f"give it a longer name, such as {name}_of_tank"
    return None


def _taken_part(
    name: str, groups: Mapping[str, str], *, panels: Collection[str], holes: Collection[str]
) -> _Reason | None:
    """Say why a part can't be called so; None where it can.

    Parameters
    ----------
    groups : the group of each part by its name
    panels, holes : the names of the tank's own
    """
    if name == "room":
        return "'room' is what things are fixed to that hang outside of the tank", _ANOTHER
    if name in holes:
        return f"{name!r} is a hole of the tank as well", "give one of the two another name"
    if name in panels:
        return f"{name!r} is a panel of the tank", _ANOTHER
    if name in GROUPS:
        alone = [other for other, group in groups.items() if group == name] == [name]
        if name in _MIXED_GROUPS or not alone:  # else part and group are the same bodies
            return f"{name!r} means all parts of that group", f"give it another name, such as {name}_1"
    return None


def _may_stand_for(other: arithmetic.Quantity, mine: arithmetic.Quantity) -> bool:
    """Tell whether a quantity can be used where another was; a bare number may be three kinds."""
    of_bare = (KINDS["number"].dims, KINDS["length"].dims, KINDS["angle"].dims)
    if mine.bare or other.bare:
        return (mine.bare or mine.dims in of_bare) and (other.bare or other.dims in of_bare)
    return mine.dims == other.dims


def _a_kind(quantity: arithmetic.Quantity) -> str:
    kind = "bare number" if quantity.bare else kind_of(quantity.dims)
    return f"an {kind}" if kind[0] in "aeiou" else f"a {kind}"


def _names_in(part: Node | None, key: str) -> list[str]:
    """Return the names that stand in a list, or as keys of a mapping, in one field of a part."""
    node = part.value.get(key) if part is not None else None
    if node is None or node.kind == "scalar":
        return []
    return list(node.value) if node.kind == "map" else [str(child.value) for child in node.value]
