"""The set of sheets of a scene: which there are, each composed, and their dimensions as data."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Any

from layout3d.checks.base import Finding
from layout3d.errors import UnknownName, nearest
from layout3d.model.model import Model
from layout3d.sheets.figure import Cut, Figure, SheetKind, sheet_kinds
from layout3d.sheets.sheet import Sheet, Style, compose
from layout3d.units import in_own_units, shown_in

__all__ = ["FORMAT", "dimension_facts", "figures_of", "sheets_of", "style_of"]

FORMAT = 1


def style_of(
    model: Model,
    *,
    paper: str = "",
    scale: float | None = None,
    date: str = "",
    findings: Sequence[Finding] | None = None,
) -> Style:
    """Return how a scene's sheets are set: by its own units, title and date, where none is given.

    Paper is A3 then, of scenes in inches tabloid.

    ``findings`` are what the rules found, which each sheet tells; None where they weren't asked.
    """
    checked: dict[str, Any] = {}
    if findings is not None:
        faults = tuple(finding.rule for finding in findings if finding.severity == "fault")
        warnings = sum(finding.severity == "warning" for finding in findings)
        words = [
            f"{n} {noun}{'' if n == 1 else 's'}"
            for n, noun in ((len(faults), "fault"), (warnings, "warning"))
        ]
        checked = {"faults": faults, "checked": ", ".join(words)}
    return Style(
        paper=paper or ("tabloid" if model.scene.style == "inch" else "A3"),
        scale=scale,
        date=date or model.scene.date,
        title=model.scene.title,
        **checked,
    )


@in_own_units
def sheets_of(model: Model, style: Style, *, names: Sequence[str] = (), cut: Cut = None) -> tuple[Sheet, ...]:
    """Return a scene's sheets, in the order of a set.

    Those with nothing to show, or drawn by name alone, are left out of a whole set.

    Raises
    ------
    UnknownName : no such sheet, or one that this scene has nothing to show on.
    OutOfRange : a sheet doesn't fit on the paper, or the cut passes everything.
    """
    kinds = sheet_kinds()
    for name in names:
        if name not in kinds:
            raise UnknownName(f"no sheet is called {name!r}", expected=nearest(name, kinds))
    made = []
    for kind, figures in figures_of(model, names=names, cut=cut):
        for figure in figures:
            name = f"{kind.name}-{figure.of}" if figure.of else kind.name
            heading = f"{kind.heading} {figure.of.replace('_', ' ')}".rstrip()
            made.append(compose(name, heading, figure, style))
        if names and not figures:
            raise UnknownName(
                f"the sheet {kind.name} has nothing to show of this scene",
                expected=f"one of: {', '.join(name for name in kinds if name != kind.name)}",
            )
    return tuple(made)


def figures_of(
    model: Model, *, names: Sequence[str] = (), cut: Cut = None
) -> Iterator[tuple[SheetKind, tuple[Figure, ...]]]:
    """Yield what the sheets of a scene show, kind by kind, before any is set on paper."""
    for kind in sheet_kinds().values():
        if kind.name not in names if names else kind.by_name:
            continue
        with shown_in(model.scene.style):
            found = kind.figure(model, cut)
        yield kind, found if isinstance(found, tuple) else () if found is None else (found,)


def dimension_facts(model: Model, sheets: Sequence[Sheet]) -> dict[str, Any]:
    """Return what ``sheet --json`` prints: every printed dimension, SI."""
    return {
        "format": FORMAT,
        "scene": model.scene.file,
        "title": model.scene.title,
        "sheets": [{"sheet": sheet.name, "scale": sheet.scale} for sheet in sheets],
        "dimensions": [
            {
                "sheet": sheet.name,
                "of": printed.of,
                "from": list(printed.start),
                "to": list(printed.end),
                "value": printed.value,
                "text": printed.text,
            }
            for sheet in sheets
            for printed in sheet.printed
        ],
    }
