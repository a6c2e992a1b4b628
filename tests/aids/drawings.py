"""What a drawing of the model holds."""

from __future__ import annotations

from collections.abc import Iterable

from layout3d.sheets.drawing import Dimension, Element, Text, drawn


def texts_of(elements: Iterable[Element]) -> list[Text]:
    """Return every text among elements, those of dimensions too."""
    texts = []
    for element in elements:
        if isinstance(element, Dimension):
            texts += [piece for piece in drawn(element) if isinstance(piece, Text)]
        elif isinstance(element, Text):
            texts.append(element)
    return texts
