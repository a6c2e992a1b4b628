"""A page of the drawing model as SVG: lengths in mm, real text, nothing that is fetched from anywhere."""

from __future__ import annotations

from collections.abc import Iterable
from html import escape

from layout3d.sheets.drawing import LINES, Area, Circle, Dimension, Element, Page, Path, Text, drawn
from layout3d.sheets.letters import CAPITAL, FAMILY

__all__ = ["svg"]


def svg(page: Page) -> str:
    """Return a page as SVG text; the same page gives the same text.

    Each text carries its own width, so that another face, where this one is missing, doesn't run into what
    stands beside.
    """
    styles = "".join(
        f".sheet .{name}{{stroke-width:{_n(kind.width)}"
        + (f";stroke-dasharray:{' '.join(map(_n, kind.dashes))}" if kind.dashes else "")
        + "}"
        for name, kind in LINES.items()
    )
    body = _drawn(page.elements, page.height)
    width, height = _n(page.width), _n(page.height)
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" class="sheet" width="{width}mm" height="{height}mm" '
        f'viewBox="0 0 {width} {height}">\n<title>{_words(page.name)}</title>\n'
        f"<style>.sheet path,.sheet circle{{fill:none;stroke:#000;stroke-linejoin:round}}{styles}"
        f".sheet text{{font-family:'{FAMILY}',sans-serif}}</style>\n"
        f'<rect width="{width}" height="{height}" fill="#fff"/>\n' + "\n".join(body) + "\n</svg>\n"
    )


def _words(text: str) -> str:
    """Return a text as XML may hold it: signs that are none of its own are blanks."""
    return escape("".join(sign if sign.isprintable() else " " for sign in text))


def _n(value: float) -> str:
    text = f"{value:.3f}".rstrip("0").rstrip(".")
    return "0" if text == "-0" else text


def _drawn(elements: Iterable[Element], height: float) -> Iterable[str]:
    for element in elements:
        if isinstance(element, Path):
            yield f'<path class="{element.line}" d="{_ring(element.points, height, element.closed)}"/>'
        elif isinstance(element, Circle):
            x, y, r = _n(element.centre[0]), _n(height - element.centre[1]), _n(element.diameter / 2)
            yield f'<circle class="{element.line}" cx="{x}" cy="{y}" r="{r}"/>'
        elif isinstance(element, Area):
            rings = " ".join(_ring(ring, height, closed=True) for ring in element.rings)
            grey = f"#{round(255 * element.grey):02x}" + f"{round(255 * element.grey):02x}" * 2
            yield f'<path style="fill:{grey};stroke:none;fill-rule:evenodd" d="{rings}"/>'
        elif isinstance(element, Text):
            yield _text(element, height)
        elif isinstance(element, Dimension):
            yield from _drawn(drawn(element), height)


def _ring(points: tuple[tuple[float, float], ...], height: float, closed: bool) -> str:
    return "M" + "L".join(f"{_n(x)} {_n(height - y)}" for x, y in points) + ("Z" if closed else "")


def _text(text: Text, height: float) -> str:
    x, y = _n(text.at[0]), _n(height - text.at[1])
    anchor = {"left": "", "middle": ' text-anchor="middle"', "right": ' text-anchor="end"'}[text.align]
    turn = f' transform="rotate({_n(-text.angle)} {x} {y})"' if text.angle else ""
    return (
        f'<text x="{x}" y="{y}" font-size="{_n(text.height / CAPITAL)}" textLength="{_n(text.width)}" '
        f'lengthAdjust="spacingAndGlyphs"{anchor}{turn}>{_words(text.text)}</text>'
    )
