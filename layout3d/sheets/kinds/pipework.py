"""The pipework alone, isometric, with the marks and lengths of the cut list."""

from __future__ import annotations

import itertools

import numpy as np

from layout3d.model.model import Model
from layout3d.sheets.drawing import HEIGHT
from layout3d.sheets.figure import Cut, Figure, Printed, drawn_figure, sheet_kind, with_more
from layout3d.sheets.items import fitting_balloons, pipe_balloons
from layout3d.sheets.kinds.plan import NUMBERS
from layout3d.sheets.letters import shortened
from layout3d.sheets.projection import VIEWS
from layout3d.shop.shop import shop
from layout3d.units import on_drawing

WIDEST = 60.0
"""Of what the table says of a fitting, [mm]."""


@sheet_kind("pipework", 70, "Pipework, isometric")
def pipework(model: Model, _cut: Cut) -> Figure | None:
    """Return the pipework alone; None where there is none."""
    bodies = [body for body in model.bodies if body.group == "plumbing"]
    if not model.runs:
        return None
    view = VIEWS["isometric"]
    made = shop(model)
    of_mark = {mark: f"{row.number}" for row in made.parts for mark in row.marks}
    paths = {piece.body: piece.path for run in model.runs for piece in run.data.elements}
    told, rows = [], [("mark", "no.", "pipe, fitting", "length, count")]
    for piece in made.cuts.pieces:
        path = paths[piece.body]
        text = on_drawing(piece.length)
        of = f"{piece.mark} {piece.body}"
        told.append(Printed(of=of, start=path[0], end=path[-1], value=piece.length, text=text))
        rows.append((piece.mark, of_mark.get(piece.mark, ""), piece.size, text))
    balloons = (*pipe_balloons(model, bodies, view), *fitting_balloons(model, made))
    pointed = {label.mark for label in balloons}
    for row in made.parts:
        if f"{row.number}" in pointed:
            size = f"{row.item} {row.size}"
            rows.append(("", f"{row.number}", shortened(size, WIDEST, HEIGHT), f"{row.amount:g} x"))
    figure = drawn_figure(bodies, view)
    corners = np.array(list(itertools.product(*zip(model.tank.low, model.tank.high, strict=True))))
    frame = [
        (a, b)
        for a, b in itertools.combinations(corners.tolist(), 2)
        if sum(x != y for x, y in zip(a, b, strict=True)) == 1
    ]
    edges = view.flat(np.array(frame).reshape(-1, 3))[:, :2].reshape(-1, 2, 2)
    kept = tuple(line for line in figure.lines if line[0] != "hidden")
    return with_more(
        Figure(view=view, lines=(*kept, ("phantom", edges))),
        labels=balloons,
        table=tuple(rows),
        told=tuple(told),
        notes=(
            "Lengths are those to saw, from socket bottom to socket bottom; a tube's along its middle. "
            f"{NUMBERS} The tank's inside is drawn as a box.",
        ),
    )
