"""Pipework in the colours of what runs in it: speed, or the grade line; and the key that tells the colours.

Likely values. Only pipework that hangs on a running pump is coloured; the rest keeps its own look.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from layout3d.draw.overlay import Overlay, text_size
from layout3d.draw.style import PAGE, Colour, ramp_stops
from layout3d.errors import LayoutError, UnknownName, nearest
from layout3d.flow.result import RunningFlow
from layout3d.model.model import Model
from layout3d.units import in_own_units, length_unit, to_si

__all__ = ["COVERS", "QUANTITIES", "ColourKey", "covers_of", "draw_key", "flow_colours", "ramp", "spanning"]

QUANTITIES = ("velocity", "head")
COVERS = ("background", "rock", "wood", "substrate", "plant", "stand")
"""Groups that stand before pipework, left out of a picture of what runs in it."""

_BAR = (300.0, 16.0)  # pixels on a page 1600 wide


@dataclass(frozen=True, slots=True, kw_only=True)
class ColourKey:
    """What the colours mean: title, and texts at shares of the bar from its left end, 0 to 1.

    ``span`` are the figures at its two ends, SI.
    """

    title: str
    marks: tuple[tuple[float, str], ...]
    span: tuple[float, float]


@in_own_units
def flow_colours(
    model: Model, flow: RunningFlow, what: str, over: tuple[float, float] | None = None
) -> tuple[dict[str, Colour], ColourKey]:
    """Return the colour of each body of running pipework, and the key.

    Parameters
    ----------
    what : 'velocity' of the water, or 'head': the level that it would rise to in an open tube
    over : figures that the key spans as well, SI: those of another scene that is laid beside this one

    Raises
    ------
    UnknownName : another quantity.
    LayoutError : nothing runs.
    """
    if what not in QUANTITIES:
        raise UnknownName(f"{what!r} is no quantity of flow", expected=nearest(what, QUANTITIES))
    values = _speeds(flow) if what == "velocity" else _levels(flow)
    if not values:
        raise LayoutError(
            "no pump moves water in this scene, so pipework has no colours of flow",
            remedy="see what `layout3d flow` says",
        )
    low, high = spanning(0.0 if what == "velocity" else min(values.values()), max(values.values()), over)
    span = max(high - low, 1e-9)
    length = length_unit()
    if what == "velocity":
        unit, title = "ft/s" if length == "in" else "m/s", "speed of the water, likely"
    else:
        unit, title = length, "grade line over the tank's floor, likely"
    marks = tuple(
        ((value * to_si(1, unit) - low) / span, f"{value:g}")
        for value in _round_values(low / to_si(1, unit), high / to_si(1, unit))
    )
    return (
        {body: ramp((value - low) / span) for body, value in values.items()},
        ColourKey(title=f"{title}, {unit}", marks=marks, span=(low, high)),
    )


def spanning(low: float, high: float, over: tuple[float, float] | None) -> tuple[float, float]:
    """Return a span that holds another one too, where that is given."""
    return (low, high) if over is None else (min(low, over[0]), max(high, over[1]))


def _round_values(low: float, high: float) -> list[float]:
    """Return round figures from low to high, three to seven of them; one where the two are alike."""
    if high - low < 1e-9:
        return [float(f"{high:.3g}")]
    rough = (high - low) / 4.0
    ten = 10.0 ** math.floor(math.log10(rough))
    step = next(times * ten for times in (1.0, 2.0, 5.0, 10.0) if times * ten >= 0.75 * rough)
    first = math.ceil(low / step - 1e-9)
    return [float(f"{number * step:.6g}") for number in range(first, math.floor(high / step + 1e-9) + 1)]


def _speeds(flow: RunningFlow) -> dict[str, float]:
    found: dict[str, float] = {}
    for one in flow.stretches:
        found[one.link.body] = max(found.get(one.link.body, 0.0), one.velocity.likely)
    for bar in flow.bars:
        found[bar.body] = max(found.get(bar.body, 0.0), bar.velocity.likely)
    return found


def _levels(flow: RunningFlow) -> dict[str, float]:
    heads = {
        point.node: point.head.likely
        for system in flow.systems
        for point in system.grade
        if point.head is not None
    }
    found: dict[str, list[float]] = {}
    for one in flow.stretches:
        ends = [heads[end] for end in (one.link.start, one.link.end) if end in heads]
        found.setdefault(one.link.body, []).extend(ends)
    for bar in flow.bars:
        found.setdefault(bar.body, []).append(bar.total_head.likely)
    return {body: sum(levels) / len(levels) for body, levels in found.items() if levels}


def ramp(share: float) -> Colour:
    """Return the colour at a share of the ramp, 0 to 1; it darkens all the way, so a grey print tells it."""
    stops = ramp_stops()
    places = np.linspace(0.0, 1.0, len(stops))
    red, green, blue = (float(np.interp(share, places, [stop[k] for stop in stops])) for k in range(3))
    return (red, green, blue)


def draw_key(overlay: Overlay, key: ColourKey, *, bottom: float) -> None:
    """Draw the key at the right of the page, its bar's lower edge at ``bottom``, [pixels]."""
    scale, size = overlay.scale, PAGE.small * overlay.scale
    wide, thick = _BAR[0] * scale, _BAR[1] * scale
    right = overlay.size[0] - PAGE.margin * scale
    left = right - 30.0 * scale - wide
    steps = 60
    for step in range(steps):
        begin, end = (left + wide * edge / steps for edge in (step, step + 1))
        overlay.box((begin, bottom - thick, end + 0.5, bottom), ramp((step + 0.5) / steps))
    for share, text in key.marks:
        at = left + share * wide
        overlay.line([(at, bottom), (at, bottom + 5.0 * scale)], PAGE.ink, 1.2 * scale)
        overlay.text((at - 0.5 * text_size(text, 0.85 * size)[0], bottom + 7.0 * scale), text, 0.85 * size)
    begin = min(left, right - text_size(key.title, size)[0])
    overlay.text((begin, bottom - thick - 8.0 * scale), key.title, size, anchor="lb")


def covers_of(model: Model) -> tuple[str, ...]:
    """Return what stands before the pipework in a model: groups and parts to leave out."""
    groups = {body.group for body in model.bodies}
    lights = {body.part for body in model.bodies if body.kind == "light"}
    return (*(group for group in COVERS if group in groups), *sorted(lights))
