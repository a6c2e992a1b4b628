"""What the tank stands on: how far the stand's top board and the frame under it sag, and the mat between."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from layout3d.checks.base import Finding, Findings, rule
from layout3d.checks.measure import judged, length, limit
from layout3d.model.model import Model
from layout3d.parts.base import Body, vector
from layout3d.parts.frame import Frame
from layout3d.parts.stand import Stand
from layout3d.units import GRAVITY, show
from layout3d.water.mass import masses

STIFF = {
    "plywood": "stiffness_plywood",
    "pine board": "stiffness_pine_board",
    "mdf": "stiffness_mdf",
    "steel": "stiffness_steel",
    "aluminium": "stiffness_aluminium",
}
"""The limit that tells how stiff a material is along its board or bar."""
SOFT = ("xps", "eps", "foam rubber", "rubber")
"""What evens out grit and warps under glass: common practice, no source."""


@dataclass(frozen=True, slots=True)
class Beam:
    """A board or bar on two supports: its ``section`` in words, ``span`` between which supports, [m].

    ``load`` lies evenly on it, [N/m]; ``inertia`` is its second moment of area, [m⁴].
    """

    body: Body
    section: str
    span: float
    between: str
    load: float
    inertia: float

    def sag(self, stiffness: float) -> float:
        """Return how far it sags, [m]; Timoshenko, Strength of Materials: 5 w l⁴ / 384 E I."""
        return 5.0 / 384.0 * self.load * self.span**4 / (stiffness * self.inertia)


@rule(
    "stand-sag",
    asks="The stand's top board, between its side boards or the rails of its frame, and these rails hardly "
    "sag under the filled tank, the frame's legs are far from buckling, and a soft mat lies on the board.",
    caution="Stand: only the sag of its top board and of its frame's rails is computed, of dry wood when it "
    "is new: under a lasting load it creeps to about twice that, and more where it gets wet; and the load at "
    "which straight legs buckle. Not considered: joints, screws and welds, side boards and posts, and what "
    "keeps the stand from folding sideways. Ask a joiner or an engineer.",
    limits=("board_sag", "board_sag_most", "leg_buckling", "leg_buckling_least", *STIFF.values()),
)
def stand_sag(model: Model) -> Findings:
    """Find boards and rails that sag, each on two supports; the tank's own stiffness is taken to be none.

    Posts hold the front edge alone, and are not counted.
    """
    for built in model.of_kind("stand"):
        part, top = built.part, model.body(f"{built.part.name}.top")
        assert isinstance(part, Stand), "a stand is one (stand_sag)"
        if part.mat == 0.0 or part.mat_material not in SOFT:
            yield Finding(
                severity="warning",
                parts=(f"{model.tank_name}.bottom",),  # apart from the sag, which a scene may accept
                at=vector(top.solid.centroid),
                message=f"{model.tank_name}.bottom lies on {top.name} "
                + ("without a mat" if part.mat == 0.0 else f"by a mat of {part.mat_material}, which is hard")
                + ": a grain of grit or a warp under it breaks the glass",
                remedy=f"lay a mat of {' or '.join(SOFT)} between them (`mat:`, `mat_material:`)",
            )
        stiff = {material: limit(model, name) for material, name in STIFF.items()}
        weighed = masses(model)
        mass = weighed.dry + weighed.water - weighed.parts[part.name] - weighed.groups.get("sump", 0.0)
        for beam in _beams(model, part, top, mass * GRAVITY):
            yield from _sags(model, beam, mass, stiff.get(beam.body.material))
        if part.frame is not None and part.frame.material in stiff:  # else told of its rails
            leg = model.body(f"{part.name}.leg_front_{part.frame.legs // 2 + 1}")
            yield from _buckles(model, part.frame, leg, mass * GRAVITY, stiff[part.frame.material])


def _beams(model: Model, part: Stand, top: Body, weight: float) -> Iterator[Beam]:
    """Yield what bears a weight, [N], that lies evenly on the top board; of bars alike, one in the middle."""
    low, high = top.solid.bounds
    whole, depth = (float(side) for side in (high - low)[:2])
    span, between, frame = whole - 2.0 * part.board, "the side boards", part.frame
    if frame is not None:
        bay, across, along = frame.spans(span, depth)
        rails = f"{length(frame.width)} x {length(frame.height)}"
        if frame.wall:
            rails += f" with walls of {length(frame.wall)}"
        front = model.body(f"{part.name}.rail_front")
        yield Beam(front, rails, along, "its legs", weight / 2.0 / whole, frame.inertia)
        middle = model.body(f"{part.name}.across_{frame.across // 2 + 1}")
        borne = weight / whole * (bay + frame.width) / depth
        yield Beam(middle, rails, across, "front and back rail", borne, frame.inertia)
        span, between = bay, "the rails across"
    # what is cut out of it for pipes is taken off its whole length alike
    inertia = top.solid.volume / (whole * part.board) * part.board**3 / 12.0
    yield Beam(top, length(part.board), span, between, weight / whole, inertia)


def _sags(model: Model, beam: Beam, mass: float, stiffness: float | None) -> Findings:
    if stiffness is None:
        yield Finding(
            parts=(beam.body.name,),
            message=f"how far {beam.body.name} sags could not be judged: how stiff {beam.body.material} is "
            "isn't known here",
            remedy=f"take one of {', '.join(STIFF)}, or ask who knows it and accept this (`accept:`)",
        )
        return
    sag, allowed = beam.sag(stiffness), limit(model, "board_sag") * beam.span
    more = (sag / allowed) ** (1.0 / 3.0)
    if beam.body.kind == "bar":
        remedy = f"take bars about {more:.2g} times as high, or more legs and rails across (`frame:`)"
    else:
        remedy = (
            "put a frame under it (`frame:`), or more rails across, or make the boards "
            + length(more * float(np.ptp(beam.body.solid.bounds[:, 2])))
            + " thick"
        )
    yield from judged(
        model,
        sag,
        allowed,
        limit(model, "board_sag_most") * beam.span,
        most=True,
        parts=(beam.body.name,),
        at=vector(beam.body.solid.centroid),
        says=f"{beam.body.name}, {beam.section} of {beam.body.material} with {length(beam.span)} between "
        f"{beam.between}, sags {length(sag)} under {show(mass, 'mass')}",
        told=" (limit board_sag)",
        remedy=remedy,
    )


def _buckles(model: Model, frame: Frame, leg: Body, weight: float, stiffness: float) -> Findings:
    """Find legs near buckling: Euler, held at the foot and free to sway above; Timoshenko, Elastic Stability.

    One between two others bears the most: its share of half the weight along a rail.
    """
    tall, borne = float(np.ptp(leg.solid.bounds[:, 2])), weight / 2.0 / (frame.legs - 1)
    buckles = np.pi**2 * stiffness * frame.least_inertia / (2.0 * tall) ** 2
    yield from judged(
        model,
        buckles / borne,
        "leg_buckling",
        "leg_buckling_least",
        kind="number",
        parts=(leg.name,),
        at=vector(leg.solid.centroid),
        says=f"{leg.name}, {length(tall)} tall, bears {show(borne, 'force')} and buckles at "
        f"{show(buckles, 'force')}, {buckles / borne:.2g} times that",
        remedy="take wider bars, more legs or a lower stand",
    )
