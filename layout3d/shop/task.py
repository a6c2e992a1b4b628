"""One task of building, and the words of its step. Their order here is only what a builder prefers."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from functools import cache
from pathlib import Path

from layout3d.files import own_data
from layout3d.parts.base import Body, Port
from layout3d.shop.waiting import Wait
from layout3d.units import show
from layout3d.water.mass import people_to_lift

__all__ = ["SOFT", "Task", "lifting", "words_of_steps"]

SOFT = ("foliage", "root", "substrate", "bedding", "silicone", "clip", "suction_cup", "media")
"""Kinds of bodies that give way, or are put on last: never in the way of another."""


@cache
def words_of_steps() -> Mapping[str, Mapping[str, str]]:
    """Return the words of each kind of step by the label of its tasks, in a builder's order."""
    read: Mapping[str, Mapping[str, str]] = own_data(Path(__file__).with_name("steps.yaml"))
    return read


def lifting(name: str, bodies: Sequence[Body], *, style: str) -> tuple[str, ...]:
    """Return how many people lift a piece that is too heavy for one; nothing for one that isn't.

    >>> lifting("stone", (), style="metric")
    ()
    """
    mass = sum(body.mass for body in bodies)
    people = people_to_lift(mass)
    told = f"{name} weighs {show(mass, 'mass', system=style, digits=3)}: {people} lift it"
    return (told,) if people > 1 else ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Task:
    """Something to do. ``label`` is its row of ``steps.yaml``; ``parts`` the parts or holes that it puts in.

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
