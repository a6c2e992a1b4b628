"""Water that runs too fast through pipework: noise, water hammer, and head thrown away."""

from __future__ import annotations

from layout3d.checks.base import Finding, Findings, rule
from layout3d.checks.flow_words import between, middle_of
from layout3d.checks.measure import judged, limit
from layout3d.flow.result import Stretch
from layout3d.flow.running import running
from layout3d.model.model import Model
from layout3d.units import show


@rule(
    "flow-velocity",
    asks="Water in pressure pipe keeps below the speed at which it hammers and roars.",
    limits=("velocity_supply", "velocity_most", "velocity_mouth"),
)
def velocities(model: Model) -> Findings:
    """Find the fastest element of each run and mouths, if they are too fast at likely losses."""
    fastest: dict[str, Stretch] = {}
    flow = running(model)
    mouths = {stretch.link.start for stretch in flow.stretches if stretch.link.kind == "mouth"}
    for stretch in flow.stretches:
        link = stretch.link
        if link.kind == "mouth" or (link.end in mouths and link.length == 0.0):
            continue  # a nozzle is judged as the mouth that it is
        known = fastest.get(link.part)
        if known is None or stretch.velocity.likely > known.velocity.likely:
            fastest[link.part] = stretch
    usual, most = limit(model, "velocity_supply"), limit(model, "velocity_most")
    yield from _jets(model, {part for part, one in fastest.items() if one.velocity.likely > usual})
    for part, stretch in fastest.items():
        speed = stretch.velocity.likely
        if not speed > usual:
            continue
        link = stretch.link
        wide = link.bore * (speed / usual) ** 0.5
        yield from judged(
            model,
            speed,
            "velocity_most" if speed > most else "velocity_supply",
            most,
            most=True,
            kind="speed",
            digits=2,
            parts=(part,) if part == link.body else (part, link.body),
            at=middle_of(model, link.body),
            says=f"water runs at {show(speed, 'speed', digits=2)} ({between(stretch.velocity, 'speed')}) "
            f"through {link.body}",
            remedy=f"use pipe of {show(wide, 'length', digits=3)} bore or more for {part}, part the flow, or "
            "run the pump slower",
        )


def _jets(model: Model, told: set[str]) -> Findings:
    """Find mouths that throw their water too fast, but for those of runs that are told already."""
    bound = limit(model, "velocity_mouth")
    for out in running(model).outs:
        if out.velocity is None or out.part in told or not out.velocity.likely > bound:
            continue
        shown, wanted = (show(value, "speed", digits=2) for value in (out.velocity.likely, bound))
        yield Finding(
            severity="warning",
            parts=(out.part,),
            measured=out.velocity.likely,
            limit=bound,
            unit="m/s",
            at=middle_of(model, out.part),
            message=f"water leaves the {out.where} at {shown} ({between(out.velocity, 'speed')}), over "
            f"{wanted} (limit velocity_mouth, common practice)",
            remedy="use a wider mouth, part the flow, or run the pump slower",
        )
