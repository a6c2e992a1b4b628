"""Rock on the bare glass: one hard point under a heavy stone is what cracks a bottom."""

from __future__ import annotations

from collections.abc import Iterator

from layout3d.checks.base import Finding, rule
from layout3d.checks.measure import judged
from layout3d.hold.hold import HOLD_CAUTION, holds
from layout3d.model.model import Model
from layout3d.units import show

__all__ = ["glass_point_load"]

POINT = 1e-6  # less than a square millimetre is told as a point, [m²]


@rule(
    "glass-point-load",
    asks="No rock lies on the bare glass.",
    caution=HOLD_CAUTION,
    limits=("glass_point_load", "glass_point_load_most"),
)
def glass_point_load(model: Model) -> Iterator[Finding]:
    """Find rock that presses on the bare glass, with all that lies on it, in the empty tank.

    By force, not by pressure: over how much of its foot a stone really bears, nobody knows.
    """
    for hold in holds(model):
        rock = any(body.group == "rock" for name in hold.parts for body in model.built[name].bodies)
        if not rock or not hold.on_glass:
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
            remedy=f"lay {hold.part} on a mat of foam or a plastic grid (kind mat), or deep in sand",
        )
