"""Water that runs too fast through pipework: noise, water hammer, and head thrown away."""

from __future__ import annotations

from collections.abc import Iterator

from layout3d.checks.base import Finding, rule
from layout3d.checks.flow_at import between, middle_of
from layout3d.checks.measure import limit
from layout3d.flow.running import running
from layout3d.flow.running_data import Stretch
from layout3d.model.model import Model
from layout3d.units import show

__all__ = ["velocities"]


@rule(
    "flow-velocity",
    asks="Water in pressure pipe keeps below the speed at which it hammers and roars.",
    limits=("velocity_supply", "velocity_most"),
)
def velocities(model: Model) -> Iterator[Finding]:
    """Find the fastest element of each run, if it is too fast at likely losses."""
    fastest: dict[str, Stretch] = {}
    for stretch in running(model).stretches:
        known = fastest.get(stretch.part)
        if known is None or stretch.velocity.likely > known.velocity.likely:
            fastest[stretch.part] = stretch
    usual, most = limit(model, "velocity_supply"), limit(model, "velocity_most")
    for part, stretch in fastest.items():
        speed = stretch.velocity.likely
        if not speed > usual:
            continue
        name, bound = ("velocity_most", most) if speed > most else ("velocity_supply", usual)
        style = model.scene.style
        shown, wanted, over = (
            show(value, "speed", system=style, digits=2) for value in (speed, bound, speed - bound)
        )
        wide = stretch.bore * (speed / usual) ** 0.5
        yield Finding(
            rule="flow-velocity",
            severity="fault" if speed > most else "warning",
            parts=(part,) if part == stretch.body else (part, stretch.body),
            measured=speed,
            limit=bound,
            unit="m/s",
            at=middle_of(model, stretch.body),
            message=(
                f"water runs at {shown} ({between(model, stretch.velocity, 'speed')}) through "
                f"{stretch.body}: {over} over {wanted} (limit {name})"
            ),
            remedy=(
                f"use pipe of {show(wide, 'length', system=style, digits=3)} bore or more for {part}, part "
                "the flow, or run the pump slower"
            ),
        )
