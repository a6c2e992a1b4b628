"""What stands beside figures that can hurt someone: what was not considered, and who is to be asked."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from pathlib import Path

from layout3d.checks.base import Finding, Rule
from layout3d.files import own_data
from layout3d.glass.panes import GLASS_CAUTION
from layout3d.water.mass import FLOOR_CAUTION, LIFT_CAUTION

__all__ = ["BENCH", "FLOOD", "FLOOR", "FLOW", "GLASS", "LIFT", "OUTAGE", "PLACE", "cautions_of"]

FLOOR = FLOOR_CAUTION
LIFT = LIFT_CAUTION
GLASS = GLASS_CAUTION
_TEXTS = own_data(Path(__file__).with_suffix(".yaml"))
BENCH, FLOOD, PLACE = (str(_TEXTS[name]) for name in ("bench", "flood", "place"))
FLOW: tuple[str, ...] = tuple(_TEXTS["flow"])
"""Cautions beside what pumps keep running."""
OUTAGE: tuple[str, ...] = tuple(_TEXTS["outage"])
"""Cautions beside what failures do."""


def cautions_of(findings: Sequence[Finding], asked: Mapping[str, Rule], *more: str) -> tuple[str, ...]:
    """Return the cautions of a checked scene, each once: those of rules that found something, then the usual.

    The usual ones are those of the key figures, which tell volumes and masses of every scene; ``more`` are
    those of other results that are told with them.
    """
    found = {finding.rule for finding in findings}
    carried = [rule.caution for name, rule in asked.items() if name in found and rule.caution]
    return tuple(dict.fromkeys([*carried, *more, GLASS, FLOOR, FLOOD]))
