"""The catalogue as tables: what scenes may name, with the sizes that matter, with marks of sources.

Made from the catalogue itself. Left out are limits, which stand in a table of their own, and lesser sizes.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

from layout3d.catalog import Catalog, default
from layout3d.catalog.entry import Sourced
from layout3d.catalog.shipped import hose_clamp
from layout3d.report.writing import Line, filled, markdown_table, table
from layout3d.scene.own import OwnEntries
from layout3d.units import show, to_si

__all__ = ["SECTIONS", "catalogue_lines", "catalogue_page"]


@dataclass(frozen=True, slots=True, kw_only=True)
class _Table:
    """A section's title, a remark on it, and its table."""

    title: str
    remark: str = ""
    header: tuple[str, ...]
    rows: list[list[str]]


class _Sources:
    """Numbers sources in the order they are met."""

    def __init__(self) -> None:
        self.known: dict[str, int] = {}

    def mark(self, source: str) -> str:
        """Return a source's mark."""
        return f"[{self.known.setdefault(source, len(self.known) + 1)}]"

    def of(self, entry: Sourced, figures: Sequence[tuple[str, str]]) -> list[str]:
        """Return cells of (figure's name, text); a mark stands where the next figure has another source."""
        marks = [self.mark(entry.source_of(name)) for name, _ in figures]
        following = [*marks[1:], ""]
        return [
            text if mark == after else f"{text} {mark}"
            for (_, text), mark, after in zip(figures, marks, following, strict=True)
        ]


def catalogue_page() -> str:
    """Return the catalogue's part of the page of fields."""
    sources, tables = _Sources(), []
    for make in SECTIONS.values():
        made = make(default(), sources)
        remark = [made.remark, ""] if made.remark else []
        tables.append("\n".join([f"### {made.title}", "", *remark, markdown_table(made.header, made.rows)]))
    return filled(
        Path(__file__).with_suffix(".md"),
        tables="\n".join(tables),
        sources="".join(f"{number}. {source}\n" for source, number in sources.known.items()),
        own_fields=_own_fields(),
    )


def catalogue_lines(section: str) -> list[Line]:
    """Return one of ``SECTIONS`` as lines, with its sources below it."""
    sources = _Sources()
    made = SECTIONS[section](default(), sources)
    bare = [[cell.replace("`", "") for cell in row] for row in (made.header, *made.rows)]
    lines = [Line(made.title, style="head"), *table(bare), Line("")]
    if made.remark:
        lines.append(Line(made.remark.replace("`", "'"), 2, "faint"))
    return lines + [Line(f"[{number}] {source}", 2, "faint") for source, number in sources.known.items()]


def _length(value: float, family: str) -> str:
    metric = show(value, "length")
    return f"{metric} / {show(value, 'length', system='inch')}" if family == "inch" else metric


def _pipes(catalog: Catalog, sources: _Sources) -> _Table:
    figures = ("outside_diameter", "inside_diameter", "socket_depth", "g_90", "g_45")
    rows = []
    for name in catalog.names("pipes"):
        pipe = catalog.pipe(name)
        cells = [(figure, _length(getattr(pipe, figure), pipe.family)) for figure in figures]
        rows.append([f"`{name}`", *sources.of(pipe, cells)])
    header = ("pipe", "outside", "inside", "socket depth", "G of elbow 90 and tee", "G of elbow 45")
    text = "G is from a fitting's centre to its socket's bottom: a pipe is cut centre to centre less both G."
    return _Table(title="Pipes", remark=text, header=header, rows=rows)


def _tubes(catalog: Catalog, sources: _Sources) -> _Table:
    rows = []
    for name in catalog.names("tubes"):
        tube = catalog.tube(name)
        sizes = [_length(value, tube.family) for value in (tube.inside, tube.outside, tube.min_bend_radius)]
        clamp = hose_clamp(tube.outside) or "none known"
        rows.append([f"`{name}`", *sizes[:2], f"{sizes[2]} {sources.mark(tube.source)}", clamp])
    header = ("tube or hose", "inside", "outside", "least bend radius", "clamp on a barb")
    text = "Clamps by DIN 3017-1, least to most hose in mm; from memory, check before relying on it."
    return _Table(title="Tubes", remark=text, header=header, rows=rows)


def _bulkheads(catalog: Catalog, sources: _Sources) -> _Table:
    rows = []
    for name in catalog.names("bulkheads"):
        entry = catalog.bulkhead(name)
        family = entry.family
        low, high = (_length(value, family) for value in entry.hole_range)
        cells = [
            ("hole_range", low if low == high else f"{low} to {high}"),
            ("flange_diameter", _length(entry.flange_diameter, family)),
            ("nut_diameter", _length(entry.nut_diameter, family)),
            ("grip_range", " to ".join(_length(value, family) for value in entry.grip_range)),
        ]
        rows.append([f"`{name}`", entry.pipe_size, *sources.of(entry, cells)])
    header = ("bulkhead", "takes pipe of size", "hole", "flange", "nut", "holds glass of")
    text = "A hole is drilled to the upper figure where the scene gives no `diameter:`."
    return _Table(title="Bulkheads", remark=text, header=header, rows=rows)


def _pumps(catalog: Catalog, sources: _Sources) -> _Table:
    rows = []
    for name in catalog.names("pumps"):
        pump = catalog.pump(name)
        flow = " / ".join(show(pump.greatest_flow, "flow", system=s) for s in ("metric", "inch"))
        rows.append(
            [
                f"`{name}`",
                flow,
                f"{pump.shut_off_head:g} m / {pump.shut_off_head / to_si(1, 'ft'):.1f} ft",
                show(pump.power, "power"),
                " x ".join(show(side, "length") for side in pump.size),
                f"{_length(pump.outlet, 'inch')} {sources.mark(pump.source)}",
            ]
        )
    header = ("pump", "greatest flow", "shut-off head", "power", "length x width x height", "outlet, bore")
    text = "The outlet is a barb for a tube of that bore unless `outlet:` of the pump names a pipe or tube."
    return _Table(title="Pumps", remark=text, header=header, rows=rows)


def _materials(catalog: Catalog, sources: _Sources) -> _Table:
    rows = []
    for name in catalog.names("materials"):
        entry = catalog.material(name)
        low, high = entry.density_range
        rows.append(
            [
                f"`{name}`",
                ", ".join(f"`{other}`" for other in entry.also),
                f"{show(entry.density, 'density')} {sources.mark(entry.source)}",
                f"{low:,.0f} to {high:,.0f}",
                f"{entry.porosity:.2g}" if entry.porosity else "",
                entry.note,
            ]
        )
    header = ("material", "also", "density of the stuff", "range", "porosity", "remark")
    text = "A litre of porous stuff as it lies, dry, weighs density times (1 - porosity)."
    return _Table(title="Materials", remark=text, header=header, rows=rows)


def _own_fields() -> str:
    rows = [
        (f"`{section}`", ", ".join(f"`{n}`" for n in schema["additionalProperties"]["properties"]))
        for section, schema in OwnEntries().schema()["properties"].items()
    ]
    return markdown_table(("section", "an entry may give"), rows)


SECTIONS: Mapping[str, Callable[[Catalog, _Sources], _Table]] = {
    "pipes": _pipes,
    "tubes": _tubes,
    "bulkheads": _bulkheads,
    "pumps": _pumps,
    "materials": _materials,
}
"""The sections that are told, in their order."""
