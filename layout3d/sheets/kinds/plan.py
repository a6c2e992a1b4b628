"""The plan: the tank from above, without lights, stand and sump; holes and pipes from the inside corner."""

from __future__ import annotations

from layout3d.model.model import Model
from layout3d.sheets.figure import Figure, drawn_figure, with_more
from layout3d.sheets.measures import (
    hole_labels,
    hole_wishes,
    part_labels,
    pipe_balloons,
    pipe_wishes,
    shown,
    tank_wishes,
)
from layout3d.sheets.projection import VIEWS
from layout3d.sheets.registry import Cut, sheet_kind

NAMED = (
    "equipment",
    "rock",
    "wood",
    "background",
)  # the bed is all around, and its name would point at a rock


@sheet_kind("plan", 10, "Plan")
def plan(model: Model, system: str, _cut: Cut) -> Figure:
    """Return the tank from above."""
    view = VIEWS["plan"]
    floor = model.tank.floor - 0.2
    bodies = [
        body for body in shown(model, without=("light", "stand", "sump")) if body.solid.bounds[1, 2] > floor
    ]
    figure = drawn_figure(bodies, view)
    return with_more(
        figure,
        wishes=(
            *tank_wishes(model, view),
            *hole_wishes(model, view),
            *pipe_wishes(model, view, bodies, axes=(0, 1)),
        ),
        labels=(
            *hole_labels(model, view, system),
            *part_labels(bodies, figure, NAMED),
            *pipe_balloons(model, bodies, view),
        ),
        notes=(
            "Running dimensions count from the tank's inside front left corner. Stand and sump are left out; "
            "plants and lights have a sheet of their own.",
        ),
    )
