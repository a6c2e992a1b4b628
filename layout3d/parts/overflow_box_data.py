"""What a built overflow box tells the others: its weir, the water in it, and the holes that it walls off."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from layout3d.parts.base import Vector
from layout3d.parts.vessel import Vessel

if TYPE_CHECKING:
    from layout3d.solid.shape import Solid

__all__ = ["OverflowBoxData", "WeirEdge"]


@dataclass(frozen=True, slots=True, kw_only=True)
class WeirEdge:
    """The weir along one pane of a box: a comb of ``slots``, or one straight edge.

    ``slot_width`` is that of one slot, or of the whole edge between the panes beside it, [m]; ``slot_height``
    from the crest up to the top of the box, above which water runs over the teeth as well; ``thickness`` of
    the pane, along the way of the water; ``middle`` lies on the crest.
    """

    side: str
    comb: bool
    slots: int
    slot_width: float
    slot_height: float
    thickness: float
    middle: Vector

    @property
    def width(self) -> float:
        """Return the open width of all its slots together, [m]."""
        return self.slots * self.slot_width


@dataclass(frozen=True, slots=True, kw_only=True)
class OverflowBoxData(Vessel):
    """A built overflow box: a vessel within the tank.

    ``crest`` is the height over which the tank's water runs into it, ``level`` that of the water in it as the
    scene sets it, both in the tank's axes, [m]; ``rim`` is the top of its teeth or panes. ``outer`` is the
    space that it takes of the tank, panes and inside. ``holes`` names the tank's holes in it.
    """

    crest: float
    level: float
    outer: Solid
    weirs: tuple[WeirEdge, ...]
    holes: tuple[str, ...] = ()
