"""The part kinds as a list, and the fields of one as a table. Made from what the kinds declare."""

from __future__ import annotations

from collections.abc import Mapping

from layout3d.errors import UnknownName, nearest
from layout3d.fields import FieldSpec, FieldType, Quantity, field_specs
from layout3d.fields_composite import Either, Entries, Listing, PositionType, Record, Steps, TurnType
from layout3d.parts.base import Part
from layout3d.parts.registry import kinds
from layout3d.report.writing import Line, section, table
from layout3d.scene.schema import default_text

__all__ = ["dimensions_of", "inner_records", "kind_lines", "kinds_lines", "need_of", "summary_of", "words_of"]


def kinds_lines() -> list[Line]:
    """Return one line for each part kind: its name and what it is."""
    return table([(kind, summary_of(cls)) for kind, cls in kinds().items()])


def kind_lines(kind: str) -> list[Line]:
    """Return a part kind's fields, the records in them, and its dimensions that are open to arithmetic.

    Raises
    ------
    UnknownName : there is no such kind.
    """
    known = kinds()
    if kind not in known:
        raise UnknownName(f"no part kind is called {kind!r}", expected=nearest(kind, known, most=40))
    cls = known[kind]
    specs = field_specs(cls)
    lines = [Line(f"{kind}: {summary_of(cls)}", style="head"), *_fields(specs)]
    for what, fields in inner_records(specs).items():
        lines += section(what, _fields(fields))
    names = ", ".join(dimensions_of(cls)) or "nothing"
    lines += section("open to arithmetic, as name.dimension", [Line(names, 2)])
    told = " ".join(line.text for line in lines)
    for words, short in _SHORT.items():
        if short in told:
            lines += section(short, [Line(words.removeprefix(f"{short}: "), 2, "faint")])
    return lines


def summary_of(cls: type[Part]) -> str:
    """Return the first line of a kind's description."""
    return (cls.__doc__ or "").strip().splitlines()[0].replace("``", "`")


def need_of(spec: FieldSpec) -> str:
    """Say whether a field is needed, or what it is where it isn't given; '' for nothing."""
    return "needed" if spec.required else default_text(spec)


_SHORT = {PositionType().words(): "a position", TurnType().words(): "a turn"}


def words_of(type: FieldType) -> str:
    """Say what to write for a field; a position and a turn are told once for all kinds."""
    text = type.words()
    for words, short in _SHORT.items():
        text = text.replace(words, short)
    return text


def inner_records(specs: Mapping[str, FieldSpec]) -> dict[str, Mapping[str, FieldSpec]]:
    """Return the records that stand below these fields, by what they are, each once, outer ones first."""
    found: dict[str, Mapping[str, FieldSpec]] = {}
    waiting: list[FieldType] = [spec.type for spec in specs.values()]
    while waiting:
        type = waiting.pop(0)
        if isinstance(type, Record) and type.what not in found:
            found[type.what] = type.fields
            waiting += [spec.type for spec in type.fields.values()]
        elif isinstance(type, Listing | Entries):
            waiting.append(type.item)
        elif isinstance(type, Either):
            waiting += [option for option in (type.scalar, type.list, type.map) if option is not None]
        elif isinstance(type, Steps):
            waiting += type.records.values()
    return found


def dimensions_of(cls: type[Part]) -> tuple[str, ...]:
    """Return the names of a kind's figures that other values may be computed from."""
    quantities = [name for name, spec in field_specs(cls).items() if isinstance(spec.type, Quantity)]
    return tuple(dict.fromkeys([*quantities, *cls.dimensions]))


def _fields(specs: Mapping[str, FieldSpec]) -> list[Line]:
    lines = []
    for name, spec in specs.items():
        need = need_of(spec)
        lines.append(Line(f"{name}{f'  ({need})' if need else ''}", 2))
        words = words_of(spec.type)
        lines.append(Line(f"{spec.doc}: {words}" if spec.doc else words, 6, "faint"))
    return lines
