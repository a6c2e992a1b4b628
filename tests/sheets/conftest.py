"""Reads pages back: what a PDF strokes and prints, in millimetres from the page's bottom left corner."""

from __future__ import annotations

import io
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field

import numpy as np
import pytest
from shipped import shipped_coarse

from layout3d.model.model import Model

MILLIMETRE = 25.4 / 72.0  # of a point: ISO 32000-1, 8.3.2.3


@dataclass
class Printed:
    """One page as printed: straight strokes (n, 2, 2), circles (x, y, diameter), texts (x, y, words)."""

    size: tuple[float, float]
    strokes: list[np.ndarray] = field(default_factory=list)
    circles: list[tuple[float, float, float]] = field(default_factory=list)
    texts: list[tuple[float, float, str]] = field(default_factory=list)

    def lines(self, length: float, *, upright: bool, give: float = 0.1) -> list[np.ndarray]:
        """Return the straight strokes of this length, [mm]."""
        return [
            stroke
            for stroke in self.strokes
            if abs(stroke[1, 0] - stroke[0, 0] - (0 if upright else length)) < give
            and abs(stroke[1, 1] - stroke[0, 1] - (length if upright else 0)) < give
        ]

    def text(self, words: str) -> tuple[float, float]:
        """Return where the text that begins with these words stands."""
        found = [(x, y) for x, y, text in self.texts if text.startswith(words)]
        assert len(found) == 1, (words, found, self.texts)
        return found[0]


def printed_pages(content: bytes) -> Iterator[Printed]:
    """Read pages by a library of its own, from the operators of the page's content."""
    from pypdf import PdfReader  # by the one process that needs it

    for page in PdfReader(io.BytesIO(content)).pages:
        box = page.mediabox
        made = Printed((float(box.width) * MILLIMETRE, float(box.height) * MILLIMETRE))
        path: list[tuple[str, np.ndarray]] = []

        def operator(
            name: bytes, operands: list, matrix: list, _text: list, made: Printed = made, path: list = path
        ) -> None:
            a, b, c, d, e, f = matrix
            turn, shift = np.array([[a, c], [b, d]], dtype=float), np.array([e, f], dtype=float)
            numbers = [float(value) for value in operands] if name in (b"m", b"l", b"c", b"re") else []
            points = [turn @ np.array(pair) + shift for pair in zip(*[iter(numbers)] * 2, strict=True)]
            if name in (b"m", b"l", b"c"):
                path.append((name.decode(), np.array(points) * MILLIMETRE))
            elif name == b"h" and path:
                path.append(("l", path[0][1]))
            elif name in (b"S", b"n", b"f", b"f*", b"B"):
                if name == b"S":
                    _stroked(made, path)
                path.clear()

        def text(words: str, matrix: list, text_matrix: list, _font: object, _size: float, made=made) -> None:
            if words.strip():
                a, b, c, d, e, f = matrix
                x, y = text_matrix[4], text_matrix[5]
                at = (a * x + c * y + e, b * x + d * y + f)
                made.texts.append((at[0] * MILLIMETRE, at[1] * MILLIMETRE, words.strip()))

        page.extract_text(visitor_operand_before=operator, visitor_text=text)
        yield made


def _stroked(made: Printed, path: list[tuple[str, np.ndarray]]) -> None:
    curves = [points for name, points in path if name == "c"]
    if len(curves) == 4:
        ends = np.array([points[-1] for points in curves])  # of a circle's quarters: on its axes
        middle, extent = (ends.max(axis=0) + ends.min(axis=0)) / 2, np.ptp(ends, axis=0)
        assert abs(extent[0] - extent[1]) < 1e-3
        made.circles.append((float(middle[0]), float(middle[1]), float(extent[0])))
        return
    here = None
    for name, points in path:
        if name == "l" and here is not None:
            ends = sorted([here.tolist(), points[-1].tolist()])
            made.strokes.append(np.array(ends))
        here = points[-1]


@pytest.fixture(scope="session")
def pages() -> Callable[[bytes], list[Printed]]:
    return lambda content: list(printed_pages(content))


@pytest.fixture(scope="session")
def shipped() -> Callable[[str], Model]:
    """Build one of the scenes that ship, with plain stones and walls, once."""
    return shipped_coarse
