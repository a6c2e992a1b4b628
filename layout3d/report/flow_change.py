"""The change that gives a drip bar a wanted flow, as lines of text with what to write in the scene."""

from __future__ import annotations

from layout3d.flow.sizing import Change
from layout3d.model.model import Model
from layout3d.report.cautions import FLOW
from layout3d.report.flow import bar_lines
from layout3d.report.flow_words import band_cells, one_line
from layout3d.report.text import caution_lines
from layout3d.report.writing import Line
from layout3d.units import show

__all__ = ["change_lines"]


def change_lines(model: Model, change: Change) -> list[Line]:
    """Return what to change, how to write it, and what then runs."""
    style = model.scene.style
    wanted = show(change.wanted, "flow per length", system=style, digits=3)
    gives = one_line(
        change.run.flow_per_metre, lambda band: band_cells(band, "flow per length", style, digits=3)
    )
    after = _figure(change, change.after, style)
    lines = [
        Line(f"{model.scene.title}  ({model.scene.file})", style="head"),
        Line(""),
        Line(f"For {wanted} from {change.run.run}", style="head"),
        Line(f"{_what(change)}: {after}, now {_figure(change, change.before, style)}", 2),
        Line(f"in the scene: {_patch(change, style)}", 2),
        Line(f"it then gives {gives}", 2),
    ]
    for choice in change.choices:
        size = show(choice.bar.diameters[0], "length", system=style)
        each = one_line(
            choice.flow_per_metre, lambda band: band_cells(band, "flow per length", style, digits=3)
        )
        lines.append(Line(f"with a drill of {size}: {each}", 2))
    lines += [Line(""), *bar_lines(change.run, style)]
    return lines + caution_lines(FLOW)


def _what(change: Change) -> str:
    if change.varied == "speed":
        return f"speed of {change.part}"
    if change.varied == "diameter":
        return "diameter of the holes"
    return f"pitch of the holes, {change.bar.count} of them"


def _figure(change: Change, value: float, style: str) -> str:
    return f"{value:.1%}" if change.varied == "speed" else show(value, "length", system=style, digits=3)


def _patch(change: Change, style: str) -> str:
    if change.varied == "speed":
        return f"parts.{change.part}.speed: {change.after:.1%}"
    size = show(change.bar.diameters[0], "length", system=style, digits=3)
    if change.varied == "diameter":
        return f"drip: {{diameter: {size}, …}} in the route of {change.part}"
    pitch = show(change.after, "length", system=style, digits=3)
    return f"drip: {{pitch: {pitch}, count: {change.bar.count}, …}} in the route of {change.part}"
