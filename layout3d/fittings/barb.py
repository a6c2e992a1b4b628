"""Connectors between two tubes, whose tails are barbs. Threads are left out.

Forms and lengths are common practice, no source; makers differ.
"""

from __future__ import annotations

from functools import lru_cache

from layout3d.fittings import hub as hubs
from layout3d.fittings.rings import BODY_SIDES, corners, turned
from layout3d.solid.shape import Shape

__all__ = ["connector_half", "connector_tail", "tube_connector"]

BORE_RATIO = 0.75  # 0.70 to 0.80 of the tube's bore. Common practice, no source


def connector_half(outside: float) -> float:
    """Return half the length of a tube connector's body, where its tubes end, [m]."""
    return 0.9 * outside


def connector_tail(inside: float) -> float:
    """Return how far a tube connector's tail goes into its tube, [m]."""
    return 1.2 * inside


@lru_cache(maxsize=256)
def tube_connector(outside: float, inside: float, closed: bool) -> Shape:
    """Return a straight body between two tubes (a valve in a tube, or its plug), along z around 0.

    Body 1.7 times the tube's outside, tails of 1.2 times its bore inside the tubes, bore 0.75 of the tube's:
    common practice, no source; makers differ.
    """
    radius, half = 0.85 * outside, connector_half(outside)
    tail, bore, neck = half + connector_tail(inside), BORE_RATIO * inside / 2.0, 0.49 * inside
    first = corners(BODY_SIDES, (neck, -tail), (neck, -half), (radius, -half), (radius, half))
    if closed:
        return turned([(0.0, -tail, 1), *first, (0.0, half, 1)])
    last, water = corners(BODY_SIDES, (neck, half), (neck, tail)), hubs.WATERWAY_SIDES
    return turned([(bore, -tail, water), *first, *last, (bore, tail, water)])
