"""What stands beside figures that can hurt someone: what was not considered, and who is to be asked."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from layout3d.checks.base import Finding, Rule
from layout3d.water.mass import FLOOR_CAUTION, LIFT_CAUTION

__all__ = ["FLOOD", "FLOOR", "GLASS", "LIFT", "cautions_of"]

FLOOR = FLOOR_CAUTION
LIFT = LIFT_CAUTION
GLASS = (
    "Glass: no figure here says that a pane, a brace or a seam holds this water. Not considered: scratches, "
    "chips, drilled edges, age of the silicone, an uneven stand, knocks. Ask the glass maker or the tank's "
    "builder about thickness and bracing."
)
FLOOD = (
    "Water: all of it can end up on the floor. These volumes are those at the scene's waterline. Not "
    "considered: leaks, splashes, what seeps along cables and roots, air caught under overhangs. Fill for "
    "the first time where a flood does no harm."
)


def cautions_of(findings: Sequence[Finding], asked: Mapping[str, Rule]) -> tuple[str, ...]:
    """Return the cautions of a checked scene, each once: those of rules that found something, then the usual.

    The usual ones are those of the key figures, which tell volumes and masses of every scene.
    """
    found = {finding.rule for finding in findings}
    carried = [rule.caution for name, rule in asked.items() if name in found and rule.caution]
    return tuple(dict.fromkeys([*carried, GLASS, FLOOR, FLOOD]))
