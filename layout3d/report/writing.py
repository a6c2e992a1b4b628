"""Lines of a report and how they are written: with colour on a terminal, bare everywhere else."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from pathlib import Path
from string import Template
from typing import TextIO

__all__ = ["Line", "filled", "markdown_table", "plain", "section", "table", "write"]


@dataclass(frozen=True, slots=True)
class Line:
    """One line: its text, how deep it is set in, and its style: a severity, 'head', 'faint' or ''.

    A row of a table also has its ``cells``; a heading row is of the style 'head'.
    """

    text: str
    indent: int = 0
    style: str = ""
    cells: tuple[str, ...] = ()


_STYLES = {
    "fault": "bold red",
    "warning": "yellow",
    "note": "cyan",
    "head": "bold",
    "faint": "dim",
    "": "",
}


def plain(lines: Iterable[Line]) -> str:
    """Return the lines as text without colour, each on one line however long, so that tools can search it."""
    return "".join(f"{' ' * line.indent}{line.text}".rstrip() + "\n" for line in lines)


def write(lines: Iterable[Line], stream: TextIO) -> None:
    """Write lines: wrapped and in colour where ``stream`` is a terminal, else as ``plain`` gives them."""
    if not stream.isatty():
        stream.write(plain(lines))
        return
    from rich.console import Console
    from rich.padding import Padding
    from rich.text import Text

    console = Console(file=stream, highlight=False)
    for line in lines:
        text = Text(line.text, style=_STYLES[line.style])
        console.print(Padding(text, (0, 0, 0, line.indent)) if line.text else "")


def table(
    rows: Sequence[Sequence[str]], *, indent: int = 2, right: Sequence[int] = (), headed: bool = False
) -> list[Line]:
    """Set rows in columns two spaces apart; the columns ``right`` are set flush right. Empty for no rows.

    The first row is a heading where they are ``headed``.

    >>> [line.text for line in table([("sand", "12 L"), ("rock", "9.5 L")], right=[1])]
    ['sand   12 L', 'rock  9.5 L']
    """
    if not rows:
        return []
    widths = [max(len(row[column]) for row in rows) for column in range(len(rows[0]))]
    return [
        Line(
            "  ".join(
                cell.rjust(width) if column in right else cell.ljust(width)
                for column, (cell, width) in enumerate(zip(row, widths, strict=True))
            ).rstrip(),
            indent,
            "head" if headed and not number else "",
            tuple(row),
        )
        for number, row in enumerate(rows)
    ]


def section(heading: str, lines: Iterable[Line]) -> list[Line]:
    """Return lines under a heading, an empty line before it; nothing for no lines."""
    below = list(lines)
    return [Line(""), Line(heading, style="head"), *below] if below else []


def markdown_table(header: Sequence[str], rows: Iterable[Sequence[str]]) -> str:
    r"""Return a table; a stroke within a cell is kept from ending it.

    >>> print(markdown_table(("a", "b"), [("1", "x|y")]), end="")
    | a | b |
    | --- | --- |
    | 1 | x\|y |
    """
    lines = [header, ["---"] * len(header), *rows]
    return "".join("| " + " | ".join(cell.replace("|", "\\|") for cell in line) + " |\n" for line in lines)


def filled(page: Path, **texts: str) -> str:
    """Return a page of text, with each text in the place of its name after a ``$``."""
    return Template(page.read_text(encoding="utf-8")).substitute(texts)
