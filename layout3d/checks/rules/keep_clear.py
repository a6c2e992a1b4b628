"""Parts in the space that another needs for a cable, a hose or a hand."""

from __future__ import annotations

from layout3d.checks.base import Finding, Findings, rule
from layout3d.checks.freeing import GIVES_WAY, freeing
from layout3d.checks.measure import Joins, length, runs, shared_by
from layout3d.model.model import Model
from layout3d.parts.base import KeepClear, vector

DOWN = -0.5
"""A hose pours down where its flow's direction has at most this upright part: 30 degrees below level."""


@rule(
    "keep-clear",
    asks="The space that equipment needs for cable, hose and hand stays free.",
    follows=("overlap", "buried"),
)
def keep_clear(model: Model) -> Findings:
    """Find bodies in keep-clear spaces.

    Let off are leaves, the runs that lead to the equipment, a hose that pours down into it (a hand bends
    it aside), and the very body that it is fixed to.
    """
    joins = Joins(model)
    for space in model.keep_clear:
        let_off = _let_off(model, joins, space)
        low, high = space.solid.bounds
        for body in sorted(model.near(vector(low), vector(high)), key=lambda body: body.name):
            if body.kind in GIVES_WAY or {body.name, body.part} & let_off:
                continue
            shared = shared_by(space, body)
            if shared is None:
                continue
            way = freeing(model, body, space.solid)
            move = f"move {body.part} at least {way}" if way else f"move {body.part} or {space.part}"
            if body.group == "substrate":
                move = f"lay {body.part} lower there, or move {space.part} up"
            yield Finding(
                parts=(body.name, space.part),
                measured=shared.depth,
                limit=0.0,
                at=vector(shared.at),
                message=f"{body.name} is {length(shared.depth)} deep in the space that {space.part} needs "
                f"for {space.why}",
                remedy=move,
            )


def _let_off(model: Model, joins: Joins, space: KeepClear) -> set[str]:
    """Return the names of bodies that belong in the space, and of runs that lead there."""
    own = {space.part, *(body.name for body in model.built[space.part].bodies)}
    pushed, held = joins.of(*own, how=("socket", "barb")), joins.of(*own, how=("held",))
    led = {
        body.part
        for body in model.bodies_of("plumbing")
        if {body.name, body.part} & pushed and body.part != model.tank_name
    }
    low, high = space.solid.bounds[:, :2]
    for name, run in runs(model):
        over = bool((low <= run.end_at[:2]).all() and (run.end_at[:2] <= high).all())
        if run.flexible and not run.end_port and over and run.end_direction[2] < DOWN:
            led.add(name)
    return {space.part} | led | {body.name for body in model.bodies_of(*held) if body.name in held}
