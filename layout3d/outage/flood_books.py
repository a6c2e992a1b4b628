"""The books that every event of ``flow.flood`` keeps: where all water of a circuit is before it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from layout3d.band import SETTINGS, Setting
from layout3d.model.model import Model
from layout3d.outage.circuit import Circuit
from layout3d.outage.drain_back import Body
from layout3d.outage.flood_data import Event, EventKind, Ledger, Outcome

__all__ = ["Books"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Books:
    """A model's circuit with its water counted; ``number`` is 0, 1 or 2 for the low to high setting."""

    model: Model
    found: Circuit

    @property
    def in_returns(self) -> float:
        """Water in all return pipes out of both waters, [m³]."""
        return sum(way.contents for way in self.found.returns)

    def before(self, number: int) -> Ledger:
        """Return where all water is while everything runs."""
        return Ledger(
            tank=self.found.display(number).volume,
            sump=self.found.sump_running(number),
            pipes=self.in_returns + self.found.drain_contents.at(SETTINGS[number]),
        )

    def sump(self, number: int) -> Body:
        """Return the whole sump at rest with the water it has while running."""
        whole = self.found.sump.whole
        held = self.found.sump_running(number)
        level = whole.level(min(held, whole.volumes[-1]))
        return Body(name=self.found.sump.name, table=whole, level=level, rim=self.found.sump.rim)

    def suction(self) -> float:
        """Return the level to which the pumps empty the return chamber, within the sump, z [m]."""
        return max(self.found.suction, self.found.sump.floor)

    def event(
        self,
        kind: EventKind,
        subject: str,
        outcomes: Mapping[Setting, Outcome],
        *,
        devices: str = "",
        notes: tuple[str, ...] = (),
    ) -> Event:
        """Return an event with the rims of this circuit."""
        return Event(
            kind=kind,
            subject=subject,
            outcomes=dict(outcomes),
            tank_rim=self.found.spill,
            sump_rim=self.found.sump.rim,
            devices=devices,
            notes=notes,
        )
