"""Flow over weirs and rims, and the head over them for a flow. Free fall behind them.

Home overflows run at heads of 8 to 25 mm, below the range of every weir formula: there the answer is a band
of 20 % either way, and its note says why.
"""

from __future__ import annotations

import functools
import math
from dataclasses import dataclass

from layout3d.band import SETTINGS, Band, Setting
from layout3d.errors import NotPossible
from layout3d.flow.roots import root
from layout3d.guards import above_zero, finite, not_negative
from layout3d.keep import remembered
from layout3d.units import GRAVITY, show

__all__ = [
    "SLOT",
    "BroadWeir",
    "StandpipeRim",
    "Weir",
    "weir_flow",
    "weir_head",
]

FREE = math.sqrt(2.0 * GRAVITY)
SIMPLE = 1.84  # [m^0.5/s], Q = 1.84 b h^1.5, sharp crest. Francis 1883, as in handbooks (3.33 in feet)
LEAST_HEAD = 0.030  # [m]. Rehbock 1929 and Kindsvater and Carter 1957: valid from here
SMALL_HEAD = 0.025  # [m], up to which the wide band is told in full
WIDE, FINE = 0.20, 0.03  # shares of the flow: outside and inside the range. Common practice, no source
# 1.77 on the open width, coefficient 0.60; narrow slots were never calibrated. Common practice, no source
SLOT = Band.around((2.0 / 3.0) * 0.60 * FREE, WIDE, "narrow slots, 1.77 b h^1.5")
RIM = Band(low=1.70, likely=1.77, high=1.84, note="rim of a standpipe: handbook range")
BROAD = Band(low=1.50, likely=1.60, high=1.70, note="broad crest: handbook range")
RIM_ORIFICE = 0.60  # coefficient of a drowned rim. Handbook value
HIGHEST = 1.0  # [m] of head, as far as a flow is sought
# drowned, it gulps, and may start a siphon that carries much more: never counted on
DROWNED = "rim drowned: an orifice; it gulps, and a siphon may start"


@dataclass(frozen=True, slots=True, kw_only=True)
class BroadWeir:
    """A flat crest of ``width``, ``thickness`` in the direction of flow: a glass edge, a board."""

    width: float
    thickness: float

    def __post_init__(self) -> None:
        above_zero(self.width, "width of the weir", "m")
        above_zero(self.thickness, "thickness of the crest", "m")


@dataclass(frozen=True, slots=True, kw_only=True)
class StandpipeRim:
    """The open top of a vertical pipe, ``diameter`` inside, [m]; water comes from all sides."""

    diameter: float

    def __post_init__(self) -> None:
        above_zero(self.diameter, "diameter of the standpipe", "m")


Weir = BroadWeir | StandpipeRim


def weir_flow(weir: Weir, head: float) -> Band:
    """Flow over a weir.

    Parameters
    ----------
    weir : one of the kinds
    head : of still water over the crest, [m]; 0 or less gives no flow

    Returns
    -------
    Band, [m³/s]. Inside a formula's range 3 % or the spread of two formulas; outside 20 % either way, with
    the limit that is passed in the note.

    Sources
    -------
    Broad crest: handbook range, up to a sharp one's where it is thin. Rim: weir to where an orifice of
    coefficient 0.60 passes less.
    """
    finite(head, "head over the crest", "m")
    if head <= 0.0:
        return Band.exact(0.0, "no head over the crest")
    figures, note = _passed(weir, head)
    if note != DROWNED and head < LEAST_HEAD:
        note += f"; outside its range: head {show(head, 'length')} under {show(LEAST_HEAD, 'length')}"
    return Band(**figures, note=note)


def weir_head(weir: Weir, flow: float) -> Band:
    """Head over a weir that passes ``flow``: the inverse of :func:`weir_flow`.

    Parameters
    ----------
    weir : as in :func:`weir_flow`
    flow : [m³/s], 0 or more

    Returns
    -------
    Band, [m]: ``high`` is the head if the weir passes least, the figure to set freeboard by.

    Raises
    ------
    NotPossible : a flow that the weir can't pass with a metre of head; the message gives what it passes.
    """
    not_negative(flow, "flow over the weir", "m³/s")
    if flow == 0.0:
        return Band.exact(0.0, "no flow over the crest")
    heads: dict[Setting, float] = {}
    for setting in SETTINGS:
        most = weir_flow(weir, HIGHEST).at(setting)
        if most < flow:
            raise NotPossible(
                f"the overflow passes {show(most, 'flow')} at {show(HIGHEST, 'length')} of head ({setting} "
                f"figure), {show(flow - most, 'flow')} short of {show(flow, 'flow')}",
                remedy="make it wider, or pump less",
            )
        heads[setting] = remembered(
            "head over a weir", *(weir, flow, setting), make=functools.partial(_head, weir, flow, setting)
        )
    note = weir_flow(weir, heads["likely"]).note
    return Band(low=heads["high"], likely=heads["likely"], high=heads["low"], note=note)


def _head(weir: Weir, flow: float, setting: Setting) -> float:
    def over(head: float) -> float:
        return (_passed(weir, head)[0][setting] if head > 0.0 else 0.0) - flow

    return root(over, 0.0, HIGHEST)


def _share(head: float) -> float:
    """Return the share either way: wide to 25 mm of head, fine from 30 mm."""
    step = min(1.0, max(0.0, (head - SMALL_HEAD) / (LEAST_HEAD - SMALL_HEAD)))
    return WIDE + (FINE - WIDE) * step


def _passed(weir: Weir, head: float) -> tuple[dict[Setting, float], str]:
    """Return the flow under a head above 0, low, likely and high, and by what it is told."""
    return _broad(weir, head) if isinstance(weir, BroadWeir) else _rim(weir, head)


def _broad(weir: BroadWeir, head: float) -> tuple[dict[Setting, float], str]:
    unit = weir.width * head**1.5
    if weir.thickness >= 2.0 * head:
        low, high, basis = BROAD.low, BROAD.high, "broad crest, 1.5 to 1.7"
    else:
        low, high, basis = BROAD.low, SIMPLE, "between broad and sharp crest, 1.5 to 1.84"
    share = _share(head)
    likely = 0.5 * (low + high)
    return {
        "low": unit * min(low, likely * (1.0 - share)),
        "likely": unit * likely,
        "high": unit * max(high, likely * (1.0 + share)),
    }, basis


def _rim(weir: StandpipeRim, head: float) -> tuple[dict[Setting, float], str]:
    size = weir.diameter
    drowned = RIM_ORIFICE * 0.25 * math.pi * size**2 * FREE * math.sqrt(head)
    unit = math.pi * size * head**1.5
    share, basis = _share(head), "rim as a weir"
    if RIM.likely * unit >= drowned:
        share, basis = WIDE, DROWNED
    likely = min(RIM.likely * unit, drowned)
    low = min(min(RIM.low, RIM.likely * (1.0 - share)) * unit, (1.0 - share) * drowned)
    high = min(max(RIM.high, RIM.likely * (1.0 + share)) * unit, (1.0 + share) * drowned)
    return {"low": low, "likely": likely, "high": max(high, likely)}, basis
