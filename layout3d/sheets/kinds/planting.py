"""Plants and lights: the tank from above as it is planted, with how high each light hangs."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from layout3d.model.model import Model
from layout3d.sheets.figure import Cut, Figure, Label, Printed, drawn_figure, sheet_kind, with_more
from layout3d.sheets.items import numbers_of, part_labels
from layout3d.sheets.measures import box_of_bodies, tank_wishes
from layout3d.sheets.projection import VIEWS, project
from layout3d.shop.shop import shop
from layout3d.units import on_drawing

LIGHTS = (
    "Lights are drawn by their outline, over what lies below them; heights are to their lower face. Hang "
    "them so that nothing can fall into the water, each cable with a drip loop."
)
GROUPS = ("glass", "background", "rock", "wood", "substrate", "plant")


@sheet_kind("planting", 15, "Plants and lights")
def planting(model: Model, _cut: Cut) -> Figure | None:
    """Return the planted tank from above; None where there are neither plants nor lights."""
    view = VIEWS["plan"]
    lights = [body for body in model.bodies if body.kind == "light"]
    bodies = [body for body in model.bodies if body.group in GROUPS]
    planted = any(body.group == "plant" for body in bodies)
    if not lights and not planted:
        return None
    figure, numbers = drawn_figure(bodies, view), numbers_of(shop(model))
    over = [one.seen for one in project(lights, view)]
    told, rows, names = [], [("light", "over the waterline")], list[Label]()
    for name in dict.fromkeys(body.part for body in lights):
        low, high = box_of_bodies(body for body in lights if body.part == name)
        middle = ((low[0] + high[0]) / 2, (low[1] + high[1]) / 2)
        height = low[2] - model.waterline
        text = on_drawing(height)
        start, end = (*middle, model.waterline), (*middle, low[2])
        told.append(Printed(of=f"{name} over the waterline", start=start, end=end, value=height, text=text))
        rows.append((name, text))
        (first, *_) = [body.name for body in lights if body.part == name]
        names.append(Label(text=name, at=end, mark=numbers.get(first, "")))
    drawn = replace(figure, lines=(*figure.lines, ("phantom", np.concatenate(over)))) if over else figure
    return with_more(
        drawn,
        wishes=tuple(tank_wishes(model, view)),
        labels=(*part_labels(bodies, figure, numbers, ("plant",)), *names),
        table=tuple(rows) if lights else (),
        told=tuple(told),
        notes=(
            "Numbers are rows of the parts list.",
            *(["As planted: leaves are drawn as modelled, and grow."] if planted else []),
            *([LIGHTS] if lights else []),
        ),
    )
