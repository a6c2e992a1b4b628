"""Whether the ends of runs meet the ports that they are meant to join."""

from __future__ import annotations

import math
from collections.abc import Iterator

import numpy as np

from layout3d.checks.base import Finding, rule
from layout3d.checks.measure import length, limit, runs
from layout3d.model.model import Model
from layout3d.parts.base import Port, Vector

__all__ = ["port_named", "ports_meet"]


@rule("ports-meet", asks="The end of a run meets the port it is meant for, in line with it.")
def ports_meet(model: Model) -> Iterator[Finding]:
    """Find ends that miss their port (`end_at`), or stand at an angle to it."""
    for name, run in runs(model):
        wanted = model.built[name].part.end_at  # type: ignore[attr-defined] # a run
        if not wanted:
            continue
        port = port_named(model, wanted)
        if port is None:
            yield Finding(
                rule="ports-meet",
                severity="fault",
                parts=(name,),
                at=run.end_at,
                message=f"{name} is to end at {wanted}, but no port is called so",
                remedy="name a port of a part, a bulkhead (hole.inside, hole.outside) or a tee",
            )
            continue
        yield from _judge(model, name, run.end_at, run.end_direction, port)


def _judge(model: Model, name: str, end: Vector, direction: Vector, port: Port) -> Iterator[Finding]:
    away = math.dist(end, port.at)
    cosine = float(np.clip(-np.dot(direction, port.direction), -1.0, 1.0))
    angle = math.acos(cosine)
    most, most_angle = limit(model, "port_gap"), limit(model, "port_angle")
    if away > most:
        offset = ", ".join(
            f"{length(model, abs(b - a))} {'more' if b > a else 'less'} along {axis}"
            for axis, a, b in zip("xyz", end, port.at, strict=True)
            if abs(b - a) > 0.0005
        )
        yield Finding(
            rule="ports-meet",
            severity="fault",
            parts=(name, port.name),
            measured=away,
            limit=most,
            unit="m",
            at=end,
            message=f"the end of {name} misses {port.name} by {length(model, away)}",
            remedy=f"bring it there: {offset}",
        )
    elif angle > most_angle:
        yield Finding(
            rule="ports-meet",
            severity="fault",
            parts=(name, port.name),
            measured=angle,
            limit=most_angle,
            unit="rad",
            at=end,
            message=f"the end of {name} meets {port.name} at {math.degrees(angle):.1f} degrees to its axis",
            remedy="bring the last leg in line with the port",
        )


def port_named(model: Model, name: str) -> Port | None:
    """Return a port by its full name or without the tank's, or None."""
    return model.ports.get(name) or model.ports.get(f"{model.tank_name}.{name}")
