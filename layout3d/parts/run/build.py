"""Builds a run: plans its route, lays pipe or tube along it, and puts its supports on."""

from __future__ import annotations

from dataclasses import replace
from typing import TypeVar

from layout3d.parts.base import Built, Join, Site, vector
from layout3d.parts.run.fields import RunFields
from layout3d.parts.run.pipe import lay_pipe
from layout3d.parts.run.plan import plan_route
from layout3d.parts.run.supports import add_supports
from layout3d.parts.run.tube import bend_radius, lay_tube
from layout3d.parts.run_data import RunData

__all__ = ["build_run"]

R = TypeVar("R", bound=RunFields)


def build_run(run: R, site: Site) -> Built[R, RunData]:
    """Build a run; see ``parts.run``."""
    plan = plan_route(run, site)
    laid = lay_tube(run, site, plan) if run.tube else lay_pipe(run, site, plan)
    joins = list(laid.joins)
    start, end = plan.nodes[0], plan.nodes[-1]
    for node, body in ((start, laid.bodies[0]), (end, laid.bodies[-1])):
        if node.port is not None:
            joins.append(Join(body.name, node.port.body, "barb" if node.port.end == "barb" else "socket"))
    data = RunData(
        material=run.material,
        flexible=bool(run.tube),
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
        bend=bend_radius(run, site),
        least_bend=site.catalog.tube(run.tube).min_bend_radius if run.tube else 0.0,
    )
    supports, held, more = add_supports(run, site, laid.elements, laid.bodies)
    return Built(
        part=run,
        bodies=(*laid.bodies, *held),
        ports=(*laid.ports, *((laid.end,) if laid.end else ())),
        joins=(*joins, *more),
        anchors={"end": data.end_at} | {node.name: vector(node.at) for node in plan.nodes if node.name},
        data=replace(data, supports=supports),
        keep_clear=laid.clear,
    )
