"""Whether pipe and port are of one size and one system: inch and metric sockets never mate."""

from __future__ import annotations

from collections.abc import Iterator

from layout3d.catalog import Catalog, Pipe, Tube
from layout3d.checks.base import Finding, rule
from layout3d.checks.measure import length, runs
from layout3d.checks.ports_meet import port_named
from layout3d.errors import LayoutError
from layout3d.model.model import Model
from layout3d.parts.base import Port

__all__ = ["mates", "sizes_match"]


@rule("sizes-match", asks="Pipe, tube and port that join are of one size and one system.")
def sizes_match(model: Model) -> Iterator[Finding]:
    """Find ends whose size does not go with their port."""
    for name, run in runs(model):
        wanted_end = model.built[name].part.end_at  # type: ignore[attr-defined] # a run
        ends = [(run.size, run.start_port), (run.end_size, run.end_port or wanted_end)]
        for size, port_name in ends:
            port = port_named(model, port_name) if port_name else None
            if port is None or mates(model.scene.catalog, size, port):
                continue
            yield Finding(
                rule="sizes-match",
                severity="fault",
                parts=(name, port.name),
                at=port.at,
                message=f"{size} of {name} does not go {_into(port)} of {port.name}, made for {port.size}"
                + _outsides(model, size, port),
                remedy=f"use {port.size} for {name}, another {'bulkhead' if port.depth else 'outlet'}, or an adapter",
            )


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
    catalog = model.scene.catalog
    try:
        own = catalog.pipe(size).outside_diameter
        other = next(
            p.outside_diameter for p in map(catalog.pipe, catalog.pipe_names()) if p.size == port.size
        )
    except (LayoutError, StopIteration):
        return ""
    return f" ({length(model, own)} against {length(model, other)} outside)"
