"""Backgrounds that the water lifts off: ten litres of foam under water pull on their glue with 98 N."""

from __future__ import annotations

import numpy as np

from layout3d.checks.base import Finding, Findings, rule
from layout3d.checks.measure import judged, limit
from layout3d.hold.hold import holds
from layout3d.hold.lift import bound
from layout3d.model.model import Model
from layout3d.parts.background_data import BackgroundData
from layout3d.parts.base import Body, vector
from layout3d.units import show
from layout3d.water.mass import LIFT_CAUTION, lifts

ON_GLASS = 1e-5  # a face whose corners are so near to the pane lies on it, [m]


@rule(
    "background-bond",
    asks="What bonds a background to the glass bears its lift, for good.",
    caution=LIFT_CAUTION,
    limits=("bond_share", "bond_stress", "bond_stress_most"),
)
def background_bond(model: Model) -> Findings:
    """Find backgrounds whose lift is too much for the glass that they lie on, and those on none.

    Wood that is fixed to one lifts it too, with what is tied to it, as dry as it comes. What weighs on
    it is not set against that.
    """
    pulls = {pull.part: pull.net for pull in lifts(model)}
    for built in model.backgrounds:
        name = built.part.name
        names = {name, *(body.name for body in built.bodies)}
        tied = {
            group: hold.fixing_lift
            for hold in holds(model)
            if hold.fixing_lift > 0.0 and not names.isdisjoint(hold.fixed_to)
            for group in bound(model)
            if hold.part in group
        }
        up = pulls.get(name, 0.0) + sum(tied.values())
        if up <= 0.0:
            continue
        area = _on_glass(built.data, built.bodies)
        share = limit(model, "bond_share")
        with_it = " and ".join((name, *(part for group in tied for part in group)))
        weight = "they weigh" if tied else "it weighs"
        says = f"the water lifts {with_it} by {show(up, 'force')} more than {weight}"
        at = vector(max(built.bodies, key=lambda body: body.solid.volume).solid.centroid)
        if area <= 0.0:
            yield Finding(
                parts=(name,),
                measured=up,
                limit=0.0,
                unit="N",
                at=at,
                message=f"{says}, and nothing bonds it to the glass: an open gap is behind it",
                remedy="bed it on something that bonds (`bedding:`), or set it on the glass (`gap: 0`)",
            )
            continue
        yield from judged(
            model,
            up / (share * area),
            "bond_stress",
            "bond_stress_most",
            kind="pressure",
            most=True,
            parts=(name,),
            at=at,
            says=f"{says}: {show(up / (share * area), 'pressure')} on glue over {share:.0%} of the "
            f"{show(area, 'area')} that lie on the glass",
            remedy=f"bond more of {name}, make it of something heavier, or wedge it under a brace",
        )


def _on_glass(data: BackgroundData, bodies: tuple[Body, ...]) -> float:
    """Return how much of a background's back lies on the panes behind it, [m²]."""
    area = 0.0
    for panel in {slab.panel.name: slab.panel for slab in data.slabs}.values():
        for body in bodies:
            off = np.abs(panel.local(body.solid.vertices)[:, 2])
            faces = body.solid.faces[(off[body.solid.faces] <= ON_GLASS).all(axis=1)]
            a, b, c = body.solid.vertices[faces].transpose(1, 0, 2)
            area += float(np.linalg.norm(np.cross(b - a, c - a), axis=1).sum()) / 2.0
    return area
