"""Words that the outage report, its JSON and its chart share: names of events, assumptions, cautions."""

from __future__ import annotations

from layout3d.model.model import Model
from layout3d.outage.fill_line import FillMark
from layout3d.outage.ledger import Event, Outages
from layout3d.report.flow_words import CHECK_VALVE, MAINS
from layout3d.units import show

__all__ = ["CAUTIONS", "assumptions", "event_words", "mark_words"]

FLOOD = (
    "Water: these levels are computed, and a flood does not read them. Not considered: leaks, splashes, what "
    "seeps along cables and roots, two failures at once, how fast it goes. A drain blocks sooner or later: "
    "give it a second one that carries the whole flow alone."
)
TEST = (
    "Test with the real plumbing, over a drain or outdoors: switch the pumps off, stop each drain, mark "
    "where the water comes to rest, before you trust it over a floor."
)
CAUTIONS = (FLOOD, MAINS, CHECK_VALVE, TEST)


def event_words(event: Event) -> str:
    """Return an event in words."""
    words = {
        "power cut": "power cut",
        "blocked drain": f"{event.subject} blocked",
        "pump stopped": f"{event.subject} stopped",
        "sock clogged": f"{event.subject} clogged",
        "lets go": f"{event.subject} lets go",
        "drain beside": f"{event.subject} ends beside the sump",
    }[event.kind]
    if event.kind == "blocked drain" and event.subject == "no drain":
        words = "no drain, pump running"
    return f"{words}, {event.devices}" if event.devices else words


def mark_words(mark: FillMark, style: str) -> str:
    """Return where the scene's mark lies in its band."""

    def length(value: float) -> str:
        return show(value, "length", system=style)

    if mark.running is None:
        return "there is no band for the scene's mark to lie in"
    low, high = mark.running
    if mark.holds:
        above, below = length(mark.mark - low), length(high - mark.mark)
        return f"the scene's mark lies {above} above the lowest and {below} below the highest"
    if mark.miss < 0.0:
        return f"the scene's mark lies {length(-mark.miss)} below the lowest ({mark.line.lowest_event})"
    return f"the scene's mark lies {length(mark.miss)} above the highest ({mark.line.highest_event})"


def assumptions(model: Model, found: Outages) -> tuple[str, ...]:
    """Return what was taken as given, so that a reader can judge the figures."""
    style, limit = model.scene.style, model.scene.catalog.limit
    days = limit("top_up_interval").value / 86400.0
    told = [
        "each failure alone, unnoticed, to its end; volumes exact, with all that stands in tank and sump",
        "the return chamber is filled to the scene's level while the pumps run; compartments before it stand "
        "over their baffles by the flow",
        "a mouth under water drains the tank to its lower edge; all water in return pipes out of both waters "
        "comes down; pumps let water back when stopped",
        f"fill line: {limit('sump_margin').value:.0%} more room than drains back (limit sump_margin), "
        f"{show(limit('water_cover').value, 'length', system=style)} over the inlet (limit water_cover), "
        f"{days:g} days between top-ups (limit top_up_interval); flow as at the scene's mark: filled higher, "
        "the pumps bring a little more and a little more drains back",
        "room open to the tank: under a lid far less evaporates than told",
    ]
    if found.circuit.socks:
        told.append("a clogged sock holds water to its rim; a clean one takes no head")
    return tuple(told)
