"""The part kind ``background``: a slab in front of the glass. Its fields stand in ``background_fields``."""

from __future__ import annotations

from dataclasses import dataclass

from layout3d.parts.background_data import BackgroundData
from layout3d.parts.background_fields import BackgroundFields
from layout3d.parts.base import Built, Site

__all__ = ["Background"]


@dataclass(frozen=True, kw_only=True)
class Background(BackgroundFields):
    """A background on one or more panels, bedded on foam or standing off the glass."""

    kind = "background"
    group = "background"

    def build(self, site: Site) -> Built[Background, BackgroundData]:
        """Build slabs, bedding and what is cut out of them."""
        from layout3d.parts.shapes.slabs import build_background

        return build_background(self, site)
