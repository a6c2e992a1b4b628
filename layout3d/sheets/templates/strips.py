"""Strips that wrap round a pipe, with its drip holes: as long as the pipe, as wide as its true girth.

The strip lies printed side up, the pipe's start at its left; it is wrapped with the print outside.
"""

from __future__ import annotations

import itertools
import math

import numpy as np

from layout3d.model.model import Model
from layout3d.parts.run_data import Element as Piece
from layout3d.sheets.drawing import Circle, Dimension, Element, Text, cross_hair, line, rectangle
from layout3d.sheets.placer import Placer
from layout3d.sheets.templates.template import TEXT, Ruler, Template, length_words

__all__ = ["Wrapped", "strip_templates", "wrapped_holes"]

UPRIGHT = 0.9
"""A pipe whose direction rises by more than this share has no top: its front is marked instead."""

Wrapped = tuple[float, float, float]
"""A hole: along the pipe from its start, [m]; the turn from the mark, [rad]; its diameter, [m]."""


def wrapped_holes(piece: Piece) -> tuple[str, list[Wrapped]]:
    """Return the side that a pipe is marked on (top, or front where it stands upright), and its holes.

    Turns count from the mark towards the far edge of a strip that lies printed side up, its start at the
    left: from the top of a level pipe to the left hand of who looks along the flow. From -pi to pi.
    """
    begin, end = np.array(piece.path[0]), np.array(piece.path[-1])
    axis = (end - begin) / np.linalg.norm(end - begin)
    side = "front" if abs(float(axis[2])) > UPRIGHT else "top"
    mark = np.array((0.0, -1.0, 0.0)) if side == "front" else np.array((0.0, 0.0, 1.0))
    mark = mark - float(mark @ axis) * axis
    mark /= np.linalg.norm(mark)
    beyond = np.cross(mark, axis)  # up the sheet, where one looks at the mark with the flow to the right
    holes = []
    for hole in piece.holes:
        way = np.array(hole.direction)
        along = float((np.array(hole.at) - begin) @ axis)
        holes.append((along, math.atan2(float(way @ beyond), float(way @ mark)), hole.diameter))
    return side, holes


def strip_templates(model: Model) -> list[Template]:
    """Return a strip for each pipe that has drip holes."""
    made = []
    for built in model.runs:
        pieces = [piece for piece in built.data.elements if piece.holes and piece.kind == "pipe"]
        made += [_strip(built.part.name, piece) for piece in pieces]
    return made


def _strip(run: str, piece: Piece) -> Template:
    ruler = Ruler()
    side, holes = wrapped_holes(piece)
    girth, length = math.pi * piece.outside * 1000.0, piece.cut_length * 1000.0
    radius = piece.outside * 500.0
    seam = _seam([turn for _, turn, _ in holes])

    def level(turn: float) -> float:
        """Return how high on the strip a turn from the mark lies; the seam is both edges."""
        return radius * ((turn - seam) % (2 * math.pi))

    made: list[Element] = [rectangle((0.0, 0.0), (length, girth))]
    mark = level(0.0)
    made.append(line((0.0, mark), (length, mark), kind="centre", layer="marks"))
    rows: dict[float, list[tuple[float, float]]] = {}
    for along, turn, diameter in holes:
        rows.setdefault(round(level(turn), 3), []).append((along * 1000.0, diameter))
        made += [
            Circle((along * 1000.0, level(turn)), diameter * 1000.0),
            *cross_hair((along * 1000.0, level(turn)), 4.0, layer="marks"),
        ]
    dimensions: list[Dimension] = []
    notes = [
        f"{length_words(piece.cut_length)} of {piece.size}, sawn, outside diameter "
        f"{length_words(piece.outside)}: the strip is as wide as the pipe is round, "
        f"{length_words(girth / 1000.0)}. Cut it out on its outline; the long edges then meet, but "
        "for the thickness of the paper.",
        f"The line marked {side} goes along the pipe's {side} as it is laid; the end marked start is where "
        "the water comes in. The print is outside.",
    ]
    for height, row in sorted(rows.items()):
        first, step = row[0][0], row[1][0] - row[0][0] if len(row) > 1 else 0.0
        y = height + 6.0 if height + 12.0 < girth else height - 10.0
        dimensions.append(ruler.across(f"{run} first hole", (0.0, height), (first, height), y))
        if step:
            dimensions.append(ruler.across(f"{run} pitch", (first, height), (first + step, height), y))
        edge = first / 4
        dimensions.append(ruler.up(f"{run} row from {side}", (edge, mark), (edge, height), edge))
        turn = math.degrees((height / radius + seam + math.pi) % (2 * math.pi) - math.pi)
        evenly = f"every {length_words(step / 1000.0)}, the first " if step else ""
        notes.append(
            f"{len(row)} holes ⌀ {length_words(row[0][1])} {evenly}"
            f"{length_words(first / 1000.0)} from the start, {abs(turn):.1f} degrees from the {side} "
            f"{'up' if turn > 0 else 'down'} the strip."
        )
    placer = Placer(made)
    for dimension in dimensions:
        made += placer.put_dimension(dimension)
    for where in np.arange(20.0, length, 120.0):
        words = Text((float(where), mark + 1.2), f"{side} of the pipe", 2.5)
        if where + words.width < length:
            made += placer.put([words])
    for x, align, word in ((1.5, "left", "start"), (length - 1.5, "right", "end")):
        made += placer.put(
            Text((x, share * girth), word, TEXT, align) for share in (0.15, 0.85, 0.3, 0.7, 0.5)
        )
    return Template(
        name=f"{piece.body.replace('.', '-')}-holes",
        title=f"{piece.body}, drip holes",
        seen=f"Wrap it round the pipe, print outside; line on the pipe's {side}",
        elements=tuple(made),
        notes=tuple(notes),
    )


def _seam(turns: list[float]) -> float:
    """Return the turn in the middle of the widest gap between holes: there the strip's edges meet."""
    rising = sorted(turn % (2 * math.pi) for turn in turns)
    gaps = [
        (after - before, before) for before, after in itertools.pairwise([*rising, rising[0] + 2 * math.pi])
    ]
    widest, start = max(gaps)
    return start + widest / 2
