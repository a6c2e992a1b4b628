"""Composes a sheet: figure, dimensions, labels and details at a scale, with frame and title block."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np

from layout3d.errors import OutOfRange
from layout3d.sheets.details import BELOW, BESIDE, chained, crowded, enlarged
from layout3d.sheets.drawing import (
    BEND,
    HEIGHT,
    Area,
    Circle,
    Dimension,
    Element,
    Page,
    Path,
    Point,
    Text,
    check_paper,
    line,
    rectangle,
    scale_words,
)
from layout3d.sheets.figure import Detail, Figure, Printed, Wish
from layout3d.sheets.hatch import hatched
from layout3d.sheets.labels import SMALL, lettered, pointing
from layout3d.sheets.letters import shortened, text_width, wrapped
from layout3d.sheets.placer import Placer
from layout3d.sheets.spaced import spaced
from layout3d.units import length_unit, on_drawing

__all__ = ["SCALES", "SCALES_INCH", "Sheet", "Style", "compose"]

SCALES = (1, 2, 5, 10, 20, 50, 100)
"""Reductions 1:n. ISO 5455."""
SCALES_INCH = (1, 2, 4, 8, 12, 16, 24, 48, 96)
"""The same where inches are printed: 12, 6, 3, 1 1/2, 1, 3/4, 1/2, 1/4 and 1/8 inch to the foot. Common
practice, no source."""

LEFT, MARGIN = 20.0, 10.0
"""The frame's distance from the paper's edge, [mm]: 20 at the left for filing. ISO 5457, from memory."""
FOOT = 34.0
"""Least height of the strip that title block and notes stand in, [mm]; it grows with the notes."""
ROW, ROW_SMALL = 4.6, 2.9
"""From row to row of a table and of the notes, [mm]."""
BLOCK = 150.0
"""Width of the title block, [mm]; ISO 7200 allows 180."""
FIRST, NEXT = 10.0, 6.5
"""Of dimension lines: from the view, and from each other, [mm]. Habit of ASME Y14.5, from memory."""
UNDER = 18.0
"""Under a detail, for its dimension and its name, [mm]."""
APART = 1.6 * HEIGHT
"""Between the texts of running dimensions, [mm]."""
SAME = 5e-4
"""Two running dimensions that differ by less are told once, [m]."""
LARGER = 2.0
"""Details are drawn so many times larger than the view, or more."""

CAUTION = (
    "A sheet shows what the scene says, right or wrong: run `layout3d check` first. Measure the real "
    "glass and parts before anything is drilled, cut or glued. Nothing here says that a pane, a seam, a "
    "stand or a floor holds this water: ask the glass maker and an engineer, and keep to the code that "
    "holds where you live. Mains power stays off while hands are in the water."
)


@dataclass(frozen=True, kw_only=True)
class Style:
    """How sheets are set: paper, scale 1:n (None: the largest that fits), date as written, title.

    ``checked`` tells what `layout3d check` found, in few words, and ``faults`` which rules found a fault.
    """

    paper: str = "A3"
    scale: float | None = None
    date: str = ""
    title: str = ""
    checked: str = "not checked"
    faults: tuple[str, ...] = ()


@dataclass(frozen=True, kw_only=True)
class Sheet:
    """One sheet, the dimensions drawn on it, and all that are printed, in tables too."""

    name: str
    page: Page
    scale: float
    dimensions: tuple[Dimension, ...]
    printed: tuple[Printed, ...]


def compose(name: str, heading: str, figure: Figure, style: Style) -> Sheet:
    """Set a figure on a sheet, across.

    Raises
    ------
    UnknownName : no such paper.
    OutOfRange : it doesn't fit on the paper at the scale asked for, or at any.
    """
    upright = check_paper(style.paper)
    width, height = max(upright), min(upright)
    block = width - MARGIN - min(BLOCK, (width - LEFT - MARGIN) * 0.6)
    found = [note if isinstance(note, str) else note() for note in (CAUTION, *figure.notes)]
    notes = [wrapped(note, block - LEFT - 6.0, SMALL) for note in found if note]
    alarm = wrapped(_alarm(style.faults), block - LEFT - 6.0, HEIGHT) if style.faults else ()
    foot = max(FOOT, 5.0 + ROW * len(alarm) + sum(ROW_SMALL * len(rows) + 0.8 for rows in notes))
    field = (LEFT, MARGIN + foot, width - MARGIN, height - MARGIN)
    scales = SCALES_INCH if length_unit() == "in" else SCALES
    tried = (style.scale,) if style.scale is not None else scales
    for scale in tried:
        setter = _Setter(figure, 1000.0 / scale, scales, field)
        if setter.fits:
            elements, dimensions = setter.set()
            break
    else:
        asked = f"at {scale_words(style.scale)} " if style.scale is not None else ""
        raise OutOfRange(
            f"the sheet {name} doesn't fit {asked}on {style.paper}",
            expected="a larger paper, or a smaller scale such as 1:20" if asked else "a larger paper",
        )
    aslant = np.count_nonzero(figure.view.out) > 1
    printed_scale = f"{figure.view.name}, none" if aslant else scale_words(scale)
    frame = _title_block(heading, printed_scale, style, field, block)
    top = field[1] - 4.0 - ROW * len(alarm)
    frame += [Text((LEFT + 3.0, field[1] - ROW * (k + 1)), words) for k, words in enumerate(alarm)]
    for rows in notes:
        frame += [Text((LEFT + 3.0, top - ROW_SMALL * k), words, SMALL) for k, words in enumerate(rows)]
        top -= ROW_SMALL * len(rows) + 0.8
    page = Page(name=f"{style.title}, {heading}", width=width, height=height, elements=(*frame, *elements))
    drawn = [Printed(of=d.of, start=d.ends[0], end=d.ends[1], value=d.value, text=d.text) for d in dimensions]
    return Sheet(
        name=name, page=page, scale=scale, dimensions=tuple(dimensions), printed=(*drawn, *figure.told)
    )


def _alarm(faults: Sequence[str]) -> str:
    """Return what a sheet of a scene with faults says first."""
    count = f"{len(faults)} fault{'' if len(faults) == 1 else 's'}"
    return f"NOT TO BE BUILT AS DRAWN: {count} found by {', '.join(dict.fromkeys(faults))}."


def _text(wish: Wish) -> str:
    return on_drawing(math.dist(wish.start, wish.end))


class _Setter:
    """One figure at one scale; ``per_metre`` is page per metre, [mm/m]."""

    def __init__(
        self, figure: Figure, per_metre: float, scales: Sequence[int], field: tuple[float, ...]
    ) -> None:
        self.figure, self.k, self.scales, self.field = figure, per_metre, scales, field
        points = [segments.reshape(-1, 2) for _, segments in figure.lines]
        points += [np.array(face.shape.bounds).reshape(-1, 2) for face in figure.faces]
        every = np.concatenate(points)
        self.low, self.high = every.min(axis=0), every.max(axis=0)
        self.rows = {side: self._packed(side) for side in ("below", "above", "left", "right")}
        self.room = {side: self._room(side) for side in self.rows}
        self.beside = self._beside()
        size = (self.high - self.low) * self.k
        wide = size[0] + self.room["left"] + self.room["right"] + self.beside
        tall = size[1] + self.room["below"] + self.room["above"]
        self.details = self._shown(field[2] - field[0] - wide)
        wide += max((2000.0 * detail.radius / scale + 12.0 for detail, scale in self.details), default=0.0)
        self.spare = (field[2] - field[0] - wide, field[3] - field[1] - tall)
        self.fits = min(self.spare) >= 0.0
        x = field[0] + self.spare[0] / 2 + self.room["left"]
        y = field[1] + self.spare[1] / 2 + self.room["below"]
        self.shift = np.array((x, y)) - self.low * self.k

    # -- places ---------------------------------------------------------------------------------------

    def _at(self, place: Sequence[float]) -> Point:
        """Return where a place of the tank's axes comes on the page."""
        flat = self.figure.view.flat(place)[0, :2] * self.k + self.shift
        return (float(flat[0]), float(flat[1]))

    def _placed(self, flat: Sequence[float]) -> Point:
        """Return where a place of the view, [m], comes on the page."""
        return (float(flat[0] * self.k + self.shift[0]), float(flat[1] * self.k + self.shift[1]))

    def _packed(self, side: str) -> list[list[Wish]]:
        """Return the rows of dimensions on one side, the shortest nearest; running ones are a row apart."""
        axis = 0 if side in ("below", "above") else 1
        wishes = [wish for wish in self.figure.wishes if wish.side == side and not wish.running]
        rows: list[tuple[list[tuple[float, float]], list[Wish]]] = []

        def span(wish: Wish) -> tuple[float, float]:
            ends = self.figure.view.flat([wish.start, wish.end])[:, axis] * self.k
            low, high = float(ends.min()), float(ends.max())
            need = text_width(_text(wish), HEIGHT) + 4.0
            grown = max(0.0, need - (high - low)) + 6.0
            return (low - grown, high + grown)

        for wish in sorted(wishes, key=lambda wish: (math.dist(wish.start, wish.end), wish.of)):
            low, high = span(wish)
            for taken, row in rows:
                if all(high < a or low > b for a, b in taken):
                    taken.append((low, high))
                    row.append(wish)
                    break
            else:
                rows.append(([(low, high)], [wish]))
        return [row for _, row in rows]

    def _running(self, side: str) -> list[Wish]:
        """Return one side's running dimensions, each place once: a hole before the pipe in it."""
        kept: list[Wish] = []
        for wish in self.figure.wishes:
            if wish.side == side and wish.running:
                way = np.subtract(wish.end, wish.start)
                if all(np.abs(np.subtract(other.end, other.start) - way).max() > SAME for other in kept):
                    kept.append(wish)
        return kept

    def _room(self, side: str) -> float:
        rows = len(self.rows[side])
        return 4.0 + self._run_room(side) + (FIRST + (rows - 1) * NEXT + HEIGHT if rows else 0.0)

    def _run_room(self, side: str) -> float:
        """Return the room that running dimensions take on a side: their line, bends and texts."""
        texts = [text_width(_text(wish), HEIGHT) for wish in self._running(side)]
        return FIRST + BEND + max(texts) if texts else 0.0

    def _beside(self) -> float:
        """Return the room beside the view that a table takes."""
        return len(self._blocks()) * (sum(self._columns()) + 4.0) + 4.0 if self.figure.table else 0.0

    def _shown(self, room: float) -> list[tuple[Detail, float]]:
        """Return the details that are drawn, with their scales: of crowded places what ``room`` takes."""
        wanted = crowded(self.figure, self.k)
        tall = self.field[3] - self.field[1] - 12.0
        larger = [scale for scale in self.scales if scale <= 1000.0 / self.k / LARGER]
        for count in range(len(wanted), 0, -1):
            for scale in larger:
                sizes = [2000.0 * detail.radius / scale for detail in wanted[:count]]
                if max(sizes) + 12.0 <= room and sum(sizes) + UNDER * count <= tall:
                    return [(detail, scale) for detail in wanted[:count]]
        return []

    def _columns(self) -> list[float]:
        return [
            max(text_width(cell, HEIGHT) for cell in cells) + 4.0
            for cells in zip(*self.figure.table, strict=True)
        ]

    # -- setting --------------------------------------------------------------------------------------

    def set(self) -> tuple[list[Element], list[Dimension]]:
        """Return everything within the frame, and the dimensions among it."""
        elements: list[Element] = []
        for kind, segments in self.figure.lines:
            elements += chained(segments * self.k + self.shift, kind)
        for face in self.figure.faces:
            elements += hatched(face, self.k, self.shift)
        dimensions = list(self._dimensions())
        elements += dimensions
        placer = Placer(elements)
        elements += self._levels(placer)
        details = self._details(placer)
        elements += details
        dimensions += [one for one in details if isinstance(one, Dimension)]
        elements += self._table(placer)
        for label in self.figure.labels:
            ends = [self._at(label.at) if len(label.at) == 3 else self._placed(label.at)]
            ends += [self._placed(other) for other in label.others]
            elements += pointing(label, ends, placer, within=self.field)
        return elements, dimensions

    def _dimensions(self) -> Iterator[Dimension]:
        low, high = self.low * self.k + self.shift, self.high * self.k + self.shift
        for side, rows in self.rows.items():
            angle = 0.0 if side in ("below", "above") else 90.0
            edge = {"below": low[1], "above": high[1], "left": low[0], "right": high[0]}[side]
            out = 1.0 if side in ("above", "right") else -1.0
            running = self._running(side)
            if running:
                yield from self._run(running, angle, float(edge) + out * FIRST, out)
            reach = FIRST + self._run_room(side)
            for number, row in enumerate(rows):
                level = float(edge) + out * (reach + number * NEXT)
                for wish in row:
                    through = (0.0, level) if angle == 0.0 else (level, 0.0)
                    yield self._dimension(wish, through, angle)

    def _run(self, wishes: list[Wish], angle: float, level: float, out: float) -> Iterator[Dimension]:
        """Yield running dimensions of one side, their texts slid apart."""
        axis = 0 if angle == 0.0 else 1
        through = (0.0, level) if angle == 0.0 else (level, 0.0)
        made = [self._dimension(wish, through, angle) for wish in wishes]
        made.sort(key=lambda dimension: dimension.second[axis])
        places = [float(dimension.second[axis]) for dimension in made]
        for dimension, place, there in zip(made, places, spaced(places, APART), strict=True):
            slide = there - place
            yield replace(dimension, running=out, slide=slide if abs(slide) > 0.05 else 0.0)

    def _dimension(
        self, wish: Wish, through: Point, angle: float, *, larger: tuple[float, np.ndarray] | None = None
    ) -> Dimension:
        """Return a dimension in the view, or with ``larger`` in a detail, by its page per metre and shift."""
        k, shift = larger or (self.k, self.shift)
        (first, second) = (
            (float(x), float(y)) for x, y in self.figure.view.flat([wish.start, wish.end])[:, :2] * k + shift
        )
        made = Dimension(
            of=wish.of,
            first=first,
            second=second,
            through=through,
            angle=angle,
            value=math.dist(wish.start, wish.end),
            text=_text(wish),
            ends=(wish.start, wish.end),
            scale=k,
        )
        a, b = made.feet
        return made if math.dist(a, b) > made.label.width + 1.0 else replace(made, beside=True)

    def _levels(self, placer: Placer) -> list[Element]:
        made: list[Element] = []
        for words, start, end in self.figure.levels:
            a, b = sorted((self._at(start), self._at(end)))
            drawn = line(a, b, kind="phantom", layer="water")
            long = b[0] - a[0] - text_width(words, SMALL) - 6.0
            texts = placer.put(
                Text((a[0] + 4.5 + max(long, 0.0) * share, a[1] + lift), words, SMALL, layer="water")
                for lift in (0.8, -0.8 - SMALL)
                for share in (0.05, 0.15, 0.25, 0.4, 0.55, 0.7, 0.85, 1.0)
            )
            if not texts:
                made.append(drawn)
            for text in texts:
                x, y = text.at[0] - 2.5, a[1]
                mark = ((x, y), (x + 1.4, y + 2.2), (x - 1.4, y + 2.2))
                under = Area((text.corners,), 1.0, "water")
                made += [under, drawn, Path(mark, "narrow", closed=True, layer="water"), text]
                placer.reserve((x - 1.6, y), (x + 1.6, y + 2.4))
        return made

    def _details(self, placer: Placer) -> list[Element]:
        """Return each detail: a circle round its place in the view, and the larger circle beside the view."""
        made: list[Element] = []
        right = self.field[2] - 6.0 - (self.beside if self.figure.table else 0.0)
        top = self.field[3] - 8.0
        for detail, scale in self.details:
            radius = detail.radius * 1000.0 / scale
            centre = (right - radius, top - radius)
            made += enlarged(self.figure, detail, scale, centre)
            made += self._sizes(detail, scale, centre)
            here = self._at(detail.at)
            made.append(Circle(here, 2 * detail.radius * self.k, "narrow", "detail"))
            placer.hold(made)
            made += lettered(detail.letter, here, detail.radius * self.k, placer)
            top -= 2 * radius + UNDER
        return made

    def _sizes(self, detail: Detail, scale: float, centre: Point) -> Iterator[Dimension]:
        """Yield the dimensions of a detail, below its circle and left of it."""
        k, radius = 1000.0 / scale, detail.radius * 1000.0 / scale
        shift = np.array(centre) - self.figure.view.flat(detail.at)[0, :2] * k
        for wish in detail.wishes:
            level = wish.side == "below"
            through = (0.0, centre[1] - radius - BELOW) if level else (centre[0] - radius - BESIDE, 0.0)
            yield self._dimension(wish, through, 0.0 if level else 90.0, larger=(k, shift))

    def _table(self, placer: Placer) -> list[Element]:
        """Return the table in as many blocks side by side as the field's height takes."""
        columns, made = self._columns(), list[Element]()
        for number, rows in enumerate(reversed(self._blocks())):
            left = self.field[2] - (number + 1) * (sum(columns) + 4.0)
            for down, row in enumerate(rows, start=1):
                y, x = self.field[3] - 6.0 - ROW * down, left
                for place, (cell, wide) in enumerate(zip(row, columns, strict=True)):
                    last = place == len(row) - 1
                    at, align = ((x + wide - 4.0, y), "right") if last else ((x, y), "left")
                    made.append(Text(at, cell, HEIGHT, align, layer="table"))
                    x += wide
                if down == 1:
                    made.append(line((left, y - 1.1), (left + sum(columns) - 4.0, y - 1.1), layer="table"))
        placer.hold(made)
        return made

    def _blocks(self) -> list[list[tuple[str, ...]]]:
        """Return the table's rows by block, each under the heading."""
        heading, *rows = self.figure.table or ((),)
        most = max(1, int((self.field[3] - self.field[1] - 12.0) / ROW) - 1)
        return [[heading, *rows[k : k + most]] for k in range(0, len(rows), most)]


def _title_block(
    heading: str, scale: str, style: Style, field: tuple[float, ...], block: float
) -> list[Element]:
    """Return the frame around the drawing's field, and the title block from ``block`` on, [mm]."""
    left, top, right, bottom = field[0], field[1], field[2], MARGIN
    room = right - block - 6.0
    made: list[Element] = [
        rectangle((left, bottom), (right, field[3]), "outline", "frame"),
        line((left, top), (right, top), kind="outline", layer="frame"),
        line((block, bottom), (block, top), kind="outline", layer="frame"),
        line((block, bottom + 12.0), (right, bottom + 12.0), layer="frame"),
        Text((block + 3.0, top - 8.0), shortened(style.title, room, 5.0), 5.0),
        Text((block + 3.0, top - 16.5), shortened(heading, room, 3.5), 3.5),
    ]
    cells = (
        ("scale", scale),
        ("dimensions in", "inches" if length_unit() == "in" else "mm"),
        ("paper", style.paper),
        ("checked", style.checked),
        ("date", style.date or "____________"),
    )
    x = block + 3.0
    for what, told in cells:
        kept = shortened(told, right - 2.0 - x, HEIGHT)
        made += [Text((x, bottom + 8.0), what, SMALL), Text((x, bottom + 3.0), kept, HEIGHT)]
        x += max(text_width(what, SMALL), text_width(kept, HEIGHT)) + 6.0
    return made
