"""What happens to a model's water when something fails: power, drain, pump, sock, fitting, or just time.

Each event is taken alone, unnoticed, and to its end, on the exact volumes of tank and sump.
"""

from __future__ import annotations

from layout3d.flow.water import water_of
from layout3d.model.model import Model
from layout3d.outage.circuit import circuit
from layout3d.outage.events import blocked_drains, drains_beside, failed_power_cuts, power_cut, stops
from layout3d.outage.fill_line import FillMark, fill_mark
from layout3d.outage.ledger import Event, Outages
from layout3d.outage.parts import clogged_socks, failing_holes, stopped_pumps
from layout3d.outage.run_down import chamber_run_down, first_to_fail
from layout3d.outage.running import Running
from layout3d.water.remembered import kept

__all__ = ["outages", "water_levels"]


@kept
def outages(model: Model) -> Outages | None:
    """Return what every failure does to the water; None for a model without a circuit.

    Raises
    ------
    LayoutError : as :func:`layout3d.outage.circuit.circuit`.
    """
    found, first = circuit(model), first_to_fail(model)
    if found is None or first is None:
        return None
    running = Running(model=model, circuit=found)
    cut, failed = power_cut(running), failed_power_cuts(running)
    down = chamber_run_down(model, found, first)
    drains = {drain.name for drain in found.drains}
    limit = model.scene.catalog.limit
    left = [level for _, level, _ in stops(running)]
    carried = bool(left) and all(level is not None and level.high < found.spill for level in left)

    def mark(event: Event) -> FillMark:
        return fill_mark(
            found,
            event.moved,
            by_drain=event.rules[2] in drains,
            carried=carried,
            devices=event.devices,
            first=first,
            loss=0.0 if down.loss is None else down.loss.high,
            interval=limit("top_up_interval").value,
            margin=limit("sump_margin").value,
            cover=limit("water_cover").value,
            density=water_of(model).density,
        )

    return Outages(
        circuit=found,
        power_cut=cut,
        failed=failed,
        blocked=blocked_drains(running),
        stopped=stopped_pumps(running, cut),
        clogged=clogged_socks(running),
        holes=failing_holes(running),
        beside=drains_beside(running),
        run_down=down,
        mark=mark(cut),
        careful_mark=mark(max((cut, *failed), key=lambda event: event.moved.high)),
    )


def water_levels(found: Outages, event: Event, number: int) -> dict[str, float]:
    """Return how high each water stands at an event's end, z [m]: by name, the tank's own under ''.

    Rooms of the sump before the return chamber stay as the scene has them until that one's water rises over
    theirs. What isn't named stays too.

    Parameters
    ----------
    number : 0, 1 or 2, for low, likely and high losses of water
    """
    sump, chamber = found.circuit.sump, event.chamber_levels[number]
    return {
        "": event.tank_levels[number],
        **{box: levels[number] for box, levels in event.box_levels.items()},
        **{f"{sump.name}.{room.name}": max(room.water_z, chamber) for room in sump.data.compartments},
        **dict.fromkeys(sump.chamber_names, chamber),
    }
