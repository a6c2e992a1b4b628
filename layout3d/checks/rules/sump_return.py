"""Sumps that water runs to and is not pumped back from: one sump is figured, and another only fills."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field

from layout3d.checks.base import Finding, rule
from layout3d.checks.flow_words import FLOOD_TEST, volume_of
from layout3d.model.model import Model
from layout3d.outage.sump import sump_water_of
from layout3d.parts.base import Built, Vector
from layout3d.parts.sump import Sump
from layout3d.parts.vessel import SumpData
from layout3d.pipework.graph import Pipework
from layout3d.pipework.read import pipework
from layout3d.pipework.waters import vessel_at, whole_vessel

__all__ = ["sump_return"]


@dataclass(slots=True)
class _Ways:
    """What leads water to a sump and from it: parts by name, and where the first of them ends in it.

    ``returns`` are the pumps that bring it to the tank, each with the compartment that it draws from.
    ``pumped`` tells whether a pump brings it water from elsewhere; ``drawn_down`` are those that draw from
    the tank, with where that ends.
    """

    fed_by: dict[str, None] = field(default_factory=dict)
    returns: dict[str, str] = field(default_factory=dict)
    lead_on: dict[str, None] = field(default_factory=dict)
    drawn_down: dict[str, Vector] = field(default_factory=dict)
    pumped: bool = False
    at: Vector | None = None


@rule(
    "sump-return",
    asks="Pumps bring back what runs to a sump, and one sump holds all that runs back.",
    caution=FLOOD_TEST,
)
def sump_return(model: Model) -> Iterator[Finding]:
    """Find sumps that fill and are not pumped back, that share a tank with another, or are pumped full.

    Two sumps with return pumps keep no level of their own: what drains bring to each has nothing to do with
    what its pump takes. Nor does a tank that a pump draws down: no drain holds its level. Levels of the sump
    are figured for pumps in its last compartment. Drains count where a pump brings water to the tank; a pump
    always does.
    """
    ways = _ways(model)
    for name, one in ways.items():
        for pump, at in one.drawn_down.items():
            yield Finding(
                parts=(pump, name),
                at=at,
                message=f"{pump} pumps {model.tank_name} down into {name}: no drain holds a level, and no "
                "figure here counts that",
                remedy=f"let {model.tank_name} run over into {name} by a drain, and pump the other way",
            )
    returning = [name for name, one in ways.items() if one.returns]
    for built in model.sumps:
        name = built.part.name
        one = ways[name]
        last = f"{name}.{built.data.return_chamber.name}"
        for pump, compartment in one.returns.items():
            if compartment != last:
                yield Finding(
                    parts=(pump, compartment),
                    at=model.built[pump].anchors["inlet"],
                    message=f"{pump} draws from {compartment}, and water runs through the compartments "
                    f"as far as {last}: no level here is figured for that",
                    remedy=f"set {pump} in {last}, or turn the way the compartments follow (`flow:`)",
                )
        if name in returning[:1] or not (one.fed_by or one.returns):
            continue
        if one.returns:
            yield Finding(
                parts=(name, returning[0]),
                at=one.at or built.data.return_chamber.low,
                message=f"pumps bring water to {model.tank_name} from {name} and from {returning[0]}: "
                "what runs back to each has nothing to do with what its pumps take, so one runs over while "
                f"the other runs dry, and no level is figured for {name}",
                remedy="lead all drains and pumps to one sump, or make the two one sump with compartments",
            )
        elif returning or one.pumped:
            yield _fills(model, built, one)


def _fills(model: Model, built: Built[Sump, SumpData], ways: _Ways) -> Finding:
    name = built.part.name
    room = sump_water_of(model, built).room
    on = f"{', '.join(ways.lead_on)} lead it on, by no figure here" if ways.lead_on else "nothing leads it on"
    return Finding(
        parts=(name, *ways.fed_by),
        limit=room,
        unit="m³",
        at=ways.at or built.data.return_chamber.low,
        message=f"{', '.join(ways.fed_by)} fill {name}, and no pump brings that back to {model.tank_name}: "
        f"{on}, and it runs over after {volume_of(room)}",
        remedy=f"lead it to the sump that pumps return from, or set a pump in {name} that does",
    )


def _ways(model: Model) -> dict[str, _Ways]:
    """Return what leads to each sump and from it, by the names of the sumps in the order of the file."""
    found = {built.part.name: _Ways() for built in model.sumps}
    for part in pipework(model).parts:
        if not part.air:
            _add(model, part, found)
    return found


def _add(model: Model, part: Pipework, found: dict[str, _Ways]) -> None:
    """Add what hangs together: where its pumps draw and, without one, its mouths; and where it ends."""
    ends: dict[str, Vector] = {}
    for mouth in part.mouths:
        ends.setdefault(whole_vessel(mouth.vessel), mouth.at)
    waters = {pump.name: vessel_at(model, pump.inlet) for pump in part.water_pumps}
    pumps = {pump: whole_vessel(water) for pump, water in waters.items()}
    names = dict.fromkeys(pumps or (edge.part for edge in part.edges if edge.part != model.tank_name))
    sources = set(pumps.values()) or set(ends)
    for name, one in found.items():
        if name in ends and sources - {name, "", *(model.tank_name for _ in pumps)}:
            one.fed_by |= names
            one.pumped |= bool(pumps)
            one.at = one.at or ends[name]
        if name in ends:
            one.drawn_down |= {pump: ends[name] for pump, of in pumps.items() if of == model.tank_name}
        if name in sources and model.tank_name in ends and pumps:
            one.returns |= {pump: waters[pump] for pump, of in pumps.items() if of == name}
        elif name in sources and set(ends) - {name, model.tank_name, ""}:
            one.lead_on |= names
