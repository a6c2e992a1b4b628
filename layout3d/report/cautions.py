"""What stands beside figures that can hurt someone: what was not considered, and who is to be asked."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from layout3d.checks.base import Finding, Rule
from layout3d.glass.panes import GLASS_CAUTION
from layout3d.water.mass import FLOOR_CAUTION, LIFT_CAUTION

__all__ = ["FLOOD", "FLOOR", "FLOW", "GLASS", "LIFT", "OUTAGE", "cautions_of"]

FLOOR = FLOOR_CAUTION
LIFT = LIFT_CAUTION
GLASS = GLASS_CAUTION
FLOOD = (
    "Water: all of it can end up on the floor. These volumes are those at the scene's waterline. Not "
    "considered: leaks, splashes, what seeps along cables and roots, air caught under overhangs. Fill for "
    "the first time where a flood does no harm."
)
_FLOW_FLOOD = (
    "Water: a pump can put all of its water on the floor. Not considered: leaks, splashes, a hose that slips "
    "off, a drain that clogs (see `layout3d outage`). Fill and run for the first time where a flood does no "
    "harm."
)
_MAINS = (
    "Mains voltage stands beside this water. A residual-current device and drip loops on all cables are the "
    "least; ask a licensed electrician. Unplug before you put a hand in."
)
_CHECK_VALVE = (
    "Check valves fail: dirt, lime or a snail holds them open. Nothing here may depend on one alone to keep "
    "water off the floor."
)
_FLOW_TEST = (
    "Test with the real plumbing, over a drain or outdoors, with a bucket and a watch, before anything is "
    "cemented or foamed in: published losses of one small fitting differ by two to three times."
)
_OUTAGE_FLOOD = (
    "Water: these levels are computed, and a flood does not read them. Not considered: leaks, splashes, what "
    "seeps along cables and roots, two failures at once, how fast it goes. A drain blocks sooner or later: "
    "give it a second one that carries the whole flow alone."
)
_OUTAGE_TEST = (
    "Test with the real plumbing, over a drain or outdoors: switch the pumps off, stop each drain, mark "
    "where the water comes to rest, before you trust it over a floor."
)
FLOW = (_FLOW_FLOOD, _MAINS, _CHECK_VALVE, _FLOW_TEST)
"""Cautions beside what pumps keep running."""
OUTAGE = (_OUTAGE_FLOOD, _MAINS, _CHECK_VALVE, _OUTAGE_TEST)
"""Cautions beside what failures do."""


def cautions_of(findings: Sequence[Finding], asked: Mapping[str, Rule], *more: str) -> tuple[str, ...]:
    """Return the cautions of a checked scene, each once: those of rules that found something, then the usual.

    The usual ones are those of the key figures, which tell volumes and masses of every scene; ``more`` are
    those of other results that are told with them.
    """
    found = {finding.rule for finding in findings}
    carried = [rule.caution for name, rule in asked.items() if name in found and rule.caution]
    return tuple(dict.fromkeys([*carried, *more, GLASS, FLOOR, FLOOD]))
