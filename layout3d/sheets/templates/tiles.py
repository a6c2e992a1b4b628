"""Puts a template on paper at 1:1, over as many sheets as it needs, with marks to join them by.

Only sheets with something to cut or drill on them are printed; the map on the first page tells which. Each
has control lines both ways: a printer may be off in one of the two alone.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

from layout3d.sheets.drawing import (
    Area,
    Circle,
    Element,
    Page,
    Path,
    Text,
    Window,
    box_of,
    check_paper,
    line,
    rectangle,
    scaled,
)
from layout3d.sheets.letters import shortened, text_width, wrapped
from layout3d.sheets.placer import Placer
from layout3d.sheets.templates.template import Box, Template

__all__ = ["CONTROL", "CONTROL_INCH", "tiled"]

MARGIN = 10.0  # no printer reaches nearer to the edge of the paper, [mm]; common practice, no source
BAND = 13.0  # below the drawing, for the control line and what the sheet is
STRIP = 8.0  # beside it, for the upright control line
OVERLAP = 12.0  # of two sheets; more than what a printer leaves blank, common practice, no source
AROUND = 4.0  # of paper around the template
CONTROL, CONTROL_INCH = 100.0, 101.6
"""Length of the control lines, [mm]: 100 mm, or 4 in."""
CROSS = 3.0  # half a joining mark
GREY = 0.88  # of a sheet that is printed, on the map
TRIES = 6  # places each way that the sheets are laid at, to tear few holes and take few sheets

HOW_TO_PRINT = (
    "Print at 100 %, never fitted to the page, and measure the control lines on every sheet both ways: where "
    "one is off, set out by the numbers instead.",
    "Join the sheets on their crosses and trim lines. Paper swells with damp: the numbers hold, not paper.",
)


@dataclass(frozen=True)
class _Grid:
    """The sheets that a template is cut into: columns from the left (1, 2 …), rows from the top (A, B …)."""

    low: tuple[float, float]
    window: tuple[float, float]
    columns: int
    rows: int
    printed: tuple[tuple[int, int], ...]

    @property
    def step(self) -> tuple[float, float]:
        return (self.window[0] - OVERLAP, self.window[1] - OVERLAP)

    def label(self, column: int, row: int) -> str:
        letters, row = "", self.rows - 1 - row
        while row >= 0:
            letters, row = chr(65 + row % 26) + letters, row // 26 - 1
        return f"{letters}{column + 1}"

    def corner(self, column: int, row: int) -> tuple[float, float]:
        return (self.low[0] + column * self.step[0], self.low[1] + row * self.step[1])


def tiled(
    template: Template, *, paper: str = "A4", heading: str = "", inch: bool = False
) -> tuple[Page, ...]:
    """Return a template's pages: the map, then its sheets row by row from the top.

    Parameters
    ----------
    paper : one of ``drawing.PAPERS``; upright or across, whichever takes fewer sheets
    heading : the scene's title, for each sheet
    inch : control lines of 4 in instead of 100 mm

    Raises
    ------
    UnknownName : no such paper.
    """
    upright = check_paper(paper)
    size, grid = min(
        ((size, _grid(template, size)) for size in (upright, upright[::-1])),
        key=lambda one: len(one[1].printed),
    )
    title = " · ".join(filter(None, (heading, template.title)))
    pages = [_map(template, grid, upright, title)]
    pages += [_sheet(template, grid, tile, size, title, inch) for tile in grid.printed]
    return tuple(pages)


def _grid(template: Template, size: tuple[float, float]) -> _Grid:
    window = (size[0] - 2 * MARGIN - STRIP, size[1] - 2 * MARGIN - BAND)
    boxes = [box_of(element) for element in template.elements]
    low = (min(box[0] for box in boxes) - AROUND, min(box[1] for box in boxes) - AROUND)
    high = (max(box[2] for box in boxes) + AROUND, max(box[3] for box in boxes) + AROUND)
    counts = [max(1, math.ceil((high[k] - low[k] - OVERLAP) / (window[k] - OVERLAP) - 1e-9)) for k in (0, 1)]
    needed = template.needed or ((*low, *high),)
    spare = [window[k] + (counts[k] - 1) * (window[k] - OVERLAP) - (high[k] - low[k]) for k in (0, 1)]
    grids: list[tuple[int, int, _Grid]] = []
    for across in range(TRIES + 1):
        for up in range(TRIES + 1):
            corner = (low[0] - spare[0] * across / TRIES, low[1] - spare[1] * up / TRIES)
            grid = _Grid(corner, window, counts[0], counts[1], ())
            tiles = [(column, row) for row in reversed(range(counts[1])) for column in range(counts[0])]
            cells = {tile: _cell(grid, *tile) for tile in tiles}
            printed = tuple(tile for tile in tiles if any(_meets(box, cells[tile]) for box in needed))
            torn = sum(
                not any(_within(box, cells[tile]) for tile in printed)
                for box in needed
                if box[2] - box[0] < window[0] - OVERLAP and box[3] - box[1] < window[1] - OVERLAP
            )
            grids.append((len(printed) + torn, len(grids), replace(grid, printed=printed)))
    return min(grids)[2]


def _cell(grid: _Grid, column: int, row: int) -> Box:
    """Return what of a sheet lies between its trim lines."""
    x, y = grid.corner(column, row)
    half = OVERLAP / 2
    return (
        x + (half if column else 0.0),
        y + (half if row else 0.0),
        x + grid.window[0] - (half if column < grid.columns - 1 else 0.0),
        y + grid.window[1] - (half if row < grid.rows - 1 else 0.0),
    )


def _meets(a: Box, b: Box) -> bool:
    return a[0] < b[2] and b[0] < a[2] and a[1] < b[3] and b[1] < a[3]


def _within(a: Box, b: Box) -> bool:
    return b[0] <= a[0] and a[2] <= b[2] and b[1] <= a[1] and a[3] <= b[3]


def _sheet(
    template: Template, grid: _Grid, tile: tuple[int, int], size: tuple[float, float], title: str, inch: bool
) -> Page:
    column, row = tile
    x, y = grid.corner(column, row)
    left, bottom = MARGIN, MARGIN + BAND
    right, top = left + grid.window[0], bottom + grid.window[1]
    inside = (*template.elements, *_joins(grid, column, row))
    control = CONTROL_INCH if inch else CONTROL
    said = "4 in" if inch else "100 mm"
    number = grid.printed.index(tile) + 1
    beside = {
        "left": (column - 1, row),
        "right": (column + 1, row),
        "above": (column, row + 1),
        "below": (column, row - 1),
    }
    joins = [f"{where} {grid.label(*other)}" for where, other in beside.items() if other in grid.printed]
    foot = f"{grid.label(*tile)}, sheet {number} of {len(grid.printed)}"
    if joins:
        foot += f"; joins {', '.join(joins)}"
    room = right - left - control - 6.0
    begin, under = left + control + 4.0, MARGIN + 2.0
    return Page(
        name=f"{template.title}, sheet {grid.label(*tile)}",
        width=size[0],
        height=size[1],
        elements=(
            rectangle((left, bottom), (right, top), "narrow", "frame"),
            *_control((left, under), (left + control, under)),
            Text((left + control / 2, under + 1.5), f"{said}: measure it", 2.5, "middle"),
            *_control((right + 5.0, bottom), (right + 5.0, bottom + control)),
            Text((right + 3.5, bottom + control / 2), f"{said}: measure it", 2.5, "middle", 90.0),
            Text((begin, MARGIN + 8.5), shortened(title, room, 2.5), 2.5),
            Text((begin, MARGIN + 4.5), shortened(template.seen, room, 1.8), 1.8),
            Text((begin, MARGIN + 1.0), shortened(foot, room, 1.8), 1.8),
        ),
        window=Window(box=(left, bottom, right, top), shift=(left - x, bottom - y), elements=inside),
    )


def _control(begin: tuple[float, float], end: tuple[float, float]) -> tuple[Path, ...]:
    """Return a control line with a tick at each end; its own ends are the measure."""
    across = (0.0, 2.0) if begin[1] == end[1] else (2.0, 0.0)
    ticks = [
        line((x - across[0], y - across[1]), (x + across[0], y + across[1]), layer="frame")
        for x, y in (begin, end)
    ]
    return (line(begin, end, kind="outline", layer="frame"), *ticks)


def _joins(grid: _Grid, column: int, row: int) -> list[Element]:
    """Return the trim lines and crosses of a sheet, in the template's own places: both sheets have them."""
    made: list[Element] = []
    x, y = grid.corner(column, row)
    for side in (0, 1):
        count, at = (grid.columns, column) if side == 0 else (grid.rows, row)
        for edge in (at, at + 1):
            there = edge if edge > at else edge - 1
            other = (there, row) if side == 0 else (column, there)
            if not 0 < edge < count or other not in grid.printed:
                continue
            trim = grid.low[side] + edge * grid.step[side] + OVERLAP / 2
            start = (x, y)[1 - side]
            for share in (0.25, 0.75):
                along = start + share * grid.window[1 - side]
                place = (trim, along) if side == 0 else (along, trim)
                made += [
                    line((place[0] - CROSS, place[1]), (place[0] + CROSS, place[1]), layer="frame"),
                    line((place[0], place[1] - CROSS), (place[0], place[1] + CROSS), layer="frame"),
                ]
            ends = [(trim, start), (trim, start + grid.window[1])]
            if side == 1:
                ends = [(start, trim), (start + grid.window[0], trim)]
            made.append(line(*ends, kind="phantom", layer="frame"))
    return made


def _map(template: Template, grid: _Grid, size: tuple[float, float], title: str) -> Page:
    """Return the first page: where the sheets belong, and what is to be known before one cuts."""
    width = size[0] - 2 * MARGIN
    top = size[1] - MARGIN
    elements: list[Element] = [Text((MARGIN, top - 5.0), shortened(title, width, 5.0), 5.0)]
    at = top - 13.0
    for number, note in enumerate((template.seen, *template.notes, *HOW_TO_PRINT)):
        grown = 3.5 if number == 0 else 2.5
        for words in wrapped(note, width, grown):
            elements.append(Text((MARGIN, at), words, grown))
            at -= 1.7 * grown
        at -= 1.5
    spans = [grid.step[k] * (grid.columns, grid.rows)[k] + OVERLAP for k in (0, 1)]
    factor = min(width / spans[0], max(at - MARGIN - 4.0, 20.0) / spans[1])
    left, bottom = MARGIN, at - factor * spans[1]
    plain = [e for e in template.elements if isinstance(e, Path | Circle) and e.line != "narrow"]
    small = scaled(plain, factor, (left - factor * grid.low[0], bottom - factor * grid.low[1]))
    elements += small
    placer = Placer(elements)
    for row in range(grid.rows):
        for column in range(grid.columns):
            low_x, low_y, high_x, high_y = _cell(grid, column, row)
            low = (left + factor * (low_x - grid.low[0]), bottom + factor * (low_y - grid.low[1]))
            high = (left + factor * (high_x - grid.low[0]), bottom + factor * (high_y - grid.low[1]))
            shown = (column, row) in grid.printed
            elements.append(rectangle(low, high, "narrow", "frame"))
            if shown:
                ring = (low, (high[0], low[1]), high, (low[0], high[1]))
                elements.insert(0, Area((ring,), GREY, "frame"))
                label = grid.label(column, row)
                tall = min(
                    3.5, 0.5 * (high[1] - low[1]), 3.5 * 0.8 * (high[0] - low[0]) / text_width(label, 3.5)
                )
                middles = [(0.5, 0.5), (0.25, 0.75), (0.75, 0.25), (0.25, 0.25), (0.75, 0.75)]
                elements += placer.put(
                    Text(
                        (low[0] + a * (high[0] - low[0]), low[1] + b * (high[1] - low[1]) - tall / 2),
                        label,
                        max(tall, 1.0),
                        "middle",
                    )
                    for a, b in middles
                )
    return Page(name=f"{template.title}, map", width=size[0], height=size[1], elements=tuple(elements))
