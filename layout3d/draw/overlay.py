"""Type and marks laid over a rendered picture: title, labels with leaders, badges, scale bar, legend."""

from __future__ import annotations

import bisect
import itertools
from collections.abc import Sequence
from functools import lru_cache
from typing import Any

import numpy as np
from numpy.typing import NDArray
from PIL import Image, ImageDraw, ImageFont

from layout3d.draw.labels import Box, Label
from layout3d.draw.style import FINDING_MARKS, PAGE, Colour
from layout3d.sheets.letters import FACE, font_file

__all__ = ["Overlay", "font", "rgb", "shortened", "text_size", "wrapped"]

Point = tuple[float, float]
_TILE = 100  # pixels
_SAMPLES = 3  # marks are drawn so many times larger and shrunk, so that their edges are smooth


@lru_cache(maxsize=64)
def font(size: float, bold: bool = False) -> Any:
    """Return the type in a size, pixels: the same file everywhere, with the signs of the trade (², °, ×)."""
    path = font_file(f"{FACE}-Bold" if bold else FACE)
    return ImageFont.truetype(str(path), max(round(size), 6))


def text_size(text: str, size: float, bold: bool = False) -> tuple[float, float]:
    """Return width and height of a line of text, pixels; the height is the line's, whatever its letters."""
    own = font(size, bold)
    ascent, descent = own.getmetrics()
    return float(own.getlength(text)), float(ascent + descent)


def shortened(text: str, size: float, room: float, bold: bool = False) -> str:
    """Return the text, cut at a letter with '…' so that it is no wider than ``room`` pixels."""
    if text_size(text, size, bold)[0] <= room:
        return text

    def wide(count: int) -> float:
        return text_size(text[:count].rstrip() + "…", size, bold)[0]

    kept = bisect.bisect_right(range(1, len(text) + 1), room, key=wide)
    return text[:kept].rstrip() + "…"


def wrapped(text: str, size: float, room: float, *, first: float) -> list[str]:
    """Return the text as lines no wider than ``room`` pixels, the first no wider than ``first``.

    Lines break between words; a word that alone is too wide is cut as ``shortened`` does.
    """
    lines: list[str] = []
    line = ""
    for word in text.split():
        longer = f"{line} {word}" if line else word
        if text_size(longer, size)[0] <= (room if lines else first) or not line:
            line = longer
        else:
            lines.append(line)
            line = word
    lines.append(line)
    return [shortened(one, size, room if number else first) for number, one in enumerate(lines)]


def rgb(colour: Colour, opacity: float = 1.0) -> tuple[int, int, int, int]:
    """Return a colour as the library of marks takes it, 0 … 255."""
    red, green, blue = (round(255 * c) for c in colour)
    return (red, green, blue, round(255 * opacity))


class Overlay:
    """Marks and text over a picture; lines and shapes are smoothed, text is drawn last, at full size."""

    def __init__(self, picture: NDArray[np.uint8], scale: float) -> None:
        self.size = (picture.shape[1], picture.shape[0])
        self.scale = scale
        self._base = Image.fromarray(picture).convert("RGBA")
        self._marks = Image.new("RGBA", (self.size[0] * _SAMPLES, self.size[1] * _SAMPLES), (0, 0, 0, 0))
        self._pen = ImageDraw.Draw(self._marks)
        self._marked: set[tuple[int, int]] = set()  # tiles that may have marks, by column and row
        self._texts: list[tuple[Point, str, float, bool, Colour, str, bool]] = []

    def text(
        self,
        at: Point,
        text: str,
        size: float,
        *,
        bold: bool = False,
        colour: Colour = PAGE.ink,
        anchor: str = "la",
        halo: bool = False,
    ) -> None:
        """Write a line; ``anchor`` as PIL's: 'la' from the left and top, 'mm' about the middle."""
        self._texts.append((at, text, size, bold, colour, anchor, halo))

    def line(self, points: Sequence[Point], colour: Colour, width: float, opacity: float = 1.0) -> None:
        """Draw a polyline."""
        k = _SAMPLES
        for ends in itertools.pairwise(points):
            self._mark(ends, width)
        self._pen.line(
            [(x * k, y * k) for x, y in points],
            fill=rgb(colour, opacity),
            width=max(round(width * k), 1),
            joint="curve",
        )

    def dot(self, at: Point, radius: float, colour: Colour, rim: Colour | None = None) -> None:
        """Draw a filled dot, with a rim if asked."""
        if rim is not None:
            self._circle(at, radius + 1.2 * self.scale, rim)
        self._circle(at, radius, colour)

    def _mark(self, points: Sequence[Point], reach: float) -> None:
        """Note where there are marks: most of a page has none, and shrinking nothing takes as long."""
        columns, rows = (
            range(int((min(along) - reach - 1) // _TILE), int((max(along) + reach + 1) // _TILE) + 1)
            for along in zip(*points, strict=True)
        )
        self._marked.update(itertools.product(columns, rows))

    def _circle(self, at: Point, radius: float, colour: Colour) -> None:
        self._mark([at], radius)
        x, y, r = (value * _SAMPLES for value in (*at, radius))
        self._pen.ellipse((x - r, y - r, x + r, y + r), fill=rgb(colour))

    def box(self, box: Box, colour: Colour, opacity: float = 1.0, radius: float = 0.0) -> None:
        """Draw a filled box with round corners."""
        self._mark([box[:2], box[2:]], 0.0)
        k = _SAMPLES
        self._pen.rounded_rectangle([v * k for v in box], radius=radius * k, fill=rgb(colour, opacity))

    def label(self, label: Label) -> None:
        """Draw a part's label and leader."""
        width = PAGE.leader_width * self.scale
        path = [label.stub, label.knee, label.at]
        self.line(path, PAGE.halo, width * 3.0, 0.45)
        self.line(path, PAGE.leader, width)
        self.dot(label.at, 3.2 * self.scale, PAGE.ink, PAGE.halo)
        middle = (label.box[1] + label.box[3]) / 2.0
        self.text((label.box[0], middle), label.text, PAGE.text * self.scale, anchor="lm", halo=True)

    def caption(self, lines: Sequence[str]) -> None:
        """Write lines over the foot of the picture, in the middle, on a veil; smaller where they are wide."""
        if not lines:
            return
        size = 1.5 * PAGE.text * self.scale
        room = self.size[0] - 2.0 * PAGE.margin * self.scale
        widest = max(text_size(line, size)[0] for line in lines)
        size *= min(1.0, room / max(widest, 1.0))
        widest = max(text_size(line, size)[0] for line in lines)
        high = text_size(lines[0], size)[1]
        middle, foot = self.size[0] / 2.0, self.size[1] - 1.5 * PAGE.margin * self.scale
        top, pad = foot - high * len(lines), 0.5 * high
        box = (middle - widest / 2.0 - pad, top - 0.5 * pad, middle + widest / 2.0 + pad, foot + 0.5 * pad)
        self.box(box, PAGE.top, 0.86, radius=0.4 * high)
        for row, line in enumerate(lines):
            self.text((middle, top + (row + 0.5) * high), line, size, anchor="mm")

    def badge(self, number: int, severity: str, at: Point, radius: float) -> None:
        """Draw a finding's badge: colour and outline by severity, and its number."""
        mark = FINDING_MARKS[severity]
        for grow, colour in ((2.0 * self.scale, PAGE.halo), (0.0, mark.colour)):
            r = radius + grow
            if mark.shape == "circle":
                self._circle(at, r, colour)
            elif mark.shape == "square":
                q = 0.9 * r
                self.box((at[0] - q, at[1] - q, at[0] + q, at[1] + q), colour, radius=0.25 * q)
            else:
                q, (x, y) = 1.25 * r, at
                corners = [(x, y - 1.08 * q), (x + q, y + 0.78 * q), (x - q, y + 0.78 * q)]
                self._mark(corners, 0.0)
                self._pen.polygon([(u * _SAMPLES, v * _SAMPLES) for u, v in corners], fill=rgb(colour))
        text = str(number)
        size = radius * (1.25 if len(text) < 2 else 1.0 if len(text) < 3 else 0.8)
        if mark.shape == "triangle":
            size *= 0.9
        drop = 0.16 * radius if mark.shape == "triangle" else 0.0
        self.text((at[0], at[1] + drop), text, size, bold=True, colour=mark.ink, anchor="mm")

    def finished(self) -> Image.Image:
        """Return the picture with everything on it."""
        image = self._base.copy()
        for column, row in self._marked:
            left, top, k = column * _TILE, row * _TILE, _SAMPLES
            right, bottom = min(left + _TILE, self.size[0]), min(top + _TILE, self.size[1])
            if 0 <= left < right and 0 <= top < bottom:
                marks = self._marks.crop((left * k, top * k, right * k, bottom * k))
                own = marks.resize((right - left, bottom - top), Image.Resampling.BOX)
                image.alpha_composite(own, (left, top))
        pen = ImageDraw.Draw(image)
        for at, text, size, bold, colour, anchor, halo in self._texts:
            more: dict[str, Any] = {}
            if halo:
                more = {"stroke_width": max(round(2.0 * self.scale), 1), "stroke_fill": rgb(PAGE.halo, 0.9)}
            pen.text(at, text, font=font(size, bold), fill=rgb(colour), anchor=anchor, **more)
        return image.convert("RGB")
