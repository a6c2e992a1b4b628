"""The one typeface of all drawings, and how wide it sets a text: DejaVu Sans, which comes with matplotlib."""

from __future__ import annotations

from functools import cache, lru_cache
from importlib.util import find_spec
from pathlib import Path
from typing import Any

__all__ = ["CAPITAL", "FACE", "FAMILY", "face", "font_file", "shortened", "text_width", "wrapped"]

FAMILY = "DejaVu Sans"
FACE = "DejaVuSans"
CAPITAL = 1493 / 2048
"""Height of its capital letters in sizes of the face: the face's own table OS/2."""


@cache
def face() -> Any:
    """Return the face, as reportlab reads it; texts that it has no sign for are set as boxes."""
    from reportlab.pdfbase.ttfonts import TTFont

    return TTFont(FACE, str(font_file(FACE)))


def font_file(name: str) -> Path:
    """Return where a file of the typeface is."""
    # found without importing it: only ``draw`` may, and it takes half a second
    found = find_spec("matplotlib")
    origin = found.origin if found else None
    assert origin is not None, "matplotlib is a dependency (letters.font_file)"
    return Path(origin).parent / "mpl-data" / "fonts" / "ttf" / f"{name}.ttf"


@lru_cache(maxsize=4096)
def text_width(text: str, height: float) -> float:
    """Return how wide a text with capitals of this height is set, in the height's unit."""
    return float(face().stringWidth(text, height / CAPITAL))


def wrapped(text: str, width: float, height: float) -> list[str]:
    """Return a text broken at blanks into rows of at most ``width``; a longer word has a row of its own."""
    rows: list[str] = []
    for word in text.split():
        if rows and text_width(f"{rows[-1]} {word}", height) <= width:
            rows[-1] += f" {word}"
        else:
            rows.append(word)
    return rows


def shortened(text: str, width: float, height: float) -> str:
    """Return a text, or as much of it as ``width`` takes with an ellipsis."""
    if text_width(text, height) <= width:
        return text
    while text and text_width(f"{text}…", height) > width:
        text = text[:-1]
    return f"{text.rstrip()}…"
