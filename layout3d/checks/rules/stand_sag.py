"""What the tank stands on: how far the stand's top board sags under it by itself, and the mat between."""

from __future__ import annotations

from layout3d.checks.base import Finding, Findings, rule
from layout3d.checks.measure import judged, length, limit
from layout3d.model.model import Model
from layout3d.parts.base import vector
from layout3d.parts.stand import Stand
from layout3d.units import GRAVITY, show
from layout3d.water.mass import masses

STIFF = {
    "plywood": "stiffness_plywood",
    "pine board": "stiffness_pine_board",
    "mdf": "stiffness_mdf",
}
"""The limit that tells how stiff a board of a material is."""
SOFT = ("xps", "eps", "foam rubber", "rubber")
"""What evens out grit and warps under glass: common practice, no source."""


@rule(
    "stand-sag",
    asks="The stand's top board alone, between its side boards, hardly sags under the filled tank, and a "
    "soft mat lies on it.",
    caution="Stand: only the sag of the top board is computed, in dry wood when it is new: under a lasting "
    "load it creeps to about twice that, and more where it gets wet. Not considered: joints and screws, side "
    "boards and posts, what keeps the stand from folding sideways, and whether it tips. Ask a joiner or an "
    "engineer.",
    limits=("board_sag", "board_sag_most", *STIFF.values()),
)
def stand_sag(model: Model) -> Findings:
    """Find top boards that sag: a beam on two supports under an even load; the tank's own stiffness is none.

    Posts hold the front edge alone, and are not counted. Timoshenko, Strength of Materials: 5 w l⁴ / 384 E I.
    """
    stiffness = {material: limit(model, name) for material, name in STIFF.items()}
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
        if top.material not in STIFF:
            yield Finding(
                parts=(top.name,),
                message=f"how far {top.name} sags could not be judged: how stiff {top.material} is isn't "
                "known here",
                remedy=f"take one of {', '.join(STIFF)}, or ask who knows it and accept this (`accept:`)",
            )
            continue
        whole = float(top.solid.bounds[1, 0] - top.solid.bounds[0, 0])
        span, weighed = whole - 2.0 * part.board, masses(model)
        mass = weighed.dry + weighed.water - weighed.parts[part.name] - weighed.groups.get("sump", 0.0)
        # what is cut out of it for pipes is taken off its whole length alike
        inertia = top.solid.volume / (whole * part.board) * part.board**3 / 12.0
        stiff = stiffness[top.material] * inertia
        sag = 5.0 / 384.0 * mass * GRAVITY / whole * span**4 / stiff
        thicker = part.board * (sag / (limit(model, "board_sag") * span)) ** (1.0 / 3.0)
        yield from judged(
            model,
            sag,
            limit(model, "board_sag") * span,
            limit(model, "board_sag_most") * span,
            most=True,
            parts=(top.name,),
            at=vector(top.solid.centroid),
            says=f"{top.name}, {length(part.board)} of {top.material} with {length(span)} between the side "
            f"boards, sags {length(sag)} by itself under {show(mass, 'mass')}",
            told=" (limit board_sag)",
            remedy=f"make the boards {length(thicker)} thick, or put a frame under the tank and accept this "
            "(`accept:`)",
        )
