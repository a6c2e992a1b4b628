"""The page that tells what may be written in a scene file, as Markdown made from what the code declares."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path

from layout3d.catalog import default
from layout3d.checks.base import rules
from layout3d.fields import FieldSpec, FieldType, field_specs
from layout3d.fields_composite import Entries, Listing, Steps
from layout3d.parts.base import GROUPS, Part
from layout3d.parts.registry import kinds
from layout3d.report.catalogue_page import catalogue_page
from layout3d.report.kinds import dimensions_of, inner_records, need_of, summary_of, words_of
from layout3d.report.rules import limit_text, misses_are
from layout3d.report.writing import filled, markdown_table
from layout3d.scene.scene import Head, Sections
from layout3d.units import KINDS

__all__ = ["fields_page"]

_AT = {"accept": "findings-that-are-accepted"}  # where a section is not told under its own name


def fields_page() -> str:
    """Return the page."""
    list_of_kinds = [(f"[`{kind}`](#{kind})", summary_of(cls)) for kind, cls in kinds().items()]
    return filled(
        Path(__file__).with_suffix(".md"),
        top_keys=_top_keys(),
        quantities=_quantities(),
        list_of_kinds=markdown_table(("kind", "is"), list_of_kinds),
        kinds="\n".join(_kind(kind, cls) for kind, cls in kinds().items()),
        groups=", ".join(GROUPS),
        rules=_rules(),
        limits=_limits(),
        catalogue=catalogue_page(),
        **{name: _section(name) for name in field_specs(Sections)},
    )


def _top_keys() -> str:
    rows = _field_rows(field_specs(Head))
    rows += [
        ("`values`", "name: number or arithmetic", "", "named values that others are computed from"),
        ("`parts`", "name: a part, with its `kind:`", "needed", "exactly one of them a tank"),
        *(
            (f"`{name}`", f"{_written(spec.type)}, [see below](#{_AT.get(name, name)})", "", spec.doc)
            for name, spec in field_specs(Sections).items()
        ),
        ("`limits`", "limit: value, [see below](#limits)", "", "limits that rules judge by"),
        ("`catalog`", "[see below](#catalogue)", "", "sizes, materials and pumps of one's own"),
    ]
    return "## Keys of the file\n\n" + markdown_table(("key", "write", "default", "meaning"), rows)


def _quantities() -> str:
    bare = {"length": "the file's `units:`", "angle": "degrees", "number": "itself"}
    rows = [
        (name, f"`{kind.example}`", bare.get(name, "a mistake: it needs a unit"))
        for name, kind in KINDS.items()
        if kind.example  # the others are shown only
    ]
    return "Kinds of quantities:\n\n" + markdown_table(("kind", "such as", "a bare number is"), rows)


def _kind(kind: str, cls: type[Part]) -> str:
    specs = field_specs(cls)
    text = [f"### {kind}\n", f"{summary_of(cls)}\n", _fields(specs)]
    text += _records(specs)
    for spec in specs.values():
        if isinstance(spec.type, Steps):
            text += [f"*Steps of `{spec.name}:`*\n", _steps(spec.type)]
    if cls.points:
        rows = [(f"`{name}`", *told.split(": ", 1)) for name, told in cls.points.items()]
        text += [
            "*Points*, for `at:`, `from:` and the starts of runs\n",
            markdown_table(("name", "is a", "where"), rows),
        ]
    names = ", ".join(f"`{name}`" for name in dimensions_of(cls)) or "nothing"
    return "\n".join([*text, f"Open to arithmetic: {names}.\n"])


def _records(specs: Mapping[str, FieldSpec]) -> list[str]:
    """Return the records that stand below these fields, each under its name."""
    records = inner_records(specs)
    told = ((f"*{what[:1].upper()}{what[1:]}*\n", _fields(records[what])) for what in records)
    return [text for both in told for text in both if not both[0].startswith("*Step ")]


def _steps(steps: Steps) -> str:
    rows = [(f"`- {word}`", told, "") for word, told in steps.words_alone.items()]
    for word, fields in steps.records.items():
        first, more = fields.fields[word], [s for s in fields.fields.values() if s.name != word]
        also = "; ".join(f"`{spec.name}`: {spec.doc}: {words_of(spec.type)}" for spec in more)
        rows.append((f"`- {word}: …`", f"{first.doc}: {words_of(first.type)}", also))
    return markdown_table(("step", "meaning", "may also have"), rows)


def _section(name: str) -> str:
    spec = field_specs(Sections)[name]
    told = _records({name: spec})
    told[0] = f"Under `{name}:` {_written(spec.type)}, each with\n"
    return "\n".join(told)


def _written(type: FieldType) -> str:
    return "a list" if isinstance(type, Listing) else "names" if isinstance(type, Entries) else "keys"


def _rules() -> str:
    rows = [
        (f"`{name}`", rule.asks, ", ".join(f"`{limit}`" for limit in rule.limits))
        for name, rule in rules().items()
    ]
    return "## Rules\n\n" + markdown_table(("rule", "asks", "by the limits"), rows)


def _limits() -> str:
    catalog = default()
    rows = []
    for name in catalog.names("limits"):
        limit = catalog.limit(name)
        rows.append((f"`{name}`", limit_text(limit), misses_are(limit), limit.note, limit.source))
    return (
        "## Limits\n\nWhat rules judge by; `limits: {name: value}` in a scene puts another value in the "
        "place of one.\n\n" + markdown_table(("limit", "value", "misses are a", "of", "source"), rows)
    )


def _fields(specs: Mapping[str, FieldSpec]) -> str:
    return markdown_table(("field", "write", "default", "meaning"), _field_rows(specs))


def _field_rows(specs: Mapping[str, FieldSpec]) -> list[tuple[str, str, str, str]]:
    return [
        (f"`{name}`", words_of(spec.type), need_of(spec), spec.doc or words_of(spec.type))
        for name, spec in specs.items()
    ]
