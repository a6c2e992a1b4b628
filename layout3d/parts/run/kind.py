"""The part kind ``run``: its fields stand in ``fields``, how it is laid in the other modules here."""

from __future__ import annotations

from dataclasses import dataclass

from layout3d.parts.base import Built, Site
from layout3d.parts.run.fields import RunFields
from layout3d.parts.run_data import RunData

__all__ = ["Run"]


@dataclass(frozen=True, kw_only=True)
class Run(RunFields):
    """A run of pipe or tube from a port along its steps."""

    kind = "run"
    group = "plumbing"

    def build(self, site: Site) -> Built[Run, RunData]:
        """Build pipes, fittings, holes and supports."""
        from layout3d.parts.run.build import build_run

        return build_run(self, site)
