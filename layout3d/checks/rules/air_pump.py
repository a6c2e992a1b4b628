"""Air pumps that water can run back into, and ends of air lines too deep for their pump."""

from __future__ import annotations

from layout3d.checks.base import CURRENT, FLOOD, Finding, Findings, rule
from layout3d.checks.flow_words import between, middle_of
from layout3d.checks.measure import length, missing
from layout3d.flow.air import AirLine, air_lines, highest_loop
from layout3d.model.model import Model
from layout3d.pipework.read import pipework
from layout3d.units import show

CHECK_VALVES = "Check valves fail: stand an air pump above the waterline wherever it can be."


@rule(
    "air-pump",
    asks="No water can siphon back into an air pump, and its pressure reaches each end.",
    caution=f"{FLOOD} {CURRENT} {CHECK_VALVES}",
)
def air_pumps(model: Model) -> Findings:
    """Find air pumps below the water of their line without a check valve, and ends too deep for them.

    And air stones that no air pump feeds: no water gets through one.
    """
    for part in pipework(model).parts:
        for mouth in part.mouths:
            if mouth.kind == "air_stone" and not any(pump.air for pump in part.pumps):
                yield Finding(
                    parts=(mouth.body,),
                    at=mouth.at,
                    message=f"{mouth.words} hangs on no air pump: no air gets to it, and no water through it",
                    remedy=f"start {mouth.part} at an outlet of an air pump (`air: true`), or end it open",
                )
    for line in air_lines(model):
        if missing(line.pump_height, line.level) and not line.check_valve:
            over = highest_loop(line.level, line.pump_height) - line.pump_height
            yield Finding(
                parts=(line.pump, line.run),
                measured=line.pump_height,
                limit=line.level,
                at=middle_of(model, line.pump),
                message=f"{line.pump} has its outlet {length(line.below)} below the water of {line.water} "
                f"that {line.run} ends in, and no check valve on the way: as it stops, water siphons through "
                "it onto the floor",
                remedy=f"set it {length(over)} higher, or put a `check_valve` into {line.run} and loop it "
                "above the waterline",
            )
        if line.pressure.high > line.greatest:
            yield _too_deep(line)


def _too_deep(line: AirLine) -> Finding:
    certain = line.pressure.likely > line.greatest
    needed, makes = line.pressure.likely if certain else line.pressure.high, line.greatest
    shown, most, short = (show(value, "pressure", digits=2) for value in (needed, makes, needed - makes))
    clogged = "" if certain else " with a clogged stone"
    return Finding(
        severity="fault" if certain else "warning",
        parts=(line.pump, line.run),
        measured=makes,
        limit=needed,
        unit="Pa",
        at=line.end,
        message=f"{line.run} ends {length(line.depth)} under water and needs {shown}{clogged} "
        f"({between(line.pressure, 'pressure')}), and {line.pump} makes {most} at most (its curve's head "
        f"read as depth of water): {short} short",
        remedy="end it less deep, "
        + ("clean or change the stone, " if line.stone else "")
        + "or use a pump of more pressure",
    )
