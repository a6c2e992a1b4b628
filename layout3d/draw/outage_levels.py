"""Which levels the outage chart labels, in what words and colours, and where their words go. Data only."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np

from layout3d.band import Band
from layout3d.draw.style import FINDING_MARKS, PAGE, WATER, Colour
from layout3d.model.model import Model
from layout3d.outage.ledger import Outages
from layout3d.units import show

__all__ = ["FILL", "Level", "apart", "levels_shown"]

FILL: Colour = (0.0, 0.62, 0.45)  # bluish green of Okabe and Ito 2008, as the marks of findings
_CUT = FINDING_MARKS["note"].colour
_BLOCKED = FINDING_MARKS["fault"].colour
_MARK, _EVENT = (1.0, 2.0), (5.0, 2.0, 1.0, 2.0)  # dashes of what is fixed, and of what a failure brings


@dataclass(frozen=True, slots=True, kw_only=True)
class Level:
    """One level to show: where, z [m], its words, colour and dashes, and its band where it has one."""

    vessel: Literal["tank", "sump"]
    z: float
    words: str
    colour: Colour
    dashes: tuple[float, ...] = ()
    band: Band | None = None


def levels_shown(model: Model, found: Outages) -> tuple[Level, ...]:
    """Return the levels that are labelled, those of the tank first."""
    circuit, cut, worst = found.circuit, found.power_cut, found.blocked[-1]
    floors = {"tank": 0.0, "sump": circuit.sump.floor}

    def level(
        vessel: Literal["tank", "sump"],
        at: float | Band,
        text: str,
        colour: Colour,
        dashes: tuple[float, ...] = (),
    ) -> Level:
        z, band = (at.likely, at) if isinstance(at, Band) else (at, None)
        words = f"{text}  {show(z - floors[vessel], 'length', system=model.scene.style)}"
        return Level(vessel=vessel, z=z, words=words, colour=colour, dashes=dashes, band=band)

    shown = [
        level("tank", circuit.spill, "spills at", PAGE.leader, _MARK),
        level("tank", circuit.level, "running", WATER.line),
    ]
    if circuit.level_stopped is not None and any(drain.intake.screened for drain in circuit.drains):
        text = f"{circuit.slots_stopped:.0%} of the slots stopped"
        shown.append(level("tank", circuit.level_stopped.likely, text, WATER.line, (6.0, 3.0)))
    shown += [
        level("tank", cut.tank_level, "after a power cut", _CUT, _EVENT),
        level("tank", worst.tank_level, f"{worst.subject} blocked", _BLOCKED, _EVENT),
        level("sump", circuit.sump.rim, "rim", PAGE.leader, _MARK),
        level("sump", circuit.chamber_level, "running, as filled", WATER.line),
        level("sump", cut.chamber_level, "after a power cut", _CUT, _EVENT),
        level("sump", circuit.suction, "pump's inlet", PAGE.leader, _MARK),
    ]
    if found.mark.running is not None:
        line = found.mark.line
        ends = (f"lowest ({line.lowest_event})", f"highest ({line.highest_event})")
        for height, text in zip(found.mark.running, ends, strict=True):
            z = floors["sump"] + height
            shown.append(level("sump", z, f"fill line, {text}", FILL, (4.0, 2.0)))
    return tuple(shown)


def apart(wanted: Sequence[float], gap: float) -> list[float]:
    """Move heights as little as need be until no two are nearer than ``gap``; order and count stay.

    Least squares with the order kept: what each height is over an even row of gaps may only rise.

    >>> [round(height, 9) for height in apart([0.0, 0.1, 5.0], 1.0)]
    [-0.45, 0.55, 5.0]
    """
    if not wanted:
        return []
    from scipy.optimize import isotonic_regression

    order = np.argsort(wanted, kind="stable")
    row = gap * np.arange(len(wanted))
    found = np.zeros(len(wanted))
    found[order] = isotonic_regression(np.asarray(wanted)[order] - row).x + row
    return [float(height) for height in found]
