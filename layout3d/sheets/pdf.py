"""Pages of the drawing model as PDF: vectors only, real text, coordinates straight in points."""

from __future__ import annotations

import io
from collections.abc import Iterable, Sequence
from typing import Any

from layout3d.sheets.drawing import LINES, Area, Circle, Dimension, Element, Page, Path, Text, box_of, drawn
from layout3d.sheets.letters import CAPITAL, FACE, face

__all__ = ["pdf"]

POINT = 72.0 / 25.4
"""Points in a millimetre; a point is 1/72 inch (ISO 32000-1, 8.3.2.3)."""


def pdf(pages: Sequence[Page], title: str) -> bytes:
    """Return pages as one PDF file: the same pages give the same bytes."""
    from reportlab.pdfbase import pdfmetrics
    from reportlab.pdfgen.canvas import Canvas

    pdfmetrics.registerFont(face())
    stream = io.BytesIO()
    canvas: Any = Canvas(stream, invariant=1, pageCompression=1)
    canvas.setTitle(title)
    canvas.setCreator("layout3d")
    # a viewer that heeds it offers no scaling when it prints (ISO 32000-1, 12.2, PrintScaling)
    canvas.setViewerPreference("PrintScaling", "None")
    for page in pages:
        canvas.setPageSize((page.width * POINT, page.height * POINT))
        canvas.bookmarkPage(page.name)
        canvas.addOutlineEntry(page.name, page.name)
        canvas.setLineJoin(1)
        _draw(canvas, page.elements)
        if page.window is not None:
            (x, y, right, top), (dx, dy) = page.window.box, page.window.shift
            canvas.saveState()
            frame = canvas.beginPath()
            frame.rect(x * POINT, y * POINT, (right - x) * POINT, (top - y) * POINT)
            canvas.clipPath(frame, stroke=0)
            canvas.translate(dx * POINT, dy * POINT)
            here = (x - dx, y - dy, right - dx, top - dy)
            _draw(canvas, (e for e in page.window.elements if _meets(box_of(e), here)))
            canvas.restoreState()
        canvas.showPage()
    canvas.save()
    return stream.getvalue()


def _meets(a: tuple[float, ...], b: tuple[float, ...]) -> bool:
    return a[0] <= b[2] and b[0] <= a[2] and a[1] <= b[3] and b[1] <= a[3]


def _draw(canvas: Any, elements: Iterable[Element]) -> None:
    for element in elements:
        if isinstance(element, Path):
            _pen(canvas, element.line)
            canvas.drawPath(_ring(canvas, element.points, closed=element.closed), stroke=1, fill=0)
        elif isinstance(element, Circle):
            _pen(canvas, element.line)
            canvas.circle(*(POINT * value for value in (*element.centre, element.diameter / 2)))
        elif isinstance(element, Area):
            canvas.setFillGray(element.grey)
            path = canvas.beginPath()
            for ring in element.rings:
                _ring(canvas, ring, closed=True, path=path)
            canvas.drawPath(path, stroke=0, fill=1, fillMode=0)
        elif isinstance(element, Text):
            canvas.saveState()
            canvas.setFillGray(0.0)
            canvas.setFont(FACE, element.height / CAPITAL * POINT)
            canvas.translate(element.at[0] * POINT, element.at[1] * POINT)
            canvas.rotate(element.angle)
            put = {"left": canvas.drawString, "middle": canvas.drawCentredString}
            put.get(element.align, canvas.drawRightString)(0, 0, element.text)
            canvas.restoreState()
        elif isinstance(element, Dimension):
            _draw(canvas, drawn(element))


def _pen(canvas: Any, kind: str) -> None:
    look = LINES[kind]
    canvas.setStrokeGray(0.0)
    canvas.setLineWidth(look.width * POINT)
    canvas.setLineCap(0 if look.dashes else 1)
    canvas.setDash([dash * POINT for dash in look.dashes])


def _ring(canvas: Any, points: Sequence[tuple[float, float]], *, closed: bool, path: Any = None) -> Any:
    path = path or canvas.beginPath()
    path.moveTo(points[0][0] * POINT, points[0][1] * POINT)
    for x, y in points[1:]:
        path.lineTo(x * POINT, y * POINT)
    if closed:
        path.close()
    return path
