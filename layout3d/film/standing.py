"""What stands there while a tank is built, as the order of building has it."""

from __future__ import annotations

from collections.abc import Sequence

from layout3d.model.model import Model
from layout3d.shop.step import Step, worked_on

__all__ = ["stands_from_the_start"]


def stands_from_the_start(model: Model, steps: Sequence[Step]) -> set[str]:
    """Return the bodies that no step puts in."""
    return {body.name for body in model.bodies}.difference(*(worked_on(model, step) for step in steps))
