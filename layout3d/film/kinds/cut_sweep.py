"""A cut that goes through the tank from its front glass to its back."""

from __future__ import annotations

from layout3d.film.frame import Frame, Setting, sequence_kind
from layout3d.units import show

EDGE = 0.002  # so far the cut stays away from the panes, [m]


@sequence_kind("cut", count=72)
def cut_sweep(setting: Setting) -> tuple[Frame, ...]:
    """Return frames of cuts square to y, all seen by one camera that shows the whole."""
    model = setting.model
    across = [y for _, y in model.tank.plan]
    low, high = min(across) + EDGE, max(across) - EDGE
    camera = setting.camera()
    depth = show(high - low + 2.0 * EDGE, "length", system=model.scene.style)
    caption = f"cut from the front glass to the back, {depth}"
    return tuple(
        Frame(camera=camera, cut=("y", low + (high - low) * share), caption=caption)
        for share in setting.shares()
    )
