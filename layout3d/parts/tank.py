"""The part kind ``tank``: a tank of flat panes. Its fields stand in ``tank_fields``."""

from __future__ import annotations

from dataclasses import dataclass

from layout3d.parts.base import Built, Site
from layout3d.parts.tank_data import TankData
from layout3d.parts.tank_fields import TankFields

__all__ = ["Tank"]


@dataclass(frozen=True, kw_only=True)
class Tank(TankFields):
    """A glass tank; its inside front left bottom corner is the origin of all positions."""

    kind = "tank"

    def build(self, site: Site) -> Built[Tank, TankData]:
        """Build panels with their holes, beads, braces, rim and bulkheads."""
        from layout3d.parts.shapes.glazing import build_tank

        return build_tank(self, site)
