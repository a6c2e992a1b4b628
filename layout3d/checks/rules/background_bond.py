"""Backgrounds that the water lifts off, or that hang: ten litres of foam under water pull with 98 N."""

from __future__ import annotations

import numpy as np

from layout3d.checks.base import Finding, Findings, rule
from layout3d.checks.measure import judged, limit, stops
from layout3d.hold.hold import holds
from layout3d.hold.lift import bound
from layout3d.model.model import Model
from layout3d.parts.background import Background
from layout3d.parts.background_data import BackgroundData
from layout3d.parts.base import Body, Built, vector
from layout3d.units import GRAVITY, show
from layout3d.water.mass import LIFT_CAUTION, lifts

BEARS = ("substrate", "rock", "wood", "background")
"""Groups that bear a background from below."""
ON_GLASS = 1e-5  # a face whose corners are so near to the pane lies on it, [m]


@rule(
    "background-bond",
    asks="What bonds a background to the glass bears its lift, and its weight where it hangs, for good.",
    caution=LIFT_CAUTION,
    limits=("bond_share", "bond_stress", "bond_stress_most", "rest_gap"),
)
def background_bond(model: Model) -> Findings:
    """Find backgrounds whose pull is too much for the glass that they lie on, and those on none.

    Wood that is fixed to one lifts it too, with what is tied to it, as dry as it comes. What weighs on
    it is not set against that. One that ends over the floor, with nothing under it, hangs in the empty tank.
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
        with_it = " and ".join((name, *(part for group in tied for part in group)))
        weight = "they weigh" if tied else "it weighs"
        says = f"the water lifts {with_it} by {show(up, 'force')} more than {weight}"
        yield from _bond(model, built, up, says)
        if built.part.bottom > limit(model, "rest_gap") and not _borne(model, built.bodies):
            down = sum(body.mass for body in built.bodies) * GRAVITY
            says = f"{name} hangs over the floor by its bond, with {show(down, 'force')} of weight"
            yield from _bond(model, built, down, says, hangs=True)


def _bond(
    model: Model, built: Built[Background, BackgroundData], pull: float, says: str, *, hangs: bool = False
) -> Findings:
    """Find a pull, [N], that is too much for what bonds a background to the glass."""
    if pull <= 0.0:
        return
    name, area, share = built.part.name, _on_glass(built.data, built.bodies), limit(model, "bond_share")
    at = vector(max(built.bodies, key=lambda body: body.solid.volume).solid.centroid)
    if area <= 0.0:
        yield Finding(
            parts=(name,),
            measured=pull,
            limit=0.0,
            unit="N",
            at=at,
            message=f"{says}, and nothing bonds it to the glass: an open gap is behind it",
            remedy="bed it on something that bonds (`bedding:`), or set it on the glass (`gap: 0`)",
        )
        return
    yield from judged(
        model,
        pull / (share * area),
        "bond_stress",
        "bond_stress_most",
        kind="pressure",
        most=True,
        parts=(name,),
        at=at,
        says=f"{says}: {show(pull / (share * area), 'pressure')} on glue over {share:.0%} of the "
        f"{show(area, 'area')} that lie on the glass",
        remedy=f"bond more of {name}, "
        + (
            "let it stand on the floor or be lighter"
            if hangs
            else "make it of something heavier, or wedge it under a brace"
        ),
    )


def _borne(model: Model, bodies: tuple[Body, ...]) -> bool:
    """Tell whether a bed, a stone or another background stops a slab that is lowered a little."""
    most = limit(model, "rest_gap")
    for body in bodies:
        low, high = body.solid.bounds
        for other in model.near(vector(low - most), vector(high + most)):
            tied = getattr(model.built[other.part].part, "fixed_to", ())
            own = other.group not in BEARS or not {body.part, body.name}.isdisjoint({other.part, *tied})
            if not own and stops(other, body, most):
                return True
    return False


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
