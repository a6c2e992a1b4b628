"""Whether pipe and port are of one size and one system: inch and metric sockets never mate."""

from __future__ import annotations

from layout3d.catalog import Catalog, Pipe, Tube
from layout3d.checks.base import Finding, Findings, rule
from layout3d.checks.measure import length, port_named, runs
from layout3d.errors import LayoutError
from layout3d.model.model import Model
from layout3d.parts.base import Port


@rule("sizes-match", asks="Pipe, tube and port that join are of one size and one system.")
def sizes_match(model: Model) -> Findings:
    """Find ends whose size does not go with their port."""
    for name, run in runs(model):
        wanted_end = getattr(model.built[name].part, "end_at", "")
        ends = [(run.size, run.start_port), (run.end_size, run.end_port or wanted_end)]
        for size, port_name in ends:
            port = port_named(model, port_name) if port_name else None
            if port is None or mates(model.scene.catalog, size, port):
                continue
            into = {"barb": "over the barb", "socket": "into the socket"}.get(port.end, "onto the end")
            yield Finding(
                parts=(name, port.name),
                at=port.at,
                message=f"{size} of {name} does not go {into} of {port.name}, made for {port.size}"
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
