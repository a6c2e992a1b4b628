"""The head that pipework asks of a pump at each flow: the line that meets the pump's curve where it works.

Traced by running the pump slower and faster in its own network: with branches and drip bars no one formula
gives it. Other pumps of the same network keep their speed.
"""

from __future__ import annotations

from dataclasses import replace
from functools import partial

from layout3d.band import Setting
from layout3d.errors import LayoutError, UnknownName, nearest
from layout3d.flow.laying import plumbing
from layout3d.flow.network import Pump, Reservoir
from layout3d.flow.running import water_of
from layout3d.flow.settled import Bars, component, highest_head, settle
from layout3d.model.model import Model

__all__ = ["system_curve"]

STEPS = 40
FASTER = 1.35  # times the set speed, as far as the line is traced


def system_curve(model: Model, pump: str, setting: Setting = "likely") -> tuple[tuple[float, float], ...]:
    """Return points (flow [m³/s], head [m]) of the line, by rising flow; empty where the pump moves nothing.

    Raises
    ------
    UnknownName : no such pump lifts water in this model.
    """
    laid = plumbing(model)
    links = () if laid is None else laid.links
    pumps = [link.name for link in links if isinstance(link, Pump)]
    if laid is None or pump not in pumps:
        raise UnknownName(f"no pump {pump!r} lifts water", expected=nearest(pump, pumps))
    open_water = {node.name for node in laid.nodes if isinstance(node, Reservoir)}
    own = next(
        group for group in component(laid.links, open_water) if any(link.name == pump for link in group)
    )
    place = next(number for number, link in enumerate(own) if link.name == pump)
    names = {end for link in own for end in (link.start, link.end)}
    nodes = [node for node in laid.nodes if node.name in names]
    set_pump = own[place]
    assert isinstance(set_pump, Pump)  # found by its name among the pumps
    fastest = replace(set_pump, speed=FASTER * set_pump.speed)
    water = water_of(model)
    top = highest_head(nodes, [*own[:place], fastest, *own[place + 1 :]])
    bars = Bars([one for one in laid.bars if one.node in names], top=top, water=water)
    found: list[tuple[float, float]] = []
    for step in range(1, STEPS + 1):
        own[place] = replace(set_pump, speed=fastest.speed * step / STEPS)
        try:
            case = settle(nodes, own, bars, losses=partial(_always, setting), water=water)
        except LayoutError:
            continue  # too slow to lift, or beyond its curve
        link = case.steady.link(pump)
        if link.loss is not None and link.flow > (found[-1][0] if found else 0.0):
            found.append((link.flow, -link.loss))
    return tuple(found)


def _always(setting: Setting, _: str) -> Setting:
    return setting
