"""The elevations: front, back, left and right, with stand and sump; glass is seen through."""

from __future__ import annotations

from functools import partial

from layout3d.model.model import Model
from layout3d.sheets.details import detail_places
from layout3d.sheets.figure import Cut, Figure, drawn_figure, sheet_kind, with_more
from layout3d.sheets.items import LABELLED, numbers_of, pane_balloons, part_labels, pipe_balloons
from layout3d.sheets.kinds.plan import NUMBERS
from layout3d.sheets.measures import (
    fill_line_note,
    hole_labels,
    hole_wishes,
    levels,
    pipe_wishes,
    shown,
    sump_wishes,
    tank_wishes,
)
from layout3d.sheets.projection import VIEWS
from layout3d.shop.shop import shop


def _elevation(model: Model, _cut: Cut, *, side: str) -> Figure:
    view = VIEWS[side]
    bodies = shown(model, without=("light",))
    figure = drawn_figure(bodies, view, see_through=("stand", "sump"))
    made = shop(model)
    numbers = numbers_of(made)
    groups = {"front": LABELLED, "left": ("background",), "right": ("background",)}.get(side, ())
    names = part_labels(bodies, figure, numbers, groups)
    marks = pipe_balloons(model, bodies, view) if side in ("front", "back") else ()
    heights = pipe_wishes(model, view, bodies, axes=(2,)) if side in ("back", "left") else ()
    return with_more(
        figure,
        wishes=(*tank_wishes(model, view), *sump_wishes(model, view), *hole_wishes(model, view), *heights),
        labels=(
            *hole_labels(model, view, numbers),
            *names,
            *marks,
            *pane_balloons(model, made, view, numbers),
        ),
        details=tuple(detail_places(model, figure)),
        levels=tuple(levels(model, view)),
        notes=(
            lambda: fill_line_note(model),
            f"Seen from the {side}. One sees through glass, stand and sump; dashed: hidden. {NUMBERS} "
            "Running dimensions count from the tank's inside front left corner at its floor. "
            "Plants and lights are left out.",
        ),
    )


# from the front with the names of what stands there, from the back and the left with the heights of pipes
front, back, left, right = (
    sheet_kind(side, place, heading)(partial(_elevation, side=side))
    for side, place, heading in (
        ("front", 20, "Front"),
        ("back", 30, "Back"),
        ("left", 40, "Left side"),
        ("right", 50, "Right side"),
    )
)
