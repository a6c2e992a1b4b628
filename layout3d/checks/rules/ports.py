"""Ends of runs at ports: whether they meet, in line, and are of one size and one system."""

from __future__ import annotations

import math
from collections.abc import Iterator

import numpy as np

from layout3d.catalog import Catalog, Pipe, Tube
from layout3d.checks.base import Finding, rule
from layout3d.checks.measure import judged, length, runs
from layout3d.errors import LayoutError, nearest
from layout3d.model.model import Model
from layout3d.parts.base import Port, Vector, vector
from layout3d.parts.run_data import RunData
from layout3d.units import show

__all__ = ["mates", "port_named", "ports_meet", "sizes_match"]

LEAST_STEP = 0.0002
"""Shorter steps than this are not told in a remedy, [m]: nobody saws finer."""


@rule(
    "ports-meet",
    asks="The end of a run meets the port it is meant for, in line with it.",
    limits=("port_gap", "port_angle"),
)
def ports_meet(model: Model) -> Iterator[Finding]:
    """Find ends that miss their port (`end_at`), or stand at an angle to it; and pipe put on bare pipe."""
    for name, run in runs(model):
        wanted = getattr(model.built[name].part, "end_at", "")
        if wanted:
            port = port_named(model, wanted)
            if port is None:
                yield _unknown(model, name, run, wanted)
            else:
                yield from _judge(model, name, run, port)
        start = model.ports.get(run.start_port)
        if start is not None and start.end == "open":
            yield _bare(name, start)


def _judge(model: Model, name: str, run: RunData, port: Port) -> Iterator[Finding]:
    """Judge the end of a run against its port: a pipe may stop at a socket's face, or at its bottom."""
    end = run.end_at
    seats = (port.at, vector(np.array(port.at) - port.depth * np.array(port.direction)))
    target = min(seats, key=lambda seat: math.dist(end, seat))
    away = math.dist(end, target)
    cosine = float(np.clip(-np.dot(run.end_direction, port.direction), -1.0, 1.0))
    angle = math.acos(cosine)
    parts = (name, port.name)
    misses = judged(
        model,
        away,
        "port_gap",
        most=True,
        parts=parts,
        at=end,
        says=f"the end of {name} misses {port.name} by {length(away)}",
        remedy=f"bring it {_way(end, target)}",
    )
    leans = judged(
        model,
        angle,
        "port_angle",
        most=True,
        kind="angle",
        parts=parts,
        at=end,
        says=f"the end of {name} meets {port.name} at {show(angle, 'angle')} to its axis",
        remedy="bring the last leg in line with the port",
    )
    yield from [*misses, *leans][:1]


def _way(here: Vector, there: Vector) -> str:
    """Return the way from one point to another in words: '40 mm right and 3 mm up'."""
    words = (("left", "right"), ("to the front", "to the back"), ("down", "up"))
    steps = [
        f"{length(abs(b - a))} {pair[b > a]}"
        for pair, a, b in zip(words, here, there, strict=True)
        if abs(b - a) > LEAST_STEP
    ]
    return " and ".join(steps) or "there"


def _unknown(model: Model, name: str, run: RunData, wanted: str) -> Finding:
    known = [port.removeprefix(f"{model.tank_name}.") for port in model.ports]
    named = f"; {nearest(wanted, known, most=12)}" if known else "; no part has a port"
    return Finding(
        parts=(name,),
        at=run.end_at,
        message=f"{name} is to end at {wanted}, but no port is called so{named}",
        remedy="name a port of a part, a bulkhead (hole.inside, hole.outside) or a tee",
    )


def _bare(name: str, start: Port) -> Finding:
    return Finding(
        parts=(name, start.name),
        at=start.at,
        message=f"{name} starts on the bare end {start.name}: nothing holds two ends of pipe together",
        remedy="make one run of the two, with a coupling or a union where they meet",
    )


def port_named(model: Model, name: str) -> Port | None:
    """Return a port by its full name or without the tank's, or None."""
    return model.ports.get(name) or model.ports.get(f"{model.tank_name}.{name}")


@rule("sizes-match", asks="Pipe, tube and port that join are of one size and one system.")
def sizes_match(model: Model) -> Iterator[Finding]:
    """Find ends whose size does not go with their port."""
    for name, run in runs(model):
        wanted_end = getattr(model.built[name].part, "end_at", "")
        ends = [(run.size, run.start_port), (run.end_size, run.end_port or wanted_end)]
        for size, port_name in ends:
            port = port_named(model, port_name) if port_name else None
            if port is None or mates(model.scene.catalog, size, port):
                continue
            yield Finding(
                parts=(name, port.name),
                at=port.at,
                message=f"{size} of {name} does not go {_into(port)} of {port.name}, made for {port.size}"
                + _outsides(model, size, port),
                remedy=f"{_use(model, port)} for {name}, {_other(model, port)}, or an adapter between",
            )


def _use(model: Model, port: Port) -> str:
    """Return what to write for a run that goes with a port: names that the scene's reader takes."""
    catalog = model.scene.catalog
    pipes = [name for name in catalog.names("pipes") if mates(catalog, name, port)]
    tubes = [name for name in catalog.names("tubes") if mates(catalog, name, port)]
    asked = [*(f"`pipe: {name}`" for name in pipes), *(f"`tube: {name}`" for name in tubes)]
    return f"use {' or '.join(asked[:3])}" if asked else f"use a size that goes with {port.size}"


def _other(model: Model, port: Port) -> str:
    kind = model.body(port.body).kind
    what = "bulkhead" if kind == "bulkhead" else "outlet" if kind == "pump" else kind.replace("_", " ")
    return f"{'an' if what[0] in 'aeiou' else 'a'} {what} of its size"


def mates(catalog: Catalog, size: str, port: Port) -> bool:
    """Tell whether a pipe or tube of this size goes with a port."""
    if port.size == size:
        return True
    if port.end == "barb":
        return False
    called = _size_of(catalog, size)
    return bool(called) and called in (port.size, _size_of(catalog, port.size))


def _size_of(catalog: Catalog, name: str) -> str:
    """Return the plain size of a pipe or hose ('3/4 in', 'd25'); '' for a tube, which goes into no socket."""
    try:
        return _called(catalog.pipe(name))
    except LayoutError:
        pass
    try:
        tube = catalog.tube(name)
    except LayoutError:
        return ""
    return _called(tube) if tube.kind == "hose" else ""


def _called(entry: Pipe | Tube) -> str:
    return f"{entry.size} in" if entry.family == "inch" else f"d{entry.size}"


def _into(port: Port) -> str:
    return {"barb": "over the barb", "socket": "into the socket"}.get(port.end, "onto the end")


def _outsides(model: Model, size: str, port: Port) -> str:
    """Return both outside diameters in brackets, where both are known and differ; else ''."""
    catalog = model.scene.catalog
    made_for = _size_of(catalog, port.size) or port.size
    outsides = []
    for called in (_size_of(catalog, size), made_for):
        of_size = [p for p in map(catalog.pipe, catalog.names("pipes")) if _called(p) == called]
        outsides += [of_size[0].outside_diameter] if of_size else []
    if len(outsides) != 2 or outsides[0] == outsides[1]:
        return ""
    own, other = outsides
    return f" ({length(own)} against {length(other)} outside)"
