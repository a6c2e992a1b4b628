"""Pipework beside glass and beside pipework: what is measured of it where it goes through a pane."""

from __future__ import annotations

from layout3d.checks.measure import Joins
from layout3d.model.model import Model
from layout3d.parts.base import Body
from layout3d.solid.boolean import difference
from layout3d.solid.primitives import cylinder
from layout3d.solid.shape import Solid

__all__ = ["Through", "is_pipe"]

HOLDERS = ("clip", "suction_cup")
REACH = 0.1
"""How far on either side of the pane a pipe still counts as going through it, [m]: a bulkhead and a bend."""


class Through:
    """Tells which bodies go through which pane, and leaves out what of them is at the hole."""

    def __init__(self, model: Model, joins: Joins | None = None) -> None:
        found = joins or Joins(model)
        self._ways: dict[tuple[str, str], list[Solid]] = {}
        for hole in model.tank.holes.values():
            panel = model.tank.panels[hole.panel]
            radius = max(hole.diameter, hole.flange_diameter, hole.nut_diameter) / 2
            way = cylinder(radius, panel.thickness + 2 * REACH).solid(
                panel.frame(*hole.centre, -panel.thickness - REACH)
            )
            for name in found.of(f"{model.tank_name}.{hole.name}", how=("socket", "barb")):
                self._ways.setdefault((name, panel.body), []).append(way)

    def rest(self, body: Body, pane: Body) -> Solid | None:
        """Return what of a body is to be measured against another: all of it, but for the way through a hole.

        None where nothing is left.
        """
        ways = self._ways.get((body.name, pane.name))
        return difference(body.solid, ways) if ways else body.solid


def is_pipe(body: Body) -> bool:
    """Tell whether a body is pipework that has to keep away, not what holds it."""
    return body.group == "plumbing" and body.kind not in HOLDERS
