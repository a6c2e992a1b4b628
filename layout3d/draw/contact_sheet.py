"""Pictures of several variants of a scene on one page, with their figures under each."""

from __future__ import annotations

import tempfile
from collections.abc import Callable, Sequence
from pathlib import Path

from layout3d.draw.overlay import font, rgb
from layout3d.draw.picture import picture
from layout3d.draw.screen import opened
from layout3d.draw.stage import set_stage
from layout3d.draw.style import PAGE
from layout3d.errors import LayoutError, Place
from layout3d.files import written
from layout3d.model.model import Model

__all__ = ["contact_sheet"]

EACH = (800, 600)  # pixels of a picture
LINE = 26.0  # pixels
GAP = 20


def contact_sheet(
    entries: Sequence[tuple[Callable[[], Model], Sequence[str]]],
    *,
    title: str,
    to: Path,
) -> None:
    """Draw each variant and write the page as PNG, whole or not at all.

    The tank alone is drawn, as near as it fits: what hangs over it, stands under it and runs beside it is
    left out.

    Parameters
    ----------
    entries : what makes a variant's model, and the lines under its picture, the first one bold
    title : stands on top

    Raises
    ------
    LayoutError : another suffix than .png, or the file can't be written.
    """
    if to.suffix.lower() != ".png":
        raise LayoutError(
            f"{to.suffix or 'no suffix'!r} can't be drawn", expected=".png", place=Place(str(to))
        )
    from PIL import Image, ImageDraw

    across = 3 if len(entries) > 4 else 2 if len(entries) > 1 else 1
    down = -(-len(entries) // across)
    text = int(max((len(lines) for _, lines in entries), default=0) * LINE) + GAP
    size = across * (EACH[0] + GAP) + GAP, down * (EACH[1] + text + GAP) + 3 * GAP + GAP
    page = Image.new("RGB", size, rgb(PAGE.top))
    pen = ImageDraw.Draw(page)
    pen.text((GAP, GAP), title, fill=rgb(PAGE.ink), font=font(26.0, bold=True))
    with tempfile.TemporaryDirectory() as folder, opened(EACH) as on:
        for number, (make, lines) in enumerate(entries):
            file = Path(folder) / f"{number}.png"
            model = make()
            away = [body.name for body in model.bodies if body.where != "tank"]
            picture(set_stage(model, hide=away), to=file, size=EACH, labels=False, on=on)
            x = GAP + number % across * (EACH[0] + GAP)
            y = 3 * GAP + GAP // 2 + number // across * (EACH[1] + text + GAP)
            with Image.open(file) as drawn:
                page.paste(drawn.convert("RGB"), (x, y))
            for row, line in enumerate(lines):
                at = (x + 4, y + EACH[1] + 8 + row * LINE)
                ink = PAGE.ink if row == 0 else PAGE.soft_ink
                pen.text(at, line, fill=rgb(ink), font=font(19.0, bold=row == 0))
    with written(to) as partial:
        page.save(partial, format="PNG")
