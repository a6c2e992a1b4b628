"""Tables in Markdown."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

__all__ = ["markdown_table"]


def markdown_table(header: Sequence[str], rows: Iterable[Sequence[str]]) -> str:
    r"""Return a table; a stroke within a cell is kept from ending it.

    >>> print(markdown_table(("a", "b"), [("1", "x|y")]), end="")
    | a | b |
    | --- | --- |
    | 1 | x\|y |
    """
    lines = [header, ["---"] * len(header), *rows]
    return "".join("| " + " | ".join(cell.replace("|", "\\|") for cell in line) + " |\n" for line in lines)
