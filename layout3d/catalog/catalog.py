"""The catalogue that a scene looks names up in: the shipped tables with the scene's own entries over them."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field
from functools import cache
from typing import Any, TypeVar

from layout3d.catalog.entry import Bulkhead, Limit, Material, Pipe, Pump, Tube
from layout3d.catalog.names import plain, size_of, spelled
from layout3d.catalog.own import own_entry, own_lengths, own_limit
from layout3d.catalog.shipped import (
    FittingLengths,
    shipped_bulkheads,
    shipped_lengths,
    shipped_limits,
    shipped_materials,
    shipped_pipes,
    shipped_pumps,
    shipped_tubes,
    support_spacings,
)
from layout3d.errors import LayoutError, OutOfRange, SceneMistake, SceneRefused, UnknownName, nearest

__all__ = ["Catalog", "default"]

Entry = TypeVar("Entry")

_SHIPPED: Mapping[str, Callable[[], Mapping[Any, Any]]] = {
    "pipes": shipped_pipes,
    "tubes": shipped_tubes,
    "bulkheads": shipped_bulkheads,
    "materials": shipped_materials,
    "pumps": shipped_pumps,
    "limits": shipped_limits,
    "fittings": shipped_lengths,
}
_SECTIONS = {
    **{Pipe: "pipes", Tube: "tubes", Bulkhead: "bulkheads"},
    **{Material: "materials", Pump: "pumps", Limit: "limits"},
}


def _find(entries: Iterable[Mapping[str, Entry]], *spellings: str) -> Entry | None:
    for spelling in spellings:
        for group in entries:
            if spelling and spelling in group:
                return group[spelling]
    return None


@dataclass(frozen=True, slots=True, kw_only=True)
class Catalog:
    """Names to entries. A scene's own entries stand before the shipped ones; any spelling finds both.

    Make one with ``default()`` and add a scene's entries with ``with_own``.
    """

    own: Mapping[str, Mapping[Any, Any]] = field(default_factory=dict)
    """The scene's own entries by section and name; fitting lengths by (family, size) of the pipe."""

    def pipe(self, name: str) -> Pipe:
        """Return a pipe by its name, '3/4 in sch 40' or 'd25 pn 10' in any spacing and case.

        Raises
        ------
        UnknownName : none bears that name; the pipes of that size are named first.

        Examples
        --------
        >>> round(default().pipe('3/4" SCH40').outside_diameter, 5)
        0.02667
        """
        written = spelled("pipes", name)
        size = size_of(written)
        found: Pipe | None = _find(self._section("pipes"), plain(name), written)
        if found is not None:
            return found
        same_size = [known for known in shipped_pipes() if size and known.startswith(f"{size} ")]
        expected = (
            f"{nearest(written, same_size)} (pipes of {size})"
            if same_size
            else nearest(written or plain(name), self.names("pipes"))
        )
        raise UnknownName(
            f"{name!r} is not a pipe in the catalogue",
            expected=expected,
            remedy="write a name of the list, or add your pipe under `catalog: pipes:` in the scene",
        )

    def tube(self, name: str) -> Tube:
        """Return a flexible tube by its name: '1/2 x 5/8 in', '12/16 mm', 'd25 flexible'."""
        return self._entry(Tube, name)

    def bulkhead(self, name: str) -> Bulkhead:
        """Return a bulkhead by its name: '1 in thin', '1 in heavy', 'd32'."""
        return self._entry(Bulkhead, name)

    def material(self, name: str) -> Material:
        """Return a material by its name, or by another name people have for it."""
        written = plain(name)
        if not any(written in group for group in self._section("materials")):
            name = next((entry.name for entry in shipped_materials().values() if written in entry.also), name)
        return self._entry(Material, name)

    def pump(self, name: str) -> Pump:
        """Return a pump by its name; the shipped ones are generic and no product."""
        return self._entry(Pump, name)

    def limit(self, name: str) -> Limit:
        """Return the figure a rule judges by, as the scene overrides it."""
        return self._entry(Limit, name)

    def names(self, section: str) -> tuple[str, ...]:
        """Return all names of a section, own ones first: 'pipes', 'tubes', 'bulkheads', ..."""
        return tuple(dict.fromkeys(name for group in self._section(section) for name in group))

    def lengths(self, pipe: Pipe) -> FittingLengths:
        """Return the lengths of the longer fittings for a pipe, [m]; empty where none are known."""
        of = (pipe.family, pipe.size)
        found: FittingLengths = self.own.get("fittings", {}).get(of) or shipped_lengths().get(of, {})
        return found

    def support_spacing(self, pipe: str | Pipe) -> tuple[float, str]:
        """Return the greatest distance between supports of a level pipe, [m], and its source.

        Raises
        ------
        OutOfRange : the table doesn't have this size.
        """
        of = self.pipe(pipe) if isinstance(pipe, str) else pipe
        spacing = support_spacings().get((of.family, of.size))
        if spacing is None:
            raise OutOfRange(
                f"no spacing of supports is known for {of.name}",
                expected="a size of the table support_spacing",
            )
        return spacing

    def with_own(self, sections: Mapping[str, Mapping[str, Any]]) -> Catalog:
        """Return a catalogue with a scene's own entries over these.

        Parameters
        ----------
        sections : section -> name -> fields in SI (see ``OWN_FIELDS``), or -> a ready entry. `like:` starts
            from an entry of this catalogue. A limit is a bare number. Section 'fittings' goes by pipe
            size ('3/4 in', 'd25').

        Raises
        ------
        SceneRefused : with all mistakes, each with its path below ``catalog``.

        Examples
        --------
        >>> mine = default().with_own({"limits": {"pipe_to_glass": 0.005}})
        >>> mine.limit("pipe_to_glass").value
        0.005
        """
        made: dict[str, dict[Any, Any]] = {section: {} for section in _SHIPPED}
        mistakes: list[LayoutError] = []
        for section, entries in sorted(sections.items(), key=lambda item: item[0] == "fittings"):
            if section not in made:
                mistakes.append(
                    UnknownName(
                        f"{section!r} is not a section of a scene's catalogue",
                        expected=nearest(section, made),
                        path=f"catalog.{section}",
                    )
                )
                continue
            for name, given in entries.items():
                path = f"catalog.{section}.{name}"
                try:
                    key, entry = self._own(section, path, str(name), given, made["pipes"])
                except LayoutError as mistake:
                    mistake.path = mistake.path or path
                    mistakes.append(mistake)
                else:
                    made[section][key] = entry
        if mistakes:
            raise SceneRefused(mistakes)
        return Catalog(own={section: {**self.own.get(section, {}), **made[section]} for section in made})

    def _own(
        self, section: str, path: str, name: str, given: Any, pipes: Mapping[str, Pipe]
    ) -> tuple[Any, Any]:
        key = plain(name)
        if _SECTIONS.get(type(given)) == section:
            return key, given
        if section == "limits":
            return name, own_limit(path, self.limit(name), given)
        if not isinstance(given, Mapping):
            raise SceneMistake(f"{given!r} is no entry", expected="fields and their values", path=path)
        if section != "fittings":
            return key, own_entry(section, path, name, given, getattr(self, section[:-1]))
        own = {**self.own.get("pipes", {}), **pipes}.values()
        sized = [p for p in shipped_pipes().values() if size_of(p.name) == key] or [
            p for p in own if key in {plain(p.size), plain(p.name)}
        ]
        if not sized:
            raise UnknownName(
                f"{name!r} is not a pipe size in the catalogue",
                expected=nearest(key, set(map(size_of, shipped_pipes())), most=20),
                path=path,
            )
        return (sized[0].family, sized[0].size), own_lengths(path, given, self.lengths(sized[0]))

    def _section(self, section: str) -> tuple[Mapping[Any, Any], Mapping[Any, Any]]:
        return self.own.get(section, {}), _SHIPPED[section]()

    def _entry(self, of: type[Entry], name: str) -> Entry:
        section = _SECTIONS[of]
        written = spelled(section, name)
        found: Entry | None = _find(self._section(section), plain(name), written)
        if found is None:
            raise UnknownName(
                f"{name!r} is not a {section[:-1]} in the catalogue",
                expected=nearest(written or plain(name), self.names(section), most=20),
                remedy=f"write a name of the list, or add yours under `catalog: {section}:` in the scene"
                if section != "limits"
                else "write a name of the list",
            )
        return found


@cache
def default() -> Catalog:
    """Return the shipped catalogue, with no entries of a scene's own."""
    return Catalog()
