"""Names of sizes as people write them, brought to the one way the catalogue spells them."""

from __future__ import annotations

import re
from functools import lru_cache
from typing import Final

__all__ = ["plain", "size_of", "spelled"]

_FRACTIONS: Final = {"¼": "1/4", "½": "1/2", "¾": "3/4", "⅜": "3/8", "⅛": "1/8", "⅝": "5/8", "⅞": "7/8"}
_INCH: Final = r'(?:in(?:ch(?:es)?)?\.?|"|”|″|\'\')'
_SIZE: Final = r"(\d+[- ]\d+/\d+|\d+/\d+|\d+)"
_METRIC: Final = r"(?:d ?(\d+)(?: ?mm)?|(\d+) ?mm)"
_SPELLINGS: Final = {
    section: [(re.compile(pattern), form) for pattern, form in rows]
    for section, rows in {
        "pipes": [
            (rf"{_SIZE} ?{_INCH} ?,? ?sch(?:edule)?\.? ?(\d+)", "{} in sch {}"),
            (rf"{_METRIC} ?,? ?pn ?(\d+)", "d{} pn {}"),
        ],
        "tubes": [
            (rf"{_SIZE} ?{_INCH}? ?[x×] ?{_SIZE} ?{_INCH}", "{} x {} in"),
            (r"(\d+) ?/ ?(\d+) ?mm", "{}/{} mm"),
            (rf"{_SIZE} ?{_INCH} ?flexible(?: hose)?", "{} in flexible"),
            (r"d ?(\d+)(?: ?mm)? ?flexible(?: hose)?", "d{} flexible"),
        ],
        "bulkheads": [(rf"{_SIZE} ?{_INCH} ?,? ?(\w+)", "{} in {}"), (r"d ?(\d+)(?: ?mm)?", "d{}")],
    }.items()
}
"""By section: how a name may be written, and how the catalogue spells what stands in its groups."""


@lru_cache(maxsize=4096)
def plain(text: str) -> str:
    """Lower case, single spaces, fractions as 3/4: the ground on which names are compared.

    >>> plain("  1½ IN  Sch 40")
    '1-1/2 in sch 40'
    """
    lowered = text.lower()
    for sign, written in _FRACTIONS.items():
        lowered = re.sub(rf"(\d)[ -]?{sign}", rf"\1-{written}", lowered).replace(sign, written)
    return " ".join(lowered.split())


@lru_cache(maxsize=4096)
def spelled(section: str, text: str) -> str:
    """Return a name as the catalogue spells those of a section; '' where it reads like none of them.

    >>> spelled("pipes", '1 1/4" sch40'), spelled("pipes", "D25 PN10")
    ('1-1/4 in sch 40', 'd25 pn 10')
    >>> spelled("tubes", "1/2x5/8in"), spelled("tubes", "12 / 16mm"), spelled("tubes", "D25 flexible hose")
    ('1/2 x 5/8 in', '12/16 mm', 'd25 flexible')
    >>> spelled("bulkheads", '1" Thin'), spelled("bulkheads", "D 32")
    ('1 in thin', 'd32')
    """
    written = plain(text)
    for pattern, form in _SPELLINGS.get(section, ()):
        if match := pattern.fullmatch(written):
            return form.format(*(group.replace(" ", "-") for group in match.groups() if group))
    return ""


def size_of(pipe: str) -> str:
    """Return the size in the catalogue's name of a pipe: '3/4 in', 'd25'; '' in none."""
    return pipe.rsplit(" ", 2)[0]
