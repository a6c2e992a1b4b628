"""The page that tells what may be written in a scene file, as Markdown made from what the code declares."""

from __future__ import annotations

from collections.abc import Mapping

from layout3d.catalog import default
from layout3d.checks.base import rules
from layout3d.fields import FieldSpec, FieldType, field_specs
from layout3d.fields_composite import Entries, Listing, Steps
from layout3d.parts.base import GROUPS, Part
from layout3d.parts.registry import kinds
from layout3d.report.catalogue_page import catalogue_page
from layout3d.report.kinds import dimensions_of, inner_records, need_of, summary_of, words_of
from layout3d.report.rules import limit_text, misses_are
from layout3d.report.writing import markdown_table
from layout3d.scene.scene import Head, Sections
from layout3d.units import KINDS

__all__ = ["fields_page"]

_INTRO = """\
# What may be written in a scene file

This page is made from the code by `scripts/regenerate`; `layout3d kinds KIND` prints the part of it on one
kind of part. A scene is a YAML file. Every key that isn't named here is a mistake, told with its line.
"""

_ARITHMETIC = """\
## Numbers and arithmetic

A bare number of length is in the file's `units:`, a bare angle in degrees. Any number may carry a unit of its
own right behind it: `120 mm`, `3/4 in`, `1 ft 6 in`, `5' 6"`, `350 gal`, `20 L/h`, `45 deg`, `60 %`.
Wherever a number is expected, arithmetic may stand: `+ - * / ^`, parentheses, `min max abs sqrt sin cos tan
round floor ceil`, `pi`, the names under `values:`, and dimensions of other parts as `name.dimension`:

    values:
      gap: 3/4 in
      wide: tank.inside_length - 2 * gap

A value can't be called as a unit is (`g`, `s`, `h`, `m`, `in`). The head of the file (`waterline`) is no name
that arithmetic knows: name a value and write it there too.

An expression has at most 500 characters. Figures of one kind can be added, others not: `120 mm + 3 kg` is a
mistake. `--set name=value` on the command line puts another value in the place of one under `values:`.
"""

_POSITIONS = """\
## Positions

Axes are those of the tank: x to the right, y from the front glass to the back glass, z up; 0, 0, 0 is the
inside front left bottom corner. A position is one of

| written as | means |
| --- | --- |
| `[x, y, z]` | from the inside front left bottom corner |
| `{left: 100, front: 80, bottom: 0}` | from faces: one of `left`, `right`, `x`; one of `front`, `back`, \
`y`; one of `bottom`, `top`, `ground`, `waterline`, `z` |
| `{left: 100, front: 80, ground: -10}` | from the substrate at that point, or the floor where there is none |
| `{left: 480, bottom: 700, face_of: back_wall}` | on the face of another part, or of one body of it \
(`side_walls.left`), where a line first meets it: to the back if neither `front` nor `back` is given, down \
if no height is, from the tank's middle to the side if neither `left` nor `right` is; `off: 10` stands it \
off. On a wall the part is turned with its front off the face, by the face's own slope; moss and \
creepers lie along it |
| `{in: sump.chamber, left: 50, front: 50, bottom: 0}` | from the faces of another space: a sump, one of its \
compartments, a stand |
| `{from: pump.outlet, offset: [0, 0, 50]}` | from a port, a hole or an anchor of another part |
| `pump.outlet` | at a port, a hole or an anchor |

A hole called drain with a bulkhead has the ports `drain.inside` and `drain.outside`, in full
`tank.drain.inside`; so no part may have a hole's name. Where a hole lies is measured to its centre from the
tank's inside faces, not from the edge of the pane. A pump has `pump.outlet`, a tee of a run the port that its
`name:` says. An unknown name is told with the ones there are.

## Turns

`turn: 30 deg` turns a part about the upright axis, anticlockwise as seen from above. A mapping says more, the
same for every kind, and is done in this order about the base point, whatever the order in the file:

1. `about_length: 90 deg` turns it about its own length, which is the longest side of the box around it,
   clockwise as seen along that from its left, front or lower end: a log about itself.
2. `about_up: 30 deg` turns it about the upright axis.
3. `tip_left:`, `tip_right:`, `tip_front:` or `tip_back:` leans its top that way, as seen from in front:
   `tip_right: 20 deg` lowers the right end of a log and lifts its left. One of the first two and one of the
   others together lean it one way between them.

Then, with `ground:`, the lowest point of what came of it stands as high as the ground at its base point
(`ground: -10` sinks it by 10); a plant is set by its ground line.
"""

_ACCEPT = """\
A finding that is accepted becomes a note with the reason behind it; it does not go away.
"""


_CAMERAS = """\
Pictures, films and the window look from them in perspective; a sheet of one is drawn in parallel lines
along the way it looks, as far as the picture reaches at the target.

"""

_AT = {"accept": "findings-that-are-accepted"}  # where a section is not told under its own name


def fields_page() -> str:
    """Return the page."""
    sections = [
        _INTRO,
        _top_keys(),
        _ARITHMETIC,
        _quantities(),
        _POSITIONS,
        "## Kinds of parts\n",
        markdown_table(
            ("kind", "is"), [(f"[`{kind}`](#{kind})", summary_of(cls)) for kind, cls in kinds().items()]
        ),
        *(_kind(kind, cls) for kind, cls in kinds().items()),
        _section("Clearances", "clearances"),
        f"Groups are {', '.join(GROUPS)}.\n",
        _section("Findings that are accepted", "accept"),
        _ACCEPT,
        _section("Conditions", "conditions"),
        _section("Swim", "swim"),
        _section("Cameras", "cameras", _CAMERAS),
        _section("Shop", "shop"),
        _rules(),
        _limits(),
        catalogue_page(),
    ]
    return "\n".join(sections)


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


def _section(title: str, name: str, more: str = "") -> str:
    spec = field_specs(Sections)[name]
    told = _records({name: spec})
    told[0] = f"## {title}\n\n{more}Under `{name}:` {_written(spec.type)}, each with\n"
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
