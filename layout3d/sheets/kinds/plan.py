"""The plan: the tank from above, without lights, stand and sump; holes and pipes from the inside corner."""

from __future__ import annotations

from layout3d.model.model import Model
from layout3d.sheets.details import detail_places
from layout3d.sheets.figure import Cut, Figure, drawn_figure, sheet_kind, with_more
from layout3d.sheets.items import numbers_of, pane_balloons, part_labels, pipe_balloons
from layout3d.sheets.measures import hole_labels, hole_wishes, pipe_wishes, shown, tank_wishes
from layout3d.sheets.projection import VIEWS
from layout3d.shop.shop import shop

NUMBERS = "Letters in balloons are marks of the cut list, numbers rows of the parts list."
NAMED = ("equipment", "rock", "wood", "background")
"""Of these names are told; the bed is all around, and its name would point at a rock."""


@sheet_kind("plan", 10, "Plan")
def plan(model: Model, _cut: Cut) -> Figure:
    """Return the tank from above."""
    view = VIEWS["plan"]
    floor = model.tank.floor - 0.2
    # of pipes down there nothing is shown, nor the clips that reach up from them
    clips = {clip.body for built in model.runs for clip in built.data.supports if clip.at[2] <= floor}
    bodies = [
        body
        for body in shown(model, without=("light", "stand", "sump"))
        if body.solid.bounds[1, 2] > floor and body.name not in clips
    ]
    figure, made = drawn_figure(bodies, view), shop(model)
    numbers = numbers_of(made)
    return with_more(
        figure,
        wishes=(
            *tank_wishes(model, view),
            *hole_wishes(model, view),
            *pipe_wishes(model, view, bodies, axes=(0, 1)),
        ),
        labels=(
            *hole_labels(model, view, numbers),
            *part_labels(bodies, figure, numbers, NAMED, whole=True),
            *pipe_balloons(model, bodies, view),
            *pane_balloons(model, made, view, numbers),
        ),
        details=tuple(detail_places(model, figure)),
        notes=(
            f"{NUMBERS} Running dimensions count from the tank's inside front left corner. "
            "Stand and sump are left out; plants and lights have a sheet of their own.",
        ),
    )
