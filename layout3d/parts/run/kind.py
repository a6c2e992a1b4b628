"""The part kind ``run``: its route planned, pipe or tube laid along it, and its supports put on.

Its fields stand in ``fields``.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from layout3d.errors import LayoutError
from layout3d.parts.base import Built, Join, Port, Site, vector
from layout3d.parts.run.fields import RunFields
from layout3d.parts.run.pipe import PipeLaying
from layout3d.parts.run.plan import plan_route
from layout3d.parts.run.supports import add_supports
from layout3d.parts.run.tube import TubeLaying, bend_radius
from layout3d.parts.run_data import RunData

__all__ = ["Run"]


@dataclass(frozen=True, kw_only=True)
class Run(RunFields):
    """A run of pipe or tube from a port along its steps."""

    kind = "run"
    group = "plumbing"

    def build(self, site: Site) -> Built[Run, RunData]:
        """Build pipes, fittings, holes and supports."""
        plan = plan_route(self, site)
        laid = (TubeLaying if self.tube else PipeLaying)(self, site, plan)
        laid.lay()
        joins = list(laid.joins)
        start, end = plan.nodes[0], plan.nodes[-1]
        for node, body in ((start, laid.bodies[0]), (end, laid.bodies[-1])):
            if node.port is not None:
                joins.append(Join(body.name, node.port.body, "barb" if node.port.end == "barb" else "socket"))
        if laid.end and laid.end.end == "open" and (met := _met(self, site, laid.end)):
            joins.append(Join(laid.bodies[-1].name, met.body, "socket"))
        data = RunData(
            material=self.material,
            flexible=bool(self.tube),
            size=plan.legs[0].size,
            elements=tuple(laid.elements),
            start_port=start.port.name if start.port else "",
            start=vector(start.at),
            start_direction=vector(plan.legs[0].direction),
            end=plan.end,
            end_port=end.port.name if end.port else "",
            end_at=laid.end.at if laid.end else vector(end.at),
            end_direction=vector(plan.legs[-1].direction),
            end_size=laid.end.size if laid.end else plan.legs[-1].size,
            bend=bend_radius(self, site),
            least_bend=site.catalog.tube(self.tube).min_bend_radius if self.tube else 0.0,
        )
        supports, missing, held, more = add_supports(self, site, laid.elements, laid.bodies)
        return Built(
            part=self,
            bodies=(*laid.bodies, *held),
            ports=(*laid.ports, *((laid.end,) if laid.end else ())),
            joins=(*joins, *more),
            anchors={"end": data.end_at} | {node.name: vector(node.at) for node in plan.nodes if node.name},
            data=replace(data, supports=supports, no_supports=missing),
            keep_clear=tuple(laid.clear),
        )


def _met(run: RunFields, site: Site, end: Port) -> Port | None:
    """Return the socket that the bare end of a pipe stands in by `end_at`, from its face to its bottom.

    A name that no port has is told by a check, not here.
    """
    if not run.end_at or run.tube:
        return None
    try:
        port = site.port(run.end_at, run, "end_at")
    except LayoutError:
        return None
    beside = np.subtract(end.at, port.at)
    deep = -float(np.dot(beside, port.direction))
    away = float(np.linalg.norm(beside + deep * np.array(port.direction)))
    gap, lean = (site.catalog.limit(name).value for name in ("port_gap", "socket_give"))
    turned = float(np.linalg.norm(np.add(end.direction, port.direction)))
    fits = port.end == "socket" and turned <= lean and away <= gap and -gap <= deep <= port.depth + gap
    return port if fits else None
