"""Which levels the outage chart labels, in what words and colours, and where their words go. Data only."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from layout3d.draw.style import FINDING_MARKS, PAGE, WATER, Colour
from layout3d.model.model import Model
from layout3d.outage.ledger import Event, Outages
from layout3d.units import show

__all__ = ["FILL", "Level", "apart", "levels_shown"]

FILL: Colour = (0.0, 0.62, 0.45)  # bluish green of Okabe and Ito 2008, as the marks of findings
_CUT = FINDING_MARKS["note"].colour
_BLOCKED = FINDING_MARKS["fault"].colour


@dataclass(frozen=True, slots=True, kw_only=True)
class Level:
    """One level to show: where, z [m], its words, colour and dashes; ``low`` and ``high`` of its band."""

    vessel: str
    z: float
    words: str
    colour: Colour
    dashes: tuple[float, ...] = ()
    low: float | None = None
    high: float | None = None


def levels_shown(model: Model, found: Outages) -> tuple[Level, ...]:
    """Return the levels that are labelled, those of the tank first."""
    circuit, style = found.circuit, model.scene.style

    def words(text: str, z: float, floor: float = 0.0) -> str:
        return f"{text}  {show(z - floor, 'length', system=style)}"

    level, cut = circuit.level, found.power_cut
    shown = [
        Level(
            vessel="tank",
            z=circuit.spill,
            words=words("spills at", circuit.spill),
            colour=PAGE.leader,
            dashes=(1.0, 2.0),
        ),
        Level(
            vessel="tank",
            z=level.likely,
            words=words("running", level.likely),
            colour=WATER.line,
            low=level.low,
            high=level.high,
        ),
    ]
    if circuit.level_stopped is not None and any(drain.intake.screened for drain in circuit.drains):
        z = circuit.level_stopped.likely
        shown.append(
            Level(
                vessel="tank",
                z=z,
                words=words(f"{circuit.slots_stopped:.0%} of the slots stopped", z),
                colour=WATER.line,
                dashes=(6.0, 3.0),
            )
        )
    worst = found.blocked[-1]
    shown += [
        _event_level("tank", cut, "after a power cut", 0.0, _CUT, style),
        _event_level("tank", worst, f"{worst.subject} blocked", 0.0, _BLOCKED, style),
    ]
    floor = circuit.sump.floor
    shown += [
        Level(
            vessel="sump",
            z=circuit.sump.rim,
            words=words("rim", circuit.sump.rim, floor),
            colour=PAGE.leader,
            dashes=(1.0, 2.0),
        ),
        Level(
            vessel="sump",
            z=circuit.chamber_level,
            words=words("running, as filled", circuit.chamber_level, floor),
            colour=WATER.line,
        ),
        _event_level("sump", cut, "after a power cut", floor, _CUT, style),
        Level(
            vessel="sump",
            z=circuit.suction,
            words=words("pump's inlet", circuit.suction, floor),
            colour=PAGE.leader,
            dashes=(1.0, 2.0),
        ),
    ]
    if found.mark.running is not None:
        low, high = found.mark.running
        shown += [
            Level(
                vessel="sump",
                z=floor + low,
                words=f"fill line, lowest ({found.mark.line.lowest_event})  "
                + show(low, "length", system=style),
                colour=FILL,
                dashes=(4.0, 2.0),
            ),
            Level(
                vessel="sump",
                z=floor + high,
                words=f"fill line, highest ({found.mark.line.highest_event})  "
                + show(high, "length", system=style),
                colour=FILL,
                dashes=(4.0, 2.0),
            ),
        ]
    return tuple(shown)


def _event_level(vessel: str, event: Event, text: str, floor: float, colour: Colour, style: str) -> Level:
    band = event.tank_level if vessel == "tank" else event.chamber_level
    return Level(
        vessel=vessel,
        z=band.likely,
        words=f"{text}  {show(band.likely - floor, 'length', system=style)}",
        colour=colour,
        dashes=(5.0, 2.0, 1.0, 2.0),
        low=band.low,
        high=band.high,
    )


def apart(wanted: Sequence[float], gap: float) -> list[float]:
    """Move heights as little as need be until no two are nearer than ``gap``; order and count stay.

    >>> apart([0.0, 0.1, 5.0], 1.0)
    [-0.45, 0.55, 5.0]
    """
    order = sorted(range(len(wanted)), key=lambda place: (wanted[place], place))
    # runs of labels that touch, each about the mean of what its labels want (pool adjacent violators)
    runs: list[tuple[float, int]] = []
    for place in order:
        centre, count = wanted[place], 1
        while runs and centre - runs[-1][0] < gap * (count + runs[-1][1]) / 2.0 - 1e-12:
            before, members = runs.pop()
            centre = (before * members + centre * count) / (members + count)
            count += members
        runs.append((centre, count))
    heights = [
        centre + gap * (number - (count - 1) / 2.0) for centre, count in runs for number in range(count)
    ]
    found = [0.0] * len(wanted)
    for place, height in zip(order, heights, strict=True):
        found[place] = height
    return found
