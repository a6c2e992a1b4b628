"""Names of sizes as people write them, brought to the one way the catalogue spells them."""

from __future__ import annotations

import re
from typing import Final

__all__ = ["plain", "spelled_bulkhead", "spelled_pipe", "spelled_tube"]

_FRACTIONS: Final = {"¼": "1/4", "½": "1/2", "¾": "3/4", "⅜": "3/8", "⅛": "1/8", "⅝": "5/8", "⅞": "7/8"}
_INCH: Final = r'(?:in(?:ch(?:es)?)?\.?|"|”|″|\'\')'
_SIZE: Final = r"(\d+[- ]\d+/\d+|\d+/\d+|\d+)"
_INCH_PIPE: Final = re.compile(rf"{_SIZE} ?{_INCH} ?,? ?sch(?:edule)?\.? ?(\d+)")
_METRIC_PIPE: Final = re.compile(r"(?:d ?(\d+)(?: ?mm)?|(\d+) ?mm) ?,? ?pn ?(\d+)")
_INCH_TUBE: Final = re.compile(rf"{_SIZE} ?{_INCH}? ?[x×] ?{_SIZE} ?{_INCH}")
_METRIC_TUBE: Final = re.compile(r"(\d+) ?/ ?(\d+) ?mm")
_HOSE: Final = re.compile(rf"(?:{_SIZE} ?{_INCH}|d ?(\d+)(?: ?mm)?) ?flexible(?: hose)?")
_INCH_BULKHEAD: Final = re.compile(rf"{_SIZE} ?{_INCH} ?,? ?(\w+)")
_METRIC_BULKHEAD: Final = re.compile(r"d ?(\d+)(?: ?mm)?")


def plain(text: str) -> str:
    """Lower case, single spaces, fractions as 3/4: the ground on which names are compared.

    >>> plain("  1½ IN  Sch 40")
    '1-1/2 in sch 40'
    """
    lowered = text.lower()
    for sign, written in _FRACTIONS.items():
        lowered = re.sub(rf"(\d)[ -]?{sign}", rf"\1-{written}", lowered).replace(sign, written)
    return " ".join(lowered.split())


def _size(text: str) -> str:
    return text.replace(" ", "-")


def spelled_pipe(text: str) -> tuple[str, str]:
    """Return a pipe's name in the catalogue's spelling and its size; ('', '') where it reads like none.

    >>> spelled_pipe('1 1/4" sch40')
    ('1-1/4 in sch 40', '1-1/4 in')
    >>> spelled_pipe("D25 PN10")
    ('d25 pn 10', 'd25')
    """
    written = plain(text)
    if match := _INCH_PIPE.fullmatch(written):
        size = f"{_size(match[1])} in"
        return f"{size} sch {match[2]}", size
    if match := _METRIC_PIPE.fullmatch(written):
        size = f"d{match[1] or match[2]}"
        return f"{size} pn {match[3]}", size
    return "", ""


def spelled_tube(text: str) -> str:
    """Return a tube's name in the catalogue's spelling; '' where it reads like no tube's name.

    >>> spelled_tube("1/2x5/8in"), spelled_tube("12 / 16mm"), spelled_tube("D25 flexible hose")
    ('1/2 x 5/8 in', '12/16 mm', 'd25 flexible')
    """
    written = plain(text)
    if match := _INCH_TUBE.fullmatch(written):
        return f"{_size(match[1])} x {_size(match[2])} in"
    if match := _METRIC_TUBE.fullmatch(written):
        return f"{match[1]}/{match[2]} mm"
    if match := _HOSE.fullmatch(written):
        return f"{_size(match[1])} in flexible" if match[1] else f"d{match[2]} flexible"
    return ""


def spelled_bulkhead(text: str) -> str:
    """Return a bulkhead's name in the catalogue's spelling; '' where it reads like no bulkhead's name.

    >>> spelled_bulkhead('1" Thin'), spelled_bulkhead("D 32")
    ('1 in thin', 'd32')
    """
    written = plain(text)
    if match := _INCH_BULKHEAD.fullmatch(written):
        return f"{_size(match[1])} in {match[2]}"
    if match := _METRIC_BULKHEAD.fullmatch(written):
        return f"d{match[1]}"
    return ""
