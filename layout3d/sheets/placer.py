"""Finds each text a place where it runs into no other text, and crosses as few lines as it can."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import Any

import numpy as np
from numpy.typing import NDArray

from layout3d.sheets.drawing import Area, Circle, Dimension, Element, Path, Text, drawn

__all__ = ["Placer"]

APART = 0.4
"""Two texts stay so far apart, [mm]."""
LONG, LINE, LEADER, COVERED = 0.25, 1.0, 4.0, 12.0
"""What a label costs: a millimetre of leader; a line behind the text; a leader or a text that is crossed."""
MOST_LINES = 6
"""So many lines behind a text and more are alike."""
LOOKED_AT = 80
"""Of this many places, those that cost the least without their lines, lines are counted."""


class Placer:
    """Holds what stands on a page, and puts texts beside it."""

    def __init__(self, elements: Iterable[Element] = ()) -> None:
        self._taken: list[tuple[float, float, float, float]] = []
        self._lines: list[Any] = []
        self._leaders: list[Any] = []
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

    def reserve(self, low: tuple[float, float], high: tuple[float, float]) -> None:
        """Keep texts away from a box, as from a text."""
        self._taken.append((*low, *high))

    def put(self, candidates: Iterable[Text]) -> list[Text]:
        """Return the candidate that runs into no text and crosses the fewest lines, the first of equals.

        It is taken note of; none where each runs into a text.
        """
        texts = list(candidates)
        boxes = np.array([_box(text) for text in texts]).reshape(-1, 4)
        free = np.flatnonzero(self._free(boxes))
        if not len(free):
            return []
        best = texts[int(free[np.argmin(self._crossed(boxes[free]))])]
        self._taken.append(_box(best))
        return [best]

    def put_label(
        self, boxes: NDArray[np.float64], leaders: NDArray[np.float64], *, within: Sequence[float]
    ) -> int | None:
        """Return which of the places for a label with its leader costs least; None where none is free.

        Parameters
        ----------
        boxes : (n, 4), low x and y, high x and y of the label, [mm]
        leaders : (n, 2, 2), from the label to what it points to
        within : the box that it stays in
        """
        import shapely

        room = np.array(within)
        inside = (boxes[:, :2] > room[:2] + 1.0).all(axis=1) & (boxes[:, 2:] < room[2:] - 1.0).all(axis=1)
        free = np.flatnonzero(inside & self._free(boxes))
        if not len(free):
            return None
        boxes, lines = boxes[free], shapely.linestrings(leaders[free])
        cost = LONG * shapely.length(lines)
        cost += COVERED * _met(_rectangles(np.array(self._taken).reshape(-1, 4)), lines) + COVERED * _met(
            self._leaders, _rectangles(boxes)
        )
        cost += LEADER * _met(self._leaders, lines)
        near = np.argsort(cost, kind="stable")[:LOOKED_AT]
        cost = cost[near] + LINE * np.minimum(self._crossed(boxes[near]), MOST_LINES)
        best = int(near[np.argmin(cost)])
        a, b, c, d = boxes[best].tolist()
        self._taken.append((a, b, c, d))
        self._leaders.append(lines[best])
        return int(free[best])

    def put_dimension(self, dimension: Dimension) -> list[Dimension]:
        """Return a dimension whose text runs into no text, and take note of it; none where it does."""
        if not self._free(np.array([_box(dimension.label)])).all():
            return []
        self.hold([dimension])
        return [dimension]

    def _free(self, boxes: NDArray[np.float64]) -> NDArray[np.bool_]:
        taken = np.array(self._taken).reshape(-1, 4)
        over: NDArray[np.bool_] = (boxes[:, None, :2] < taken[None, :, 2:]) & (
            boxes[:, None, 2:] > taken[None, :, :2]
        )
        met: NDArray[np.bool_] = np.logical_or.reduce(np.logical_and.reduce(over, axis=2), axis=1)
        return ~met

    def _crossed(self, boxes: NDArray[np.float64]) -> NDArray[np.int64]:
        """Return how many lines run through each box."""
        import shapely

        if self._tree is None:
            self._tree = shapely.STRtree(self._lines)
        index = self._tree.query(_rectangles(boxes), predicate="intersects")[0]
        return np.bincount(index, minlength=len(boxes))


def _met(shapes: Sequence[Any], others: Any) -> NDArray[np.int64]:
    """Return how many shapes each of the others meets."""
    import shapely

    if not len(shapes):
        return np.zeros(len(others), dtype=np.int64)
    return np.bincount(
        shapely.STRtree(shapes).query(others, predicate="intersects")[0], minlength=len(others)
    )


def _rectangles(boxes: NDArray[np.float64]) -> Any:
    import shapely

    return shapely.box(*boxes.T)


def _box(text: Text) -> tuple[float, float, float, float]:
    xs, ys = [x for x, _ in text.corners], [y for _, y in text.corners]
    give = APART / 2
    return min(xs) - give, min(ys) - give, max(xs) + give, max(ys) + give
