"""A page of the drawing model as DXF: layers, line kinds, circles as circles, true dimensions.

DXF R2010, in millimetres. A dimension measures what it stands at, times the drawing's scale.
"""

from __future__ import annotations

import io
from collections.abc import Iterable
from typing import Any

from layout3d.sheets.drawing import (
    ARROW,
    GAP,
    HEIGHT,
    LINES,
    OVERRUN,
    Area,
    Circle,
    Element,
    Page,
    Path,
    Text,
    box_of,
    drawn,
)
from layout3d.sheets.letters import FACE

__all__ = ["dxf"]

STYLE = "lettering"


def dxf(page: Page) -> bytes:
    """Return a page as DXF; the same page gives the same bytes."""
    import ezdxf
    from ezdxf import units

    library: Any = ezdxf
    before = library.options.write_fixed_meta_data_for_testing
    library.options.write_fixed_meta_data_for_testing = True  # no time of writing, no random mark
    try:
        document: Any = library.new("R2010", units=units.MM)
        document.styles.add(STYLE, font=f"{FACE}.ttf")
        for name, kind in LINES.items():
            if kind.dashes:
                pattern = [d if place % 2 == 0 else -d for place, d in enumerate(kind.dashes)]
                document.linetypes.add(name, [sum(kind.dashes), *pattern], description=name)
        _dimension_style(document)
        _draw(document, document.modelspace(), page.elements)
        boxes = [box_of(element) for element in page.elements]
        document.header["$EXTMIN"] = (min(box[0] for box in boxes), min(box[1] for box in boxes), 0)
        document.header["$EXTMAX"] = (max(box[2] for box in boxes), max(box[3] for box in boxes), 0)
        # the library names what is in use in the order of a set, which is another one in each process
        document.classes.add_required_classes(document.dxfversion)
        document.classes.classes = dict(sorted(document.classes.classes.items()))
        stream = io.StringIO()
        document.write(stream)
    finally:
        library.options.write_fixed_meta_data_for_testing = before
    return stream.getvalue().encode("utf-8")


def _dimension_style(document: Any) -> None:
    style = document.dimstyles.duplicate_entry("Standard", "dimensions")
    style.dxf.dimtxsty = STYLE
    style.dxf.dimasz, style.dxf.dimexo, style.dxf.dimexe = ARROW, GAP, OVERRUN
    style.dxf.dimtxt = HEIGHT
    style.dxf.dimtad = 1  # text above the line


def _draw(document: Any, space: Any, elements: Iterable[Element]) -> None:
    for element in elements:
        if element.layer not in document.layers:
            document.layers.add(element.layer)
        look = {"layer": element.layer}
        if isinstance(element, Path):
            space.add_lwpolyline(element.points, close=element.closed, dxfattribs=look | _pen(element.line))
        elif isinstance(element, Circle):
            space.add_circle(element.centre, element.diameter / 2, dxfattribs=look | _pen(element.line))
        elif isinstance(element, Area):
            if element.grey >= 1.0:
                continue  # white under a text: the format lays nothing over anything
            hatch = space.add_hatch(dxfattribs=look)
            hatch.rgb = (round(255 * element.grey),) * 3
            for ring in element.rings:
                hatch.paths.add_polyline_path(ring, is_closed=True)
        elif isinstance(element, Text):
            _text(space, element, look)
        elif element.running:  # as drawn: no dimension of the format bends to its text
            _draw(document, space, drawn(element))
        else:
            space.add_linear_dim(
                base=element.through,
                p1=element.first,
                p2=element.second,
                angle=element.angle,
                text=element.text,
                dimstyle="dimensions",
                location=element.label.at if element.beside else None,
                override={"dimscale": element.height / HEIGHT, "dimlfac": 1000.0 / element.scale},
                dxfattribs=look,
            ).render()


def _pen(kind: str) -> dict[str, Any]:
    look = LINES[kind]
    return {"lineweight": round(100 * look.width), **({"linetype": kind} if look.dashes else {})}


def _text(space: Any, text: Text, look: dict[str, Any]) -> None:
    from ezdxf.enums import TextEntityAlignment

    align = {
        "left": TextEntityAlignment.LEFT,
        "middle": TextEntityAlignment.CENTER,
        "right": TextEntityAlignment.RIGHT,
    }[text.align]
    words = text.text.replace("⌀", "%%c")  # the format's own sign, in whatever face the reader has
    space.add_text(
        words, height=text.height, rotation=text.angle, dxfattribs=look | {"style": STYLE}
    ).set_placement(text.at, align=align)
