"""Fittings that are made for drains, on pipework that a pump presses water into."""

from __future__ import annotations

from layout3d.checks.base import Finding, Findings, rule
from layout3d.checks.measure import length, limit, missing
from layout3d.fittings.registry import fittings
from layout3d.model.model import Model
from layout3d.parts.base import vector
from layout3d.pipework.graph import PumpPort
from layout3d.pipework.read import pipework
from layout3d.pipework.waters import water_at_point

FLOOD = "A coupling that a pump blows off puts the pump's whole water on the floor, beside mains voltage."


@rule(
    "drain-only",
    asks="Fittings that are made for drains carry no pressure of a pump.",
    caution=FLOOD,
    limits=("drain_only_head",),
)
def drain_only(model: Model) -> Findings:
    """Find such fittings on a pump's pipework: a warning, and a fault where it can press more than they hold.

    Judged by the pump's shut-off head over the water it draws from: what stands there when an end clogs.
    """
    most = limit(model, "drain_only_head")
    for part in pipework(model).parts:
        levels = {pump.name: _pressed_to(model, pump) for pump in part.pumps if not pump.air}
        if not levels:
            continue
        pump = max(levels, key=levels.__getitem__)
        for edge in part.edges:
            made = fittings().get(edge.kind)
            if made is None or not made.drain_only:
                continue
            head = levels[pump] - min(point[2] for point in edge.points)
            over = missing(-head, -most)
            yield Finding(
                severity="fault" if over else "warning",
                parts=(edge.body, pump),
                measured=head,
                limit=most,
                at=vector(model.body(edge.body).solid.centroid),
                message=f"{edge.body} is made for drains, and {pump} can press {length(head)} of water on it "
                f"({f'{length(over)} over' if over else 'held to'} {length(most)}, limit drain_only_head)",
                remedy="use a union or a cemented coupling there",
            )


def _pressed_to(model: Model, pump: PumpPort) -> float:
    """Return the level to which a pump can press water with its ends shut, z [m]."""
    part = next(built.part for built in model.pumps if built.part.name == pump.name)
    found = water_at_point(model, pump.inlet)
    start = found[1] if found else pump.inlet[2]
    entry = model.scene.catalog.pump(part.model)
    return start + entry.shut_off_head * part.speed**2
