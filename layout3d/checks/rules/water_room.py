"""What fills a tank: slabs as deep as it is, and parts that leave next to no room for its water."""

from __future__ import annotations

import numpy as np

from layout3d.checks.base import Finding, Findings, rule
from layout3d.checks.measure import length, limit, missing
from layout3d.model.model import Model
from layout3d.solid.level import volume_below
from layout3d.units import show
from layout3d.water.cavity import tank_cavity
from layout3d.water.displaced import displaced
from layout3d.water.sump import overflow_box_water


@rule(
    "water-room",
    asks="A slab ends before the wall across from it, and the parts leave room for water.",
    limits=("water_left",),
)
def water_room(model: Model) -> Findings:
    """Find slabs that reach through the tank, else a waterline below which next to no water is left."""
    through = list(_through(model))
    yield from through
    level = model.waterline
    gross = float(volume_below(model.tank.interior, [level])[0])
    net = float(tank_cavity(model).net(level)[0]) + overflow_box_water(model)
    least = limit(model, "water_left")
    if through or gross <= 0.0 or not missing(net / gross, least):
        return
    taken = displaced(model).parts
    most = max(taken, key=lambda part: taken[part], default=model.tank_name)
    yield Finding(
        parts=(most,),
        measured=net / gross,
        limit=least,
        unit="1",
        at=model.tank.middle(model.waterline),
        message=f"the parts leave {show(net, 'volume')} of water below the waterline, {net / gross:.0%} of "
        f"the space: less than {least:.0%} (limit water_left); {most} takes most",
        remedy=f"make {most} smaller, or raise the waterline",
    )


def _through(model: Model) -> Findings:
    """Find slabs that reach as far as the wall across from theirs."""
    corners = np.array([[x, y, 0.0] for x, y in model.tank.plan])
    for built in model.backgrounds:
        for slab in built.data.slabs:
            deepest, across = float(np.nanmax(slab.front)), float(slab.panel.local(corners)[:, 2].max())
            if missing(deepest, across):
                continue
            yield Finding(
                parts=(built.part.name, slab.panel.body),
                measured=deepest,
                limit=across,
                at=slab.panel.at(slab.panel.length / 2, slab.panel.height / 2),
                message=f"{built.part.name} on {slab.panel.name} stands {length(deepest)} out of the glass "
                f"where the tank is {length(across)} deep: {length(deepest - across)} too far, and no room "
                "is left before it",
                remedy="lower its `thickness:`, its `gap:` or the depth of its relief",
            )
