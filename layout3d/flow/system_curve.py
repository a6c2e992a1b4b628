"""The head that pipework asks of a pump at each flow: the line that meets the pump's curve where it works.

Traced by running the pump slower and faster in its own network: with branches and drip bars no one formula
gives it. Other pumps of the same network keep their speed.
"""

from __future__ import annotations

from dataclasses import replace

from layout3d.band import Setting
from layout3d.errors import LayoutError, UnknownName, nearest
from layout3d.flow.plumbing import Plumbing, plumbing
from layout3d.flow.solve import solve
from layout3d.flow.water import Water, water_of
from layout3d.keep import FIGURES, code_of, kept, key_of
from layout3d.model.model import Model

__all__ = ["CURVE", "system_curve"]

CURVE = replace(FIGURES, name="system curve")

STEPS = 40
FASTER = 1.35  # times the set speed, as far as the line is traced


def system_curve(model: Model, pump: str, setting: Setting = "likely") -> tuple[tuple[float, float], ...]:
    """Return points (flow [m³/s], head [m]) of the line, by rising flow; empty where the pump moves nothing.

    Raises
    ------
    UnknownName : no such pump lifts water in this model.
    """
    systems = {one.name: (laid, one.speed) for laid in plumbing(model).systems() for one in laid.pumps}
    if pump not in systems:
        raise UnknownName(f"no pump {pump!r} lifts water", expected=nearest(pump, systems))
    laid, speed = systems[pump]
    water = water_of(model)
    key = key_of("system curve", code_of(), laid, pump, speed, setting, water)
    figures = kept(key, CURVE, lambda: _traced(laid, pump, speed, setting, water))
    return tuple(zip(figures[::2], figures[1::2], strict=True))


def _traced(laid: Plumbing, pump: str, speed: float, setting: Setting, water: Water) -> tuple[float, ...]:
    """Return flow and head of each point, one after the other."""
    found: list[tuple[float, float]] = []
    for step in range(1, STEPS + 1):
        network = laid.at_speeds({pump: FASTER * speed * step / STEPS}).network
        try:
            link = solve(network, setting=setting, water=water, holds=False).links[pump]
        except LayoutError:
            continue  # too slow to lift, or beyond its curve
        if link.loss is not None and link.flow > (found[-1][0] if found else 0.0):
            found.append((link.flow, -link.loss))
    return tuple(figure for point in found for figure in point)
