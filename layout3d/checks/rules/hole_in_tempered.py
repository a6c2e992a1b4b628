"""A hole in a toughened pane: it can't be drilled, the pane bursts."""

from __future__ import annotations

from layout3d.checks.base import DRILLING, Finding, Findings, rule
from layout3d.checks.drilled_holes import holes
from layout3d.model.model import Model


@rule("hole-in-tempered", asks="No hole is drilled in a toughened pane.", caution=DRILLING)
def holes_in_tempered(model: Model) -> Findings:
    """Find holes in panes that the scene calls tempered."""
    for hole, panel in holes(model):
        if panel.tempered:
            yield Finding(
                parts=(panel.body, hole.name),
                at=hole.at,
                message=f"{hole.name} is drilled in {panel.body}, which is toughened: it bursts",
                remedy="drill another pane, or have this one made with the hole before it is toughened",
            )
