"""Steps of building, as data: what each does, needs and puts in. Found by ``shop.order``."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from layout3d.keep import Form
from layout3d.model.model import Model
from layout3d.plain import form_of
from layout3d.shop.fault import Fault
from layout3d.shop.pulls import Pull
from layout3d.shop.task import SOFT
from layout3d.shop.waiting import Wait

__all__ = ["ORDER", "BuildOrder", "Step", "longest", "worked_on"]

LATER = ("bulkhead", "media")
"""Kinds of bodies that have steps of their own, though they belong to tank or sump."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Step:
    """One step, numbered from 1; ``needs`` are the numbers of steps that have to be done, and have waited.

    ``waits`` come after it, before what needs it. ``earliest`` is when it can begin after the first step
    where nothing but known waits takes time, [s]. ``pulls`` tells how bodies come out again, ``big`` which of
    those go in turned and are no pipe, ``odd`` which go in otherwise than from above and are no plumbing.
    ``label`` is its row of ``steps.yaml``; ``solids`` are the bodies that stand in the way of others from
    then on.
    """

    number: int
    label: str
    does: str
    tools: str
    parts: tuple[str, ...]
    needs: tuple[int, ...]
    waits: tuple[Wait, ...]
    tests: tuple[str, ...]
    hides: tuple[str, ...]
    pulls: Mapping[str, Pull]
    solids: tuple[str, ...]
    earliest: float
    big: frozenset[str] = frozenset()
    odd: frozenset[str] = frozenset()

    @property
    def ways(self) -> dict[str, str]:
        """Return how bodies come in, in words."""
        return {body: pull.words for body, pull in self.pulls.items()}

    @property
    def wait(self) -> float | None:
        """Return the longest of its waits, [s]; 0 for none, None where one is not known."""
        return None if any(wait.time is None for wait in self.waits) else longest(self.waits)


@dataclass(frozen=True, slots=True, kw_only=True)
class BuildOrder:
    """The steps, and what bars the way to an order.

    ``never_again`` are bodies that nobody reaches once the background is in, ``no_way_out`` parts for which
    no way out of the finished tank was found, ``turned`` bodies that go in turned.
    """

    steps: tuple[Step, ...]
    never_again: tuple[str, ...]
    no_way_out: tuple[str, ...]
    turned: tuple[str, ...]
    faults: tuple[Fault, ...]


ORDER: Form[BuildOrder] = form_of(
    "order of building",
    *(BuildOrder, Step, Wait, Pull, Fault),
    size=lambda order: 4096 * max(1, len(order.steps)),
)


def worked_on(model: Model, step: Step) -> tuple[str, ...]:
    """Return the bodies that a step puts in or works on, soft ones too, in the model's order.

    A drilled pane is worked on before it is bonded into the tank. None for a test, a wait or filling up.
    """
    named = model.bodies_of(*step.parts)
    own = set(step.solids)
    parts = {body.part for body in named if body.name in own}
    if step.label == "media":
        own = {body.name for body in named if body.kind == "media"}
    elif own:
        own |= {
            body.name for body in named if body.part in parts and body.kind in SOFT and body.kind not in LATER
        }
    else:
        own = {body.name for body in named if body.kind not in LATER}
    return tuple(body.name for body in model.bodies if body.name in own)


def longest(waits: Iterable[Wait]) -> float:
    """Return the longest wait that is known, [s]."""
    return max((wait.time for wait in waits if wait.time is not None), default=0.0)
