"""Whether the ends of runs meet the ports that they are meant to join."""

from __future__ import annotations

import math

import numpy as np

from layout3d.checks.base import Finding, Findings, rule
from layout3d.checks.measure import judged, length, limit, port_named, runs
from layout3d.errors import nearest
from layout3d.model.model import Model
from layout3d.parts.base import Port, Vector, vector
from layout3d.parts.run_data import RunData
from layout3d.pipework.read import pipework
from layout3d.units import show

LEAST_STEP = 0.0002
"""Shorter steps than this are not told in a remedy, [m]: nobody saws finer."""
FACING = 0.98
"""Cosine to the opposite way within which an end faces a port, [-]: some 11 degrees."""


@rule(
    "ports-meet",
    asks="The end of a run meets the port it is meant for, in line with it, and stops just before no other.",
    limits=("port_gap", "port_angle", "port_near"),
)
def ports_meet(model: Model) -> Findings:
    """Find ends that miss their port (`end_at`), or stand at an angle to it; and pipe put on bare pipe."""
    for name, run in runs(model):
        wanted = getattr(model.built[name].part, "end_at", "")
        if wanted:
            port = port_named(model, wanted)
            if port is None:
                known = [port.removeprefix(f"{model.tank_name}.") for port in model.ports]
                named = f"; {nearest(wanted, known, most=12)}" if known else "; no part has a port"
                yield Finding(
                    parts=(name,),
                    at=run.end_at,
                    message=f"{name} is to end at {wanted}, but no port is called so{named}",
                    remedy="name a port of a part, a bulkhead (hole.inside, hole.outside) or a tee",
                )
            else:
                yield from _judge(model, name, run, port)
        start = model.ports.get(run.start_port)
        if start is not None and start.end == "open":
            yield Finding(
                parts=(name, start.name),
                at=start.at,
                message=f"{name} starts on the bare end {start.name}: nothing holds two ends of pipe "
                "together",
                remedy="make one run of the two, with a coupling or a union where they meet",
            )
    yield from _short(model)


def _short(model: Model) -> Findings:
    """Find open ends that stop a little before a port which nothing joins: one of the two was moved."""
    most = limit(model, "port_near")
    mouths = pipework(model).mouths
    ports = [mouth for mouth in mouths if mouth.kind in ("bulkhead", "outlet") or mouth.branch]
    for end in mouths:
        told = getattr(model.built[end.part].part, "end_at", "")
        if end.kind != "open" or end.branch or told:
            continue
        facing = [port for port in ports if np.dot(end.direction, port.direction) < -FACING]
        port = min(facing, key=lambda port: math.dist(end.at, port.at), default=None)
        away = math.inf if port is None else math.dist(end.at, port.at)
        if port is not None and away <= most:
            yield Finding(
                severity="warning",
                parts=(end.part, port.part),
                measured=away,
                limit=most,
                at=end.at,
                message=f"{end.words} stops {length(away)} before {port.words}, and nothing joins that: no "
                "water is counted from one to the other",
                remedy="start the run at that port, end it there by `join:`, or bring it "
                + _way(end.at, port.at),
            )


def _judge(model: Model, name: str, run: RunData, port: Port) -> Findings:
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
