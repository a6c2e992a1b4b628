"""The drawing model: lines, arcs, filled areas, texts and dimensions on a page. It knows no file format.

Lengths are millimetres on the page, x right, y up, origin at the page's bottom left corner; angles are
degrees, anticlockwise. What is measured stays SI (``Dimension.value``).
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field, replace
from typing import TypeAlias

from layout3d.errors import UnknownName, nearest
from layout3d.sheets.letters import text_width
from layout3d.solid.placement import Vector

__all__ = [
    "ARROW",
    "BEND",
    "GAP",
    "HEIGHT",
    "INK",
    "LINES",
    "OVERRUN",
    "PAPERS",
    "Area",
    "Circle",
    "Dimension",
    "Element",
    "LineKind",
    "Page",
    "Path",
    "Point",
    "Text",
    "Window",
    "arrow_at",
    "box_of",
    "check_paper",
    "cross_hair",
    "drawn",
    "line",
    "rectangle",
    "scale_words",
    "scaled",
]

Point: TypeAlias = tuple[float, float]
Box: TypeAlias = tuple[float, float, float, float]

PAPERS = {
    "A4": (210.0, 297.0),
    "A3": (297.0, 420.0),
    "letter": (215.9, 279.4),
    "tabloid": (279.4, 431.8),
}
"""Width and height upright, [mm]: ISO 216; ANSI/ASME Y14.1 sizes A and B."""


def check_paper(paper: str) -> tuple[float, float]:
    """Return a paper's size upright, [mm].

    Raises
    ------
    UnknownName : no such paper.
    """
    if paper not in PAPERS:
        raise UnknownName(f"no paper is called {paper!r}", expected=nearest(paper, PAPERS))
    return PAPERS[paper]


INK = 0.0
"""Black, as grey runs from 0 to 1."""


@dataclass(frozen=True, slots=True)
class LineKind:
    """How a line is drawn: its width and its dashes and gaps by turns, [mm]."""

    width: float
    dashes: tuple[float, ...] = ()


WIDE, NARROW = 0.35, 0.18
"""Line group 0.35/0.18, for crowded small sheets. ISO 128-2:2022, from memory."""


def _dashes(*in_widths: float) -> tuple[float, ...]:
    return tuple(round(NARROW * share, 3) for share in in_widths)


LINES = {
    "outline": LineKind(WIDE),  # 01.2 continuous wide: visible edges
    "narrow": LineKind(NARROW),  # 01.1 continuous narrow: dimensions, leaders, hatching, soft edges
    "hidden": LineKind(NARROW, _dashes(12, 3)),  # 02.1 dashed narrow: hidden edges
    "centre": LineKind(NARROW, _dashes(24, 3, 0.5, 3)),  # 04.1 long-dashed dotted narrow: centre lines
    "cut": LineKind(2 * WIDE),  # a section's outline, heavier than what lies behind
    "phantom": LineKind(NARROW, _dashes(24, 3, 0.5, 3, 0.5, 3)),  # 05.1: water, adjacent parts
}
"""Line kinds by use. ISO 128-2:2022; dash lengths in line widths from memory."""


HEIGHT = 2.5
"""Height of dimensions' capitals, [mm]. ISO 3098; 2.5 or more is common practice, no source."""
ARROW = 2.5
"""Length of an arrow, [mm]: a filled one of 15 degrees and more. ISO 129-1:2018, from memory."""
BEND = 4.0
"""Running dimensions' texts stand so far past the line, which bends to them on the way, [mm]."""
GAP, OVERRUN = 1.0, 1.5
"""An extension line begins so far from the outline and ends so far past the dimension line, [mm]: about 8
narrow widths. ISO 129-1:2018, from memory."""


@dataclass(frozen=True, slots=True)
class Path:
    """A polyline through two points or more; ``layer`` is told to formats that have layers."""

    points: tuple[Point, ...]
    line: str = "narrow"
    closed: bool = False
    layer: str = "outline"


@dataclass(frozen=True, slots=True)
class Circle:
    """A whole circle."""

    centre: Point
    diameter: float
    line: str = "outline"
    layer: str = "holes"


@dataclass(frozen=True, slots=True)
class Area:
    """A filled area: its rings, of which the inner ones are left out; ``grey`` from 0 (black) to 1."""

    rings: tuple[tuple[Point, ...], ...]
    grey: float = INK
    layer: str = "outline"


@dataclass(frozen=True, slots=True)
class Text:
    """One line of text; ``at`` is where its baseline begins, has its middle or ends (``align``).

    ``height`` is that of a capital letter (ISO 3098).
    """

    at: Point
    text: str
    height: float = HEIGHT
    align: str = "left"
    angle: float = 0.0
    layer: str = "notes"

    @property
    def width(self) -> float:
        """Return how wide it is set, [mm]."""
        return text_width(self.text, self.height)

    @property
    def corners(self) -> tuple[Point, Point, Point, Point]:
        """Return the corners of the box around it, with room for letters that reach below the baseline."""
        begin = -self.width * {"left": 0.0, "middle": 0.5, "right": 1.0}[self.align]
        low, high = -0.3 * self.height, 1.1 * self.height
        box = ((begin, low), (begin + self.width, low), (begin + self.width, high), (begin, high))
        a, b, c, d = (_turned(point, self.angle, self.at) for point in box)
        return a, b, c, d


@dataclass(frozen=True, slots=True, kw_only=True)
class Dimension:
    """A dimension: from ``first`` to ``second`` on the page, along ``angle``, its line through ``through``.

    ``value`` is what it tells, [m], ``text`` how it is printed, and ``ends`` the two places in the tank's
    axes that it was measured between, [m]. ``of`` names what is measured. ``scale`` is page per metre,
    [mm/m]. ``beside`` puts the text past the arrow at the second end, where it has no room between.
    ``running`` is 1 or -1 where the dimension counts from an origin that others share: its text then stands
    past the dimension line, above or right of it (1), below or left (-1), slid along by ``slide``, [mm].
    """

    of: str
    first: Point
    second: Point
    through: Point
    angle: float
    value: float
    text: str
    ends: tuple[Vector, Vector]
    scale: float
    height: float = HEIGHT
    beside: bool = False
    running: float = 0.0
    slide: float = 0.0
    layer: str = field(default="dimensions", init=False)

    @property
    def feet(self) -> tuple[Point, Point]:
        """Return where the arrows' tips are: both ends carried over to the dimension line."""
        way = (math.cos(math.radians(self.angle)), math.sin(math.radians(self.angle)))

        def foot(point: Point) -> Point:
            along = (point[0] - self.through[0]) * way[0] + (point[1] - self.through[1]) * way[1]
            return (self.through[0] + along * way[0], self.through[1] + along * way[1])

        return foot(self.first), foot(self.second)

    @property
    def label(self) -> Text:
        """Return its text, above the dimension line, to be read from below or from the right."""
        (ax, ay), (bx, by) = self.feet
        if self.running:
            far, half = self.running * BEND, self.height / 2
            if self.angle == 0.0:
                at = (bx + self.slide + half, by + far)
                return Text(at, self.text, self.height, "left" if far > 0 else "right", 90.0, self.layer)
            at = (bx + far, by + self.slide - half)
            return Text(at, self.text, self.height, "left" if far > 0 else "right", 0.0, self.layer)
        way = math.degrees(math.atan2(by - ay, bx - ax)) if (ax, ay) != (bx, by) else self.angle
        upright = 90.0 - (90.0 - way) % 180.0  # in (-90, 90], so that it is never upside down
        up = (-math.sin(math.radians(upright)), math.cos(math.radians(upright)))
        if not self.beside:
            at, align = ((ax + bx) / 2, (ay + by) / 2), "middle"
        else:
            far, sign = (
                (2 * ARROW + GAP) * self.height / HEIGHT,
                1.0 if abs((way - upright + 180) % 360 - 180) < 90 else -1.0,
            )
            turn = math.radians(way)
            at = (bx + far * math.cos(turn), by + far * math.sin(turn))
            align = "left" if sign > 0 else "right"
        lift = 0.3 * self.height
        place = (at[0] + lift * up[0], at[1] + lift * up[1])
        return Text(place, self.text, self.height, align, upright, self.layer)


Element: TypeAlias = Path | Circle | Area | Text | Dimension


@dataclass(frozen=True, slots=True, kw_only=True)
class Window:
    """Elements shifted on the page, and cut off at a rectangle: ``box`` is its low x and y, high x and y."""

    box: Box
    shift: Point
    elements: tuple[Element, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Page:
    """One page with its elements. Tiles have a window, which only PDF draws."""

    name: str
    width: float
    height: float
    elements: tuple[Element, ...]
    window: Window | None = None


def drawn(dimension: Dimension) -> list[Path | Area | Text]:
    """Return the lines, arrows and text that a dimension is drawn with."""
    a, b = dimension.feet
    length = math.dist(a, b)
    way = ((b[0] - a[0]) / length, (b[1] - a[1]) / length) if length > 1e-9 else (1.0, 0.0)
    grown = dimension.height / HEIGHT
    arrow, gap, overrun = ARROW * grown, GAP * grown, OVERRUN * grown
    made: list[Path | Area | Text] = []
    if dimension.running:
        return _running(dimension, a, b, way)
    for end, foot in ((dimension.first, a), (dimension.second, b)):
        reach = math.dist(end, foot)
        if reach > gap + 0.2:
            on = ((foot[0] - end[0]) / reach, (foot[1] - end[1]) / reach)
            begin = (end[0] + gap * on[0], end[1] + gap * on[1])
            stop = (foot[0] + overrun * on[0], foot[1] + overrun * on[1])
            made.append(Path((begin, stop), "narrow", layer=dimension.layer))
    outside = length < 2 * arrow + gap
    for tip, sign in ((a, 1.0), (b, -1.0)):
        back = -sign if outside else sign
        made.append(arrow_at(tip, way, -back * arrow, layer=dimension.layer))
    label = dimension.label
    begin, stop = a, b
    if outside:
        begin, stop = _past(a, way, -2 * arrow), _past(b, way, 2 * arrow)
    if dimension.beside:
        stop = _past(b, way, 2 * arrow + gap + label.width)
    made.append(Path((begin, stop), "narrow", layer=dimension.layer))
    made.append(label)
    return made


def _running(dimension: Dimension, a: Point, b: Point, way: Point) -> list[Path | Area | Text]:
    """Return what a running dimension is drawn with: its end's extension line, bent to its text."""
    up = (0.0, dimension.running) if dimension.angle == 0.0 else (dimension.running, 0.0)
    along = (dimension.slide, 0.0) if dimension.angle == 0.0 else (0.0, dimension.slide)
    made: list[Path | Area | Text] = []
    reach = math.dist(dimension.second, b)
    if reach > GAP + 0.2:
        begin = _past(
            dimension.second,
            ((b[0] - dimension.second[0]) / reach, (b[1] - dimension.second[1]) / reach),
            GAP,
        )
        made.append(Path((begin, b), "centre", layer=dimension.layer))  # of a hole or a pipe
    knee = _past(_past(b, up, BEND - 1.2), along, 1.0)
    made.append(Path((b, _past(b, up, 0.8), knee), "narrow", layer=dimension.layer))
    made.append(Path((a, b), "narrow", layer=dimension.layer))
    made.append(arrow_at(b, way, layer=dimension.layer))
    origin = [_past(a, (math.cos(t), math.sin(t)), 0.6) for t in (math.pi * k / 8 for k in range(16))]
    made.append(Area((tuple(origin),), layer=dimension.layer))
    made.append(dimension.label)
    return made


def arrow_at(tip: Point, way: Point, size: float = ARROW, *, layer: str) -> Area:
    """Return an arrow that ends at its tip, along a way of length 1, or with a size below 0 against it."""
    base, side = _past(tip, way, -size), (-way[1] * abs(size) * 0.16, way[0] * abs(size) * 0.16)
    return Area(((tip, _past(base, side, 1.0), _past(base, side, -1.0)),), layer=layer)


def line(*points: Point, kind: str = "narrow", layer: str = "outline") -> Path:
    """Return a polyline."""
    return Path(tuple(points), kind, layer=layer)


def rectangle(low: Point, high: Point, kind: str = "outline", layer: str = "outline") -> Path:
    """Return a rectangle between two corners."""
    return Path((low, (high[0], low[1]), high, (low[0], high[1])), kind, closed=True, layer=layer)


def cross_hair(centre: Point, reach: float, layer: str = "holes") -> tuple[Path, Path]:
    """Return the two centre lines of a hole, which reach so far from its centre."""
    x, y = centre
    return (
        line((x - reach, y), (x + reach, y), kind="centre", layer=layer),
        line((x, y - reach), (x, y + reach), kind="centre", layer=layer),
    )


def scale_words(scale: float) -> str:
    """Write a reduction: 10 is '1:10'.

    >>> scale_words(10.0), scale_words(2.5)
    ('1:10', '1:2.5')
    """
    return f"1:{scale:g}"


def scaled(elements: Iterable[Path | Circle], factor: float, shift: Point) -> list[Path | Circle]:
    """Return lines and circles drawn smaller or larger by a factor, then shifted."""

    def to(point: Point) -> Point:
        return (factor * point[0] + shift[0], factor * point[1] + shift[1])

    return [
        replace(element, points=tuple(map(to, element.points)))
        if isinstance(element, Path)
        else replace(element, centre=to(element.centre), diameter=factor * element.diameter)
        for element in elements
    ]


def box_of(element: Element) -> Box:
    """Return the box around an element: low x, low y, high x, high y."""
    points: Sequence[Point]
    if isinstance(element, Path):
        points = element.points
    elif isinstance(element, Circle):
        (x, y), r = element.centre, element.diameter / 2
        points = ((x - r, y - r), (x + r, y + r))
    elif isinstance(element, Area):
        points = [point for ring in element.rings for point in ring]
    elif isinstance(element, Text):
        points = element.corners
    else:
        boxes = [box_of(piece) for piece in drawn(element)]
        points = [(box[0], box[1]) for box in boxes] + [(box[2], box[3]) for box in boxes]
    xs, ys = [point[0] for point in points], [point[1] for point in points]
    return min(xs), min(ys), max(xs), max(ys)


def _turned(point: Point, angle: float, about: Point) -> Point:
    c, s = math.cos(math.radians(angle)), math.sin(math.radians(angle))
    return (about[0] + c * point[0] - s * point[1], about[1] + s * point[0] + c * point[1])


def _past(point: Point, way: Point, far: float) -> Point:
    return (point[0] + far * way[0], point[1] + far * way[1])
