"""HTML of the lines that commands print: headings, tables that can be sorted, marked findings, cautions."""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from html import escape
from itertools import groupby

from layout3d.report.writing import Line
from layout3d.units import exact_unit

__all__ = ["caution_box", "lines_markup", "said", "sort_value", "table_markup", "tag", "words"]

SEVERITIES = ("fault", "warning", "note")
_FIGURE = re.compile(r"(-?[0-9][0-9,]*(?:\.[0-9]+)?)(?:[ ]([0-9]+/[0-9]+))?[ ]?([^\s(]*)")
_CODE = re.compile(r"`([^`]+)`")
_LEAST_ROWS = 3
"""A table of fewer rows isn't sorted."""
_SHORT = 30
"""Cells of no more signs stay on one line."""


def words(text: str) -> str:
    """Return text as HTML holds it; control characters, which no text may have, are blanks.

    >>> words("3 < 4 & 5")
    '3 &lt; 4 &amp; 5'
    """
    return escape("".join(sign if sign.isprintable() else " " for sign in text))


def said(text: str) -> str:
    """Return a sentence of a report as HTML: what stands between backticks is code.

    >>> said("fix it (`fixed_to:`)")
    'fix it (<code>fixed_to:</code>)'
    """
    return _CODE.sub(r"<code>\1</code>", words(text))


def tag(severity: str) -> str:
    """Return the mark of a severity."""
    return f'<strong class="tag {severity}">{severity}</strong>'


def sort_value(cell: str) -> float | None:
    """Return the figure that a cell begins with, in SI, so that mixed units sort; None where there is none.

    >>> sort_value("1,240 L") == sort_value("1.24 m3"), sort_value("46 1/2 in (1180.4 mm)")
    (True, 1.1811)
    >>> sort_value("12%"), sort_value("none") is None
    (0.12, True)
    """
    found = _FIGURE.match(cell.strip())
    if found is None:
        return None
    figure = float(found[1].replace(",", ""))
    if found[2]:
        above, below = (int(part) for part in found[2].split("/"))
        figure += above / below if below else 0.0
    unit = exact_unit(found[3]) if found[3] else None
    return figure if unit is None else figure * float(unit.factor) + float(unit.offset)


def table_markup(
    head: Sequence[str],
    rows: Sequence[Sequence[str]],
    caption: str,
    *,
    name: str = "",
) -> str:
    """Return a table; with a heading and enough rows, one whose columns sort.

    Parameters
    ----------
    head : empty for none
    name : the table's id
    """
    count = len(rows[0]) if rows else len(head)
    # a column of figures is set flush right
    figures = [
        all(sort_value(row[column]) is not None or row[column] in ("", "-", "none") for row in rows)
        and any(sort_value(row[column]) is not None for row in rows)
        for column in range(count)
    ]
    short = [all(len(row[column]) <= _SHORT for row in rows) for column in range(count)]
    kinds = [
        ' class="figure"' if figure else ' class="short"' if brief else ""
        for figure, brief in zip(figures, short, strict=True)
    ]
    sorts = bool(head) and len(rows) >= _LEAST_ROWS
    parts = [f"<caption>{words(caption)}</caption>"]
    if head:
        cells = "".join(
            f'<th scope="col"{kind}>{_heading(text, sorts=sorts)}</th>'
            for text, kind in zip(head, kinds, strict=True)
        )
        parts.append(f"<thead><tr>{cells}</tr></thead>")
    body = []
    for row in rows:
        made = []
        for column, text in enumerate(row):
            value = sort_value(text) if sorts and figures[column] else None
            data = f' data-value="{value:.9g}"' if value is not None else ""
            # how deep a label is set in says what it is part of
            deep = ' style="padding-left:1.4em"' if text.startswith("  ") else ""
            made.append(
                f'<th scope="row"{kinds[0]}{deep}{data}>{words(text)}</th>'
                if column == 0
                else f"<td{kinds[column]}{data}>{words(text)}</td>"
            )
        body.append(f"<tr>{''.join(made)}</tr>")
    parts.append(f"<tbody>{''.join(body)}</tbody>")
    marks = (' class="sorts"' if sorts else "") + (f' id="{name}"' if name else "")
    named = f'tabindex="0" role="region" aria-label="{words(caption)}"'
    return f'<div class="wide" {named}><table{marks}>{"".join(parts)}</table></div>'


def _heading(text: str, *, sorts: bool) -> str:
    told = words(text) if text else '<span class="unseen">more</span>'
    return f'<button type="button">{told}</button>' if sorts else told


def lines_markup(lines: Iterable[Line]) -> str:
    """Return lines as HTML, in their order; cautions as a box of their own."""
    made: list[str] = []
    caption, caution = "", False
    blocks = groupby(lines, key=lambda line: (bool(line.cells), line.text == "" and not line.cells))
    for (rows, blank), block in blocks:
        if blank:
            continue
        given = list(block)
        if rows:
            head = given[0].cells if given[0].style == "head" else ()
            made.append(table_markup(head, [line.cells for line in given[bool(head) :]], caption))
            continue
        for line in given:
            if line.style == "head":
                caption, caution = line.text, line.text == "Caution"
                made.append("" if caution else f"<h3>{words(line.text)}</h3>")
            elif caution:
                made.append(caution_box([line.text]))
            else:
                caption = line.text if len(line.text) < _SHORT else caption
                kind = f' class="{line.style}"' if line.style else ""
                mark = f"{tag(line.style)} " if line.style in SEVERITIES else ""
                made.append(f"<p{kind}>{mark}{said(line.text)}</p>")
    return "\n".join(text for text in made if text)


def caution_box(texts: Iterable[str]) -> str:
    """Return cautions, each in a box."""
    return "".join(f'<aside class="caution">{said(text)}</aside>' for text in texts)
