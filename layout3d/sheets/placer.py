"""Finds each text a place where it runs into no other text, and crosses as few lines as it can."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

from layout3d.sheets.drawing import Area, Circle, Dimension, Element, Path, Text, drawn

__all__ = ["Placer"]

APART = 0.4
"""Two texts stay so far apart, [mm]."""


class Placer:
    """Holds what stands on a page, and puts texts beside it."""

    def __init__(self, elements: Iterable[Element] = ()) -> None:
        self._taken: list[Any] = []
        self._lines: list[Any] = []
        self._tree: Any = None
        self.hold(elements)

    def hold(self, elements: Iterable[Element]) -> None:
        """Take note of elements that stand."""
        import shapely

        for element in elements:
            if isinstance(element, Dimension):
                self.hold(drawn(element))
            elif isinstance(element, Text):
                self._taken.append(_box(element))
            elif isinstance(element, Path) and len(element.points) > 1:
                ring = (*element.points, element.points[0]) if element.closed else element.points
                self._lines.append(shapely.LineString(ring))
            elif isinstance(element, Circle):
                self._lines.append(shapely.Point(element.centre).buffer(element.diameter / 2).exterior)
            elif isinstance(element, Area):
                self._lines += [shapely.LineString((*ring, ring[0])) for ring in element.rings]
        self._tree = None

    def free(self, text: Text, *, pad: float = 0.0) -> bool:
        """Tell whether a text, with room around it, runs into no other one."""
        box = _box(text, pad)
        return not any(box.intersects(other) for other in self._taken)

    def put(self, candidates: Iterable[Text], *, pad: float = 0.0) -> Text | None:
        """Return the candidate that runs into no text and crosses the fewest lines, the first of equals.

        ``pad`` is room kept around it, [mm]. It is taken note of; None where each runs into a text.
        """
        best: tuple[int, Text] | None = None
        for text in candidates:
            if not self.free(text, pad=pad):
                continue
            crossed = self._crossed(text, pad)
            if best is None or crossed < best[0]:
                best = (crossed, text)
            if not crossed:
                break
        if best is None:
            return None
        self._taken.append(_box(best[1], pad))
        return best[1]

    def put_dimension(self, candidates: Iterable[Dimension]) -> Dimension | None:
        """Return the first dimension whose text runs into no text, and take note of it."""
        for dimension in candidates:
            if self.free(dimension.label):
                self.hold([dimension])
                return dimension
        return None

    def _crossed(self, text: Text, pad: float) -> int:
        import shapely

        if self._tree is None:
            self._tree = shapely.STRtree(self._lines)
        return len(self._tree.query(_box(text, pad), predicate="intersects"))


def _box(text: Text, pad: float = 0.0) -> Any:
    import shapely

    box = shapely.Polygon(text.corners)
    return box.buffer(APART / 2 + pad, join_style="mitre")
