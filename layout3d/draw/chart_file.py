"""Writes a chart to a file, whole or not at all, alike for the same scene each time."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

from layout3d.draw.style import PAGE
from layout3d.errors import LayoutError, Place
from layout3d.files import written

__all__ = ["CHART_FORMATS", "save_chart"]

CHART_FORMATS = (".png", ".svg", ".pdf")
_DOTS = 150  # in an inch of a PNG


def save_chart(draw: Callable[[], Any], to: Path, *, title: str, font: float = 10.0) -> None:
    """Draw a figure and save it as PNG, SVG or PDF, by the file's suffix; an existing file is replaced.

    Parameters
    ----------
    draw : returns the plotting library's figure; called with our settings in force
    font : its size, [pt]

    Raises
    ------
    LayoutError : another suffix, or the file can't be written.
    """
    _refuse_format(to)
    import matplotlib

    suffix = to.suffix.lower()
    settings: Any = {"svg.hashsalt": "layout3d", "font.size": font}
    # without a date in it, the same scene gives the same file
    dated = {".svg": {"Date": None}, ".pdf": {"CreationDate": None}}.get(suffix, {})
    with written(to) as partial, matplotlib.rc_context(settings):
        draw().savefig(partial, dpi=_DOTS, facecolor=PAGE.top, metadata={"Title": title, **dated})


def _refuse_format(to: Path) -> None:
    """Raise LayoutError for a suffix that no chart can be drawn as."""
    suffix = to.suffix.lower()
    if suffix not in CHART_FORMATS:
        raise LayoutError(
            f"{suffix or 'no suffix'!r} can't be drawn",
            expected=f"one of: {', '.join(CHART_FORMATS)}",
            place=Place(str(to)),
        )
