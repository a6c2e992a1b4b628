"""A circuit as it runs, with its water counted: where every event starts from."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from layout3d.band import SETTINGS, Band
from layout3d.flow.overflow import GravityDrain, running_level
from layout3d.flow.water import water_of
from layout3d.model.model import Model
from layout3d.outage.circuit import Circuit, in_drains
from layout3d.outage.failures import Body
from layout3d.outage.ledger import End, Event, EventKind, Ledger, Three, each
from layout3d.outage.sump import sump_water_of
from layout3d.pipework.waters import whole_vessel

__all__ = ["Running"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Running:
    """A model's circuit with its water counted; numbers are 0, 1 or 2 for the low to high setting."""

    model: Model
    circuit: Circuit

    @property
    def before(self) -> Ledger:
        """Return where all water is while everything runs."""
        found = self.circuit
        returns = sum(way.contents for way in found.returns)
        return Ledger(
            tank=each(lambda n: found.display(n).volume + self.in_boxes),
            sump=each(found.sump_running),
            pipes=each(lambda n: returns + found.drain_contents.at(SETTINGS[n])),
        )

    @property
    def in_boxes(self) -> float:
        """Return the water in the overflow boxes of the tank, [m³]."""
        return sum(box.volume for box in self.circuit.boxes)

    def sump(self, number: int) -> Body:
        """Return the whole sump at rest with the water it has while running."""
        whole, held = self.circuit.sump.whole, self.circuit.sump_running(number)
        level = whole.level(min(held, whole.volumes[-1]))
        return Body(name=self.circuit.sump.name, table=whole, level=level, rim=self.circuit.sump.rim)

    @property
    def suction(self) -> float:
        """Return the level to which the pumps empty the return chamber, within the sump, z [m]."""
        return max(self.circuit.suction, self.circuit.sump.floor)

    def level_over(self, drains: Sequence[GravityDrain], flow: Band) -> Band | None:
        """Return the tank's level over these drains at a flow; None where it finds no way out."""
        water = water_of(self.model)
        return running_level(drains, flow, water=water, top=self.circuit.spill)

    def room_beside(self, drains: Sequence[GravityDrain]) -> float:
        """Return what sumps take up that these drains end in and no pump returns from, [m³]."""
        ends = {whole_vessel(drain.outlet.vessel) for drain in drains if self.circuit.beside(drain)}
        if not ends - {""}:
            return 0.0
        return sum(sump_water_of(self.model, one).room for one in self.model.sumps if one.part.name in ends)

    def in_drains(self, drains: Sequence[GravityDrain], *, flow: Band | None, level: Band | None) -> Three:
        """Return the water on its way in these drains at a flow and a level of the tank, [m³]."""
        sump, found = self.circuit.sump.name, self.circuit.compartments
        contents = in_drains(
            self.model,
            drains,
            flow=flow,
            level=-math.inf if level is None else level.likely,
            sump_levels={f"{sump}.{item.name}": item.level.likely for item in found},
        )
        return each(lambda n: contents.at(SETTINGS[n]))

    def unmoved(self, number: int, *, chamber: float | None = None, moved: float = 0.0) -> End:
        """Return the end of what changes no count of water, but for the return chamber's level at most."""
        found, before = self.circuit, self.before
        return End(
            tank_level=found.display(number).level,
            chamber_level=found.chamber_level if chamber is None else chamber,
            moved=moved,
            tank=before.tank[number],
            sump=before.sump[number],
            pipes=before.pipes[number],
        )

    def event(
        self,
        kind: EventKind,
        subject: str,
        ends: Iterable[End],
        *,
        devices: str = "",
        notes: Iterable[str] = (),
    ) -> Event:
        """Return an event of this circuit by its ends at the low, the likely and the high setting."""
        low, likely, high = every = tuple(ends)

        def figures(name: str) -> Three:
            return each(lambda n: getattr(every[n], name))

        return Event(
            kind=kind,
            subject=subject,
            before=self.before,
            after=Ledger(**{place: figures(place) for place in ("tank", "sump", "pipes", "floor")}),
            tank_levels=figures("tank_level"),
            chamber_levels=figures("chamber_level"),
            moves=figures("moved"),
            rules=(low.rule, likely.rule, high.rule),
            tank_rim=self.circuit.spill,
            sump_rim=self.circuit.sump.rim,
            devices=devices,
            notes=tuple(notes),
            box_levels={box: (level, likely.boxes[box], high.boxes[box]) for box, level in low.boxes.items()},
        )
