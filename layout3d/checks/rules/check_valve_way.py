"""Check valves in drains: against the water they let nothing through, and with it dirt holds their flap."""

from __future__ import annotations

from layout3d.checks.base import FLOOD_TEST, Finding, Findings, rule
from layout3d.model.model import Model
from layout3d.parts.base import vector
from layout3d.pipework.read import pipework


@rule(
    "check-valve-way",
    asks="No check valve stands in a drain, and none against it.",
    caution=FLOOD_TEST,
)
def check_valve_way(model: Model) -> Findings:
    """Find check valves in drains: a fault against the way of the water, else a warning.

    A flap needs head to open, and slime, snails and lime hold it (common practice, no source). Against a
    pump's water one is told by the rule flow-operating-point.
    """
    told: set[str] = set()
    for part in pipework(model).parts:
        for mouth, _, way in part.ways_down(model.tank_name):
            against = way.barred_by()
            valve = against or way.valve_for()
            if not valve or valve in told:
                continue
            told.add(valve)
            end = f"{model.tank_name} by {mouth.words}"
            message = (
                f"{valve} lets nothing out of {end}: its arrow points back to {model.tank_name}"
                if against
                else f"{valve} stands in the drain out of {end}: its flap takes head to open, and slime, "
                "snails and lime hold it shut"
            )
            yield Finding(
                severity="fault" if against else "warning",
                parts=(valve,),
                at=vector(model.body(valve).solid.centroid),
                message=message,
                remedy="leave it out: a drain needs none"
                + (", or lead its run the other way" if against else ""),
            )
