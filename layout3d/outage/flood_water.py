"""Power cut and blocked drain: what comes down into the sump, and what the pumps bring up.

Each is taken to its end. Left out: how long it takes, waves, water that clings to walls, moss and plants.
"""

from __future__ import annotations

from dataclasses import replace

from layout3d.band import SETTINGS, Band, Setting
from layout3d.flow.overflow import running_level, water_of_scene
from layout3d.outage.drain_back import Body, Path, drain_back
from layout3d.outage.failures import blocked_drain
from layout3d.outage.flood_books import Books
from layout3d.outage.flood_data import Event, Ledger, Outcome

__all__ = ["blocked_drains", "failed_power_cuts", "power_cut"]


def power_cut(
    books: Books, *, valves_hold: bool = True, breaks_open: bool = True, devices: str = ""
) -> Event:
    """Return what comes down when all pumps stop.

    Parameters
    ----------
    valves_hold, breaks_open : whether check valves close, and small holes of siphon breaks let air in
    devices : words for what fails
    """
    found = books.found
    outcomes: dict[Setting, Outcome] = {}
    for number, setting in enumerate(SETTINGS):
        display, sump = found.display(number), books.sump(number)
        paths = _paths(books, setting, display, valves_hold=valves_hold, breaks_open=breaks_open)
        rest = drain_back((display,), paths, sump)
        before = books.before(number)
        level = rest.levels[display.name]
        after = Ledger(
            tank=display.table.volume(level),
            sump=sump.table.volume(rest.sump_level),
            pipes=before.pipes - rest.contents,
            floor=rest.spilled,
        )
        outcomes[setting] = Outcome(
            before=before,
            after=after,
            tank_level=level,
            chamber_level=rest.sump_level,
            moved=rest.volume,
            ruled_by=rest.rules[display.name],
        )
    notes = []
    if any(drain.siphon_level < drain.crest for drain in found.drains):
        notes.append("high figure: a drain that runs full goes on as a siphon down to its mouth")
    return books.event("power cut", "", outcomes, devices=devices, notes=tuple(notes))


def failed_power_cuts(books: Books) -> tuple[Event, ...]:
    """Return the power cut with check valves that leak, with small breaks clogged, and with both."""
    valves = any(way.check_valves for way in books.found.returns)
    clogs = any(
        siphon.blocked_at < siphon.broken_at - 1e-6 for way in books.found.returns for siphon in way.siphons
    )
    events = []
    if valves:
        events.append(power_cut(books, valves_hold=False, devices="check valves fail"))
    if clogs:
        events.append(power_cut(books, breaks_open=False, devices="siphon breaks are clogged"))
    if valves and clogs:
        devices = "check valves fail and siphon breaks are clogged"
        events.append(power_cut(books, valves_hold=False, breaks_open=False, devices=devices))
    return tuple(events)


def _paths(
    books: Books, setting: Setting, display: Body, *, valves_hold: bool, breaks_open: bool
) -> tuple[Path, ...]:
    """Return the ways down as ``flow.drain_back`` takes them; what is in the pipes by itself."""
    found = books.found
    paths = []
    for drain in found.drains:
        stops = drain.siphon_level if setting == "high" else drain.crest
        # its mouth may lie over the rim: such a drain takes nothing
        stops = min(max(stops, found.tank.bottom), found.tank.top)
        paths.append(Path(name=drain.name, body=display.name, break_level=stops))
    for way in found.returns:
        for siphon in way.siphons:
            stops = siphon.broken_at if breaks_open else siphon.blocked_at
            paths.append(
                Path(
                    name=siphon.mouth.name,
                    body=display.name,
                    break_level=max(stops, found.tank.bottom),
                    check_valve=bool(siphon.check_valve) and valves_hold,
                )
            )
        held = valves_hold and bool(way.check_valves)
        paths.append(
            Path(
                name=f"pipes of {way.name}",
                body=display.name,
                break_level=display.level,
                contents=way.contents_held if held else way.contents,
            )
        )
    in_drains = found.drain_contents.at(setting)
    paths.append(Path(name="drains", body=display.name, break_level=display.level, contents=in_drains))
    return tuple(_named_apart(paths))


def blocked_drains(books: Books) -> tuple[Event, ...]:
    """Return what the pumps bring up with each drain blocked, where there are several, and with all."""
    drains = books.found.drains
    events = []
    if len(drains) > 1:
        for drain in drains:
            others = tuple(other for other in drains if other is not drain)
            emergency = None
            if books.found.flow is not None:
                emergency = running_level(
                    others, books.found.flow, water=water_of_scene(books.model), top=books.found.spill
                )
            events.append(_blocked(books, drain.name, emergency))
    subject = drains[0].name if len(drains) == 1 else "all drains" if drains else "no drain"
    return (*events, _blocked(books, subject, None))


def _blocked(books: Books, subject: str, emergency: Band | None) -> Event:
    found = books.found
    outcomes: dict[Setting, Outcome] = {}
    for number, setting in enumerate(SETTINGS):
        display, sump = found.display(number), books.sump(number)
        in_drains = found.drain_contents.at(setting)
        suction = max(found.suction, sump.table.bottom)
        level = None if emergency is None else max(emergency.at(setting), display.level)
        end = blocked_drain(display, sump, suction=suction, top_up=in_drains, emergency=level)
        before = books.before(number)
        after = Ledger(
            tank=display.table.volume(end.level),
            sump=before.sump + in_drains - end.moved,
            pipes=before.pipes - in_drains,
            floor=end.spilled,
        )
        outcomes[setting] = Outcome(
            before=before,
            after=after,
            tank_level=end.level,
            chamber_level=end.chamber_level,
            moved=end.moved,
            ruled_by=found.spill_words if end.spilled > 0.0 else "",
        )
    return books.event("blocked drain", subject, outcomes)


def _named_apart(paths: list[Path]) -> list[Path]:
    """Return the paths with those of one name numbered: two mouths of one run."""
    seen: dict[str, int] = {}
    found = []
    for path in paths:
        seen[path.name] = seen.get(path.name, 0) + 1
        count = seen[path.name]
        found.append(path if count == 1 else replace(path, name=f"{path.name} {count}"))
    return found
