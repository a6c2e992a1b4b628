"""Writes a chart to a file, whole or not at all, alike for the same scene each time."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

from layout3d.draw.style import PAGE, Colour
from layout3d.errors import LayoutError, Place
from layout3d.files import written

__all__ = ["CHART_FORMATS", "DASHED", "chart_axes", "save_chart", "told_beside"]

CHART_FORMATS = (".png", ".svg", ".pdf")
DASHED: Any = (0, (5, 3))
_DOTS = 150  # in an inch of a PNG
_SIZE = (8.0, 5.5)  # [in]
_LOOK: Any = {
    "svg.hashsalt": "layout3d",
    "axes.facecolor": PAGE.top,
    "axes.edgecolor": PAGE.leader,
    "axes.labelcolor": PAGE.ink,
    "axes.titlecolor": PAGE.ink,
    "axes.titlelocation": "left",
    "axes.titlesize": 13.0,
    "grid.color": PAGE.bottom,
    "xtick.color": PAGE.soft_ink,
    "ytick.color": PAGE.soft_ink,
    "legend.frameon": False,
    "legend.fontsize": 9.5,
    "legend.labelcolor": PAGE.ink,
}


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
    suffix = to.suffix.lower()
    if suffix not in CHART_FORMATS:
        raise LayoutError(
            f"{suffix or 'no suffix'!r} can't be drawn",
            expected=f"one of: {', '.join(CHART_FORMATS)}",
            place=Place(str(to)),
        )
    import matplotlib

    # without a date in it, the same scene gives the same file
    dated = {".svg": {"Date": None}, ".pdf": {"CreationDate": None}}.get(suffix, {})
    with written(to) as partial, matplotlib.rc_context(_LOOK | {"font.size": font}):
        draw().savefig(partial, dpi=_DOTS, facecolor=PAGE.top, metadata={"Title": title, **dated})


def chart_axes() -> tuple[Any, Any]:
    """Return a figure of the usual size, and its axes with a grid."""
    from matplotlib.figure import Figure

    figure = Figure(figsize=_SIZE, layout="constrained")
    axes = figure.add_subplot()
    axes.grid(linewidth=0.8)
    return figure, axes


def told_beside(
    axes: Any,
    text: str,
    at: Any,
    offset: tuple[float, float],
    *,
    on: Any = "data",
    colour: Colour,
    **more: Any,
) -> None:
    """Write a line ``offset`` [pt] beside a place, in the coordinates that ``on`` names."""
    axes.annotate(text, xy=at, xycoords=on, xytext=offset, textcoords="offset points", color=colour, **more)
