"""What head an element of a run costs, either way: one answer for pressure pipes and gravity drains alike."""

from __future__ import annotations

import math

import numpy as np

from layout3d.fittings.losses import (
    NO_LOSS,
    Loss,
    ball_valve_loss,
    bend_loss,
    contraction_loss,
    expansion_loss,
    fitting_loss,
    nozzle_loss,
    total_loss,
)
from layout3d.parts.base import Vector
from layout3d.parts.run_data import Element, RunData

__all__ = ["element_losses", "mouth_losses", "width_change"]

STRAIGHT = 1e-6  # turns of a tube below this cost nothing, [rad]
WITHOUT = ("pipe", "cap", "strainer", "nozzle")
"""Kinds whose own loss is friction, or stands at the mouth that they end in."""


def element_losses(run: RunData, index: int) -> tuple[Loss, Loss]:
    """Return the losses of one element, forward and backward, on the velocity in its bore.

    Those of a tee stand at its arms, those of an end at its mouth.

    Raises
    ------
    OutOfRange : a valve opening that no loss is known for, a bore outside the loss tables.
    UnknownName : a kind that no loss is known for.
    """
    element = run.elements[index]
    kind, bore = element.kind, element.bore
    if kind in WITHOUT or kind == "tee" or element.opening == 0.0:
        return NO_LOSS, NO_LOSS
    if kind == "tube":
        return (_bends(run, element),) * 2
    if kind == "reducing_bush":
        before = run.elements[index - 1].bore if index else bore
        after = run.elements[index + 1].bore if index + 1 < len(run.elements) else bore
        return width_change(before, bore) if before > after else width_change(after, bore)[::-1]
    if kind == "ball_valve":
        return (ball_valve_loss(bore, element.opening),) * 2
    name = {"check_valve": "swing_check"}.get(kind, kind)
    return (fitting_loss(name, bore),) * 2


def width_change(wide: float, narrow: float) -> tuple[Loss, Loss]:
    """Return the losses from a wide bore into a narrow one and back, on the velocity in the narrow one."""
    if wide <= narrow:
        return NO_LOSS, NO_LOSS
    return contraction_loss(wide, narrow), expansion_loss(narrow, wide)


def mouth_losses(kind: str, bore: float, pipe_bore: float) -> dict[str, Loss]:
    """Return ``exit_loss`` and ``entry_loss`` of a mouth, on the velocity in its own ``bore``, [m].

    ``pipe_bore`` is that of the pipe before it: a nozzle narrows from it.
    """
    leaves = fitting_loss("exit", bore)
    if kind == "strainer":
        slots = fitting_loss("suction_strainer", bore)
        # inward the slots have the loss of the whole strainer, entrance and all
        return {"exit_loss": total_loss((leaves, slots)), "entry_loss": slots}
    if kind == "nozzle":
        entry = total_loss(
            (fitting_loss("entrance_projecting", bore), expansion_loss(bore, max(bore, pipe_bore)))
        )
        return {"exit_loss": nozzle_loss(pipe_bore, bore).on_bore(pipe_bore, bore), "entry_loss": entry}
    entrance = "entrance_flush" if kind == "bulkhead" else "entrance_projecting"
    return {"exit_loss": leaves, "entry_loss": fitting_loss(entrance, bore)}


def _bends(run: RunData, element: Element) -> Loss:
    turn = _total_turn(element.path) if len(element.path) > 2 else 0.0
    if turn <= STRAIGHT:
        return NO_LOSS
    quarter = bend_loss(element.bore, max(run.bend, element.bore), math.pi / 2)
    return quarter.times(turn / (math.pi / 2))


def _total_turn(path: tuple[Vector, ...]) -> float:
    """Return the sum of the turns along a polyline, [rad]."""
    legs = np.diff(np.array(path), axis=0)
    ways = legs / np.linalg.norm(legs, axis=1, keepdims=True)
    return float(np.arccos(np.clip(np.sum(ways[:-1] * ways[1:], axis=1), -1.0, 1.0)).sum())
