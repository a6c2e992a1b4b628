"""What a template is: a drawing at 1:1, what of it has to be on paper, and what is said beside it."""

from __future__ import annotations

from dataclasses import dataclass, replace

from layout3d.sheets.drawing import HEIGHT, Dimension, Element, Point
from layout3d.units import length_unit, on_drawing

__all__ = ["TEXT", "Ruler", "Template", "length_words"]

TEXT = 3.5
"""Height of capitals on templates, which are read at arm's length, [mm]. ISO 3098."""
PER_METRE = 1000.0
"""Scale 1:1, [mm/m]."""

Box = tuple[float, float, float, float]


@dataclass(frozen=True, kw_only=True)
class Template:
    """A drawing at 1:1, [mm]; ``name`` is its file's stem.

    ``seen`` says from which side it is seen, ``notes`` what is to be known before one cuts. ``needed`` are
    the boxes that have to be on paper, all of it where there are none. ``cut`` is what goes to a shop, as
    DXF, empty where no shop cuts it.
    """

    name: str
    title: str
    seen: str
    elements: tuple[Element, ...]
    notes: tuple[str, ...] = ()
    needed: tuple[Box, ...] = ()
    cut: tuple[Element, ...] = ()


def length_words(value: float) -> str:
    """Return a length with its unit, as drawings print it."""
    return f"{on_drawing(value)} {length_unit()}"


@dataclass(frozen=True, slots=True)
class Ruler:
    """Measures on a template, [mm], in capitals of a height."""

    height: float = HEIGHT

    def across(self, of: str, first: Point, second: Point, y: float) -> Dimension:
        """Return a dimension across the sheet between two places on it, with its line at height ``y``."""
        return self._between(of, first, second, (first[0], y), 0.0, abs(second[0] - first[0]))

    def up(self, of: str, first: Point, second: Point, x: float) -> Dimension:
        """Return the same up the sheet, with its line at ``x``."""
        return self._between(of, first, second, (x, first[1]), 90.0, abs(second[1] - first[1]))

    def _between(
        self, of: str, first: Point, second: Point, through: Point, angle: float, length: float
    ) -> Dimension:
        value = length / PER_METRE
        (x, y), (right, top) = ((x / PER_METRE, y / PER_METRE) for x, y in (first, second))
        made = Dimension(
            of=of,
            first=first,
            second=second,
            through=through,
            angle=angle,
            value=value,
            text=on_drawing(value),
            ends=((x, y, 0.0), (right, top, 0.0)),
            scale=PER_METRE,
            height=self.height,
        )
        return made if made.label.width < length - self.height else replace(made, beside=True)
