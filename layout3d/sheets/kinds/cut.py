"""The tank cut open at a plane, hatched, with what is fine drawn again larger: drip bar, drilled holes."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from layout3d.errors import OutOfRange
from layout3d.model.model import Model
from layout3d.sheets.details import across, hole_across
from layout3d.sheets.figure import Cut, Detail, Figure, drawn_figure, sheet_kind, with_more
from layout3d.sheets.items import cut_labels, numbers_of
from layout3d.sheets.measures import levels, pipe_wishes, shown, tank_wishes
from layout3d.sheets.projection import VIEWS, View
from layout3d.shop.shop import shop
from layout3d.solid.placement import vector
from layout3d.units import length_unit, on_drawing, show

_VIEWS = {"x": "right", "y": "front", "z": "plan"}
_FROM = {"x": "from the inside left", "y": "from the inside front", "z": "over the tank's floor"}
NEAR = 0.06
"""What is so near to the plane is drawn again as a detail, [m]."""
AROUND = 0.07


@sheet_kind("cut", 60, "Section")
def cut_open(model: Model, cut: Cut) -> Figure:
    """Return the tank cut open."""
    axis, at = cut or ("x", _chosen(model))
    view = VIEWS[_VIEWS[axis]]
    index = "xyz".index(axis)
    bodies = shown(model, without=("light",))
    low = min(float(body.solid.bounds[0, index]) for body in bodies)
    high = max(float(body.solid.bounds[1, index]) for body in bodies)
    if not low < at < high:
        raise OutOfRange(
            f"a cut at {axis} = {show(at, 'length')} passes everything that is drawn",
            expected=f"a place between {show(low, 'length')} and {show(high, 'length')}",
        )
    behind = at * float(np.sign(view.out[index]))
    words = f"Cut at {axis} = {on_drawing(at)} {length_unit()} {_FROM[axis]}, seen from the "
    side = {"x": "right", "y": "front", "z": "top"}[axis]
    figure = drawn_figure(bodies, view, behind=behind, see_through=("stand", "sump"))
    made, through = shop(model), [face.body for face in figure.faces]
    return with_more(
        figure,
        labels=tuple(cut_labels(figure, made, numbers_of(made), behind)),
        wishes=(
            *tank_wishes(model, view),
            *pipe_wishes(model, view, through, axes=[way for way in range(3) if way != index]),
        ),
        details=tuple(_details(model, view, index, at)),
        levels=tuple(levels(model, view, at=at)) if axis != "z" else (),
        notes=(
            f"{words}{side}. Cut faces are hatched, thin ones filled. Numbers are rows of the parts list. "
            "Running dimensions count from the tank's inside front left corner at its floor. Plants and "
            "lights are left out.",
        ),
    )


def _chosen(model: Model) -> float:
    """Return where a cut along x shows most: through the middle drip hole, else a hole, else the middle."""
    drips = [hole.at[0] for run in model.runs for piece in run.data.elements for hole in piece.holes]
    if drips:
        return float(sorted(drips)[len(drips) // 2])
    drilled = [hole.at[0] for hole in model.tank.holes.values()]
    return float(drilled[0]) if drilled else (model.tank.low[0] + model.tank.high[0]) / 2


def _details(model: Model, view: View, index: int, at: float) -> Iterator[Detail]:
    """Yield a pipe whose drip holes the plane is at, with its width, and each drilled hole near the plane."""
    for run in model.runs:
        for piece in run.data.elements:
            through = sorted((piece.path[0][index], piece.path[-1][index]))
            if piece.holes and through[0] <= at <= through[1]:
                begin, end = np.array(piece.path[0]), np.array(piece.path[-1])
                share = (at - begin[index]) / (end[index] - begin[index])
                place = vector(begin + share * (end - begin))
                width = across(f"{piece.body} outside", place, piece.outside, view.axes[0], level=True)
                drip = min(piece.holes, key=lambda hole: abs(hole.at[index] - at))
                shows = f"{run.part.name}, drip holes {on_drawing(drip.diameter)} wide"
                yield Detail(at=place, radius=AROUND, shows=shows, always=True, wishes=(width,))
    for hole in model.tank.holes.values():
        if abs(hole.at[index] - at) < NEAR:
            told = (hole_across(model, hole, view),)
            yield Detail(at=hole.at, radius=AROUND, shows=f"{hole.name}, drilled", always=True, wishes=told)
