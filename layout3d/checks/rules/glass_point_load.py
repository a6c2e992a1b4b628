"""Rock on the bare glass, against it, or on little sand over it: a hard point of a heavy stone cracks it."""

from __future__ import annotations

import numpy as np

from layout3d.checks.base import Findings, rule
from layout3d.checks.measure import judged, length, limit
from layout3d.hold.hold import FRAIL, HOLD_CAUTION, Hold, holds
from layout3d.model.model import Model
from layout3d.parts.base import Body, vector
from layout3d.units import show

POINT = 1e-6  # less than a square millimetre is told as a point, [m²]


@rule(
    "glass-point-load",
    asks="No rock lies on the bare glass or leans on it, nor lies a heavy one on little sand over it.",
    caution=HOLD_CAUTION,
    limits=("glass_point_load", "glass_point_load_most", "sand_under_rock"),
)
def glass_point_load(model: Model) -> Findings:
    """Find rock that presses on the bare glass, with all that lies on it, in the empty tank.

    By force, not by pressure: over how much of its foot a stone really bears, nobody knows. Sand lets a heavy
    stone down, and fish dig it away.
    """
    for hold in holds(model):
        rocks = [body for name in hold.parts for body in model.built[name].bodies if body.group == "rock"]
        if not rocks:
            continue
        panes = {name: force for name, force in hold.leans.items() if model.body(name).group not in FRAIL}
        for pane, force in panes.items():
            yield from judged(
                model,
                force,
                "glass_point_load",
                "glass_point_load_most",
                kind="force",
                most=True,
                parts=(*hold.parts, pane),
                at=hold.at,
                says=f"{hold.part} leans on {pane} with {show(force, 'force')}, on a point or two",
                remedy=f"set {hold.part} so that it stands by itself, off {pane}: turn it, or hold its foot "
                "by other stones",
            )
        if not hold.on_glass:
            yield from _on_sand(model, hold, rocks)
            continue
        area = hold.glass_area
        over = (
            "on a point"
            if area < POINT
            else f"over {show(area, 'area')} at most, {show(hold.on_glass / area, 'pressure')} on the mean"
        )
        yield from judged(
            model,
            hold.on_glass,
            "glass_point_load",
            "glass_point_load_most",
            kind="force",
            most=True,
            parts=hold.parts,
            at=hold.at,
            says=f"{hold.part} presses on the bare glass with {show(hold.on_glass, 'force')} {over}",
            remedy=f"lay {hold.part} on a mat of foam or a plastic grid (kind mat)",
        )


def _on_sand(model: Model, hold: Hold, rocks: list[Body]) -> Findings:
    """Find a heavy rock with little sand and no mat between its lowest point and the glass."""
    load = sum(load for name, load in hold.loads.items() if model.body(name).kind == "substrate")
    if load <= limit(model, "glass_point_load_most"):
        return
    points = np.concatenate([body.solid.vertices for body in rocks])
    low = points[points[:, 2].argmin()]
    mats = [body.solid.bounds for body in model.bodies if body.kind == "mat" and body.where == "tank"]
    if any((box[0, :2] <= low[:2]).all() and (low[:2] <= box[1, :2]).all() for box in mats):
        return
    yield from judged(
        model,
        float(low[2]),
        "sand_under_rock",
        0.0,
        parts=hold.parts,
        at=vector(low),
        says=f"{hold.part} presses with {show(load, 'force', digits=2)} on {length(float(low[2]))} of sand "
        "over the bare glass",
        remedy=f"lay {hold.part} on a mat of foam or a plastic grid (kind mat)",
    )
