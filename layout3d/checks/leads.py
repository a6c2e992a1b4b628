"""Where water gets out of pipework: the openings that are reached from a port along runs that join on."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from layout3d.checks.measure import runs
from layout3d.checks.rules.ports_meet import port_named
from layout3d.model.model import Model
from layout3d.parts.base import Vector
from layout3d.parts.run_data import RunData

__all__ = ["Opening", "openings", "openings_of", "taken_ports"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Opening:
    """A way out of pipework: where it is, what it is in words, and the body it is in.

    ``valve`` is the closed valve before it, or ''.
    """

    at: Vector
    words: str
    body: str
    valve: str = ""


def taken_ports(model: Model) -> set[str]:
    """Return the full names of the ports that a run starts or ends at, or is meant to end at."""
    return {port for name, run in runs(model) for port in _ends(model, name, run) if port}


def openings(model: Model, port: str) -> tuple[Opening, ...]:
    """Return the openings of the runs that are reached from a port; empty where all ends are closed.

    A port at which the way goes on into equipment, or through the glass, counts as an opening.
    """
    found: list[Opening] = []
    seen_runs: set[str] = set()
    todo = [(port, "")]
    seen_ports = {port}
    while todo:
        here, valve = todo.pop()
        for name, run in runs(model):
            if name in seen_runs:
                continue
            entry = _entry(model, name, run, here)
            if entry is None:
                continue
            seen_runs.add(name)
            found += openings_of(model, name, entry=entry, valve=valve)
            for other, index in _ways_on(model, name, run):
                if other in seen_ports:
                    continue
                seen_ports.add(other)
                closed = valve or _closed_between(run, entry, index)
                if not _of_run(model, other):
                    at = model.ports[other].at
                    found.append(
                        Opening(
                            at=at, words=f"the way into {other}", body=model.ports[other].body, valve=closed
                        )
                    )
                todo.append((other, closed))
    return tuple(found)


def openings_of(model: Model, name: str, *, entry: int | None = None, valve: str = "") -> Iterator[Opening]:
    """Return the openings of one run: open ends, open branches of tees, drip holes.

    Parameters
    ----------
    entry : index of the element before which water comes in; None from the end nearer to a port
    valve : a closed valve that the water has passed already
    """
    data = model.built[name].data
    assert isinstance(data, RunData), "a run builds its data (openings_of)"
    elements, taken = data.elements, taken_ports(model)
    if entry is None:
        entry = len(elements) if data.end_port and not data.start_port else 0

    def opening(at: Vector, words: str, index: int) -> Opening:
        closed = valve or _closed_between(data, entry, index)
        return Opening(at=at, words=words, body=elements[min(index, len(elements) - 1)].body, valve=closed)

    if not data.start_port:
        yield opening(data.start, f"the start of {name}", 0)
    for index, element in enumerate(elements):
        for hole in element.holes:
            yield opening(hole.at, f"a drip hole of {element.body}", index)
        if element.branch and element.branch not in taken:
            yield opening(model.ports[element.branch].at, f"the branch {element.branch}", index)
    if data.end not in ("cap", "join") and not _end_taken(model, name, taken):
        yield opening(data.end_at, f"the end of {name}", len(elements))


def _end_taken(model: Model, name: str, taken: set[str]) -> bool:
    wanted = getattr(model.built[name].part, "end_at", "")
    return f"{name}.end" in taken or bool(wanted and port_named(model, wanted))


def _ends(model: Model, name: str, run: RunData) -> tuple[str, str]:
    """Return the full names of the ports at a run's start and end; '' where it has none."""
    wanted = getattr(model.built[name].part, "end_at", "")
    meant = port_named(model, wanted) if wanted else None
    return run.start_port, run.end_port or (meant.name if meant else "")


def _entry(model: Model, name: str, run: RunData, port: str) -> int | None:
    """Return the index of the element before which a port lets water into a run; None if it does not."""
    start, end = _ends(model, name, run)
    if port == start:
        return 0
    if port in (end, f"{name}.end"):
        return len(run.elements)
    for index, element in enumerate(run.elements):
        if port == element.branch:
            return index
    return None


def _ways_on(model: Model, name: str, run: RunData) -> Iterator[tuple[str, int]]:
    """Return the ports at which a run goes on, each with the index of its element."""
    start, end = _ends(model, name, run)
    if start:
        yield start, 0
    if end:
        yield end, len(run.elements)
    taken = taken_ports(model)
    if f"{name}.end" in taken:
        yield f"{name}.end", len(run.elements)
    for index, element in enumerate(run.elements):
        if element.branch in taken:
            yield element.branch, index


def _of_run(model: Model, port: str) -> bool:
    return model.built[port.split(".")[0]].part.kind == "run"


def _closed_between(run: RunData, entry: int, index: int) -> str:
    """Return the closed ball valve between two places of a run, or ''."""
    low, high = min(entry, index), max(entry, index)
    for element in run.elements[low:high]:
        if element.kind == "ball_valve" and element.opening == 0:
            return element.body
    return ""
