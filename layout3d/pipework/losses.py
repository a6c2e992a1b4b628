"""What head an element of a run costs, either way: one answer for pressure pipes and gravity drains alike."""

from __future__ import annotations

from dataclasses import replace

from layout3d.fittings.base import Through
from layout3d.fittings.losses import (
    NO_LOSS,
    Loss,
    expansion_loss,
    fitting_loss,
    nozzle_loss,
    path_loss,
    total_loss,
)
from layout3d.fittings.registry import fitting
from layout3d.parts.run_data import RunData

__all__ = ["element_losses", "mouth_losses"]


def element_losses(run: RunData, index: int) -> tuple[Loss, Loss]:
    """Return the losses of one element, forward and backward, on the velocity in its bore.

    Those of a branch stand at its arms, those of an end at its mouth, and its edge says what is shut.

    Raises
    ------
    OutOfRange : a valve opening that no loss is known for, a bore outside the loss tables.
    UnknownName : a kind that no loss is known for.
    """
    element = run.elements[index]
    if element.kind == "tube":
        return (path_loss(element.bore, element.path, run.bend),) * 2
    if element.kind == "pipe":
        return NO_LOSS, NO_LOSS
    made = fitting(element.kind)
    if made.place == "end" or element.branch or element.opening == 0.0:
        return NO_LOSS, NO_LOSS
    before = run.elements[index - 1].bore if index else 0.0
    after = run.elements[index + 1].bore if index + 1 < len(run.elements) else 0.0
    way = Through(bore=element.bore, opening=element.opening, before=before, after=after)
    forward, backward = made.loss(way), made.loss(replace(way, forward=False))
    # against the arrow of a check valve nothing passes: its edge is one-way, and asks for no loss
    return forward or NO_LOSS, backward or forward or NO_LOSS


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
