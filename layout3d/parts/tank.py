"""The part kind ``tank``: a tank of flat panes. Its fields stand in ``tank_fields``."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from layout3d.parts.base import Built, Site, vector
from layout3d.parts.shapes.bracing import bracing
from layout3d.parts.shapes.drilling import flat_centre
from layout3d.parts.shapes.glazing import assemble, bottom_panel, upright_panel
from layout3d.parts.shapes.plan import Polygon, edge_normals
from layout3d.parts.tank_data import Panel, TankData
from layout3d.parts.tank_fields import TankFields
from layout3d.solid.primitives import box, prism
from layout3d.solid.shape import Placement, Solid

__all__ = ["Tank"]


@dataclass(frozen=True, kw_only=True)
class Tank(TankFields):
    """A glass tank; its inside front left bottom corner is the origin of all positions."""

    kind = "tank"

    def build(self, site: Site) -> Built[Tank, TankData]:
        """Build panels with their holes, beads, braces, rim and bulkheads."""
        plan, outer, names = self.plan(), self.outer_plan(), self.wall_names()
        panels = {name: _wall(self, index) for index, name in enumerate(names)}
        panels["bottom"] = bottom_panel(
            self, plan=plan, outer_plan=outer, sides=names, tempered="bottom" in self.tempered
        )
        return assemble(
            self,
            site,
            panes={name: (panel, _pane(self, panel)) for name, panel in panels.items()},
            centres={
                name: flat_centre(self, site, name, hole, panels[hole.panel])
                for name, hole in self.holes.items()
            },
            plan=plan,
            outer_plan=outer,
            sides=names,
            silicone=self.silicone,
            more=bracing(self, site, prism(plan, self.inside_size()[2]).solid()),
        )


def _wall(tank: TankFields, index: int) -> Panel:
    plan, outer, names = tank.plan(), tank.outer_plan(), tank.wall_names()
    normals = edge_normals(plan)
    name, count = names[index], len(names)
    # u runs as seen from inside, left to right, against the order of the walls: low u is at the next wall
    end, origin = plan[index], plan[(index + 1) % count]
    length = float(np.linalg.norm(end - origin))
    after, before = (index + 1) % count, (index - 1) % count
    mitred = tank.footprint is not None
    if mitred:
        along = (end - origin) / length
        low, high = (float(np.dot(outer[corner] - origin, along)) for corner in (after, index))
    else:
        low, high = 0.0, length
        if name in ("front", "back"):
            low -= tank.thickness(names[after])
            high += tank.thickness(names[before])
    return upright_panel(
        tank,
        name,
        origin,
        end,
        ends=("end", "start") if mitred else None,
        glass=(low, high),
        drillable=(max(low, 0.0), min(high, length)) if mitred else None,
        neighbours=(
            (names[after], _between(normals[index], normals[after])),
            (names[before], _between(normals[index], normals[before])),
        ),
        tempered=name in tank.tempered,
    )


def _between(inward: Polygon, other: Polygon) -> float:
    """Return the angle inside the corner of two walls, [rad]."""
    return math.acos(max(-1.0, min(1.0, -float(np.dot(inward, other)))))


def _pane(tank: TankFields, panel: Panel) -> Solid:
    """Return the undrilled pane."""
    if panel.name == "bottom":
        shape = prism(np.array(panel.glass), panel.thickness)
        return shape.solid(Placement.at((0.0, 0.0, -panel.thickness)))
    if tank.footprint is None:
        (low, _), (high, top) = panel.glass[0], panel.glass[2]
        corners = [np.array(panel.at(u, 0.0, w)) for u in (low, high) for w in (0.0, -panel.thickness)]
        least, most = np.min(corners, axis=0), np.max(corners, axis=0)
        size = (float(most[0] - least[0]), float(most[1] - least[1]), top)
        return box(size).solid(Placement.at(vector(least)))
    plan, outer = tank.plan(), tank.outer_plan()
    index = tank.wall_names().index(panel.name)
    after = (index + 1) % len(plan)
    return prism(np.array([outer[index], outer[after], plan[after], plan[index]]), panel.height).solid()
