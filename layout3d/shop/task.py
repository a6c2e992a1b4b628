"""One task of building, and the words of its step. Their order here is only what a builder prefers."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

from layout3d.parts.base import Body, Port
from layout3d.shop.waiting import Wait
from layout3d.units import show
from layout3d.water.mass import people_to_lift

__all__ = ["LABELS", "PHASES", "ROCKED", "SOFT", "TOOLS", "Task", "lifting"]

SOFT = ("foliage", "root", "substrate", "bedding", "silicone", "clip", "suction_cup", "media")
"""Kinds of bodies that give way, or are put on last: never in the way of another."""

LABELS = {
    "drill": "Have the holes drilled before anything is bonded, both rims arrissed: {parts}",
    "temper": "Have the drilled panes toughened: {parts}",
    "bond": "Bond the panes of {parts}",
    "bond_sump": "Bond the sump with its baffles: {parts}",
    "stand": "Set the stand and level it both ways",
    "tank": "Set the tank on its mat",
    "sump": "Set the sump in its place: {parts}",
    "bulkhead": "Put in the bulkheads, gasket on the flange's side, hand-tight and a quarter to half a turn: "
    "{parts}",
    "box": "Bond the overflow box to the tank: {parts}",
    "leak": "Leak test of the bare tank: {parts}",
    "pump": "Set the pumps that pipes start from: {parts}",
    "dry": "Dry-fit all rigid pipe: mark each joint across pipe and hub, ring its socket's depth, number the "
    "pieces; then take it apart",
    "cement": "Cement the runs, from their start on: {parts}",
    "tube": "Lay the tubes and clamp them: {parts}",
    "wet": "Wet test of the pipework: run it with water",
    "background": "Put in the background: {parts}",
    "base": "Fill the bed as high as the undersides of what stands in it: {parts}",
    "hardscape": "Set rock and wood, each on a mat or firm ground: {parts}",
    "bed": "Fill the rest of the bed: {parts}",
    "media": "Fill in the filter media: {parts}",
    "equipment": "Set the equipment: {parts}",
    "plant": "Plant: {parts}",
    "light": "Hang the lights: {parts}",
    "fill": "Fill with water to the waterline",
    "final": "Last wet run before livestock: {parts}",
}
TOOLS = {
    "drill": "template at 1:1, diamond core drill, water",
    "bond": "silicone gun for glass, else its own glue, masking tape, corner clamps, gloves",
    "bond_sump": "silicone gun for glass, else its own glue, masking tape, gloves",
    "box": "silicone gun for glass, else its own glue, masking tape, gloves",
    "stand": "long spirit level, shims",
    "tank": "suction lifters, as many people as its weight asks for",
    "bulkhead": "hands or a strap wrench, no pipe wrench",
    "leak": "plugs, dry paper, hose",
    "dry": "fine saw and mitre box, deburring tool, marker",
    "cement": "primer, solvent cement, gloves, draught; no flame",
    "tube": "knife, screwdriver",
    "wet": "dry paper, residual-current device, hose",
    "background": "saw or hot wire, foam gun, props, mask against dust",
    "base": "scoop, bucket",
    "hardscape": "mat, gloves, two people for what is heavy",
    "bed": "scoop, bucket",
    "fill": "hose with a valve",
    "final": "watch, towels, residual-current device",
}
"""What lies ready for a step; common practice, no source."""

ROCKED = "rock it by hand: what moves now sinks or slides later; mat between stone and glass"

PHASES = tuple(LABELS)
"""Labels in the order that a builder takes where nothing else asks for another."""


def lifting(name: str, bodies: Sequence[Body], *, style: str) -> list[str]:
    """Return how many people lift a piece that is too heavy for one; nothing for one that isn't.

    >>> lifting("stone", (), style="metric")
    []
    """
    mass = sum(body.mass for body in bodies)
    people = people_to_lift(mass)
    return (
        [f"{name} weighs {show(mass, 'mass', system=style, digits=3)}: {people} lift it"]
        if people > 1
        else []
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class Task:
    """Something to do. ``label`` is its row of ``LABELS``; ``parts`` the parts or holes that it puts in.

    ``key`` is a part's or hole's own name, and that label where it puts in none of its own.
    ``moves`` are the names of bodies that have to come in by a free way, ``solids`` of all that stand in the
    way of others from then on. ``after`` names tasks that come first.
    """

    label: str
    key: str = ""
    parts: tuple[str, ...] = ()
    moves: tuple[str, ...] = ()
    solids: tuple[str, ...] = ()
    after: frozenset[str] = frozenset()
    wait: Wait | None = None
    tests: tuple[str, ...] = ()
    hides: tuple[str, ...] = ()
    ports: tuple[Port, ...] = field(default=(), repr=False)
    why: str = ""
    said: str = ""

    def __post_init__(self) -> None:
        object.__setattr__(self, "key", self.key or self.label)

    @property
    def named(self) -> tuple[str, ...]:
        """Return what its step calls what it puts in."""
        return (self.said,) if self.said else self.parts
