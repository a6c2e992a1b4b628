"""What stands in a bed, and has to have some of it under it before it is set."""

from __future__ import annotations

from layout3d.model.model import Model
from layout3d.parts.base import Body

__all__ = ["ON_FLOOR", "sunk_in"]

ON_FLOOR = 0.01  # what stands no higher over the tank's floor rests on it, or on a mat on it, [m]


def sunk_in(model: Model) -> dict[str, Body]:
    """Return, for each rock or wood that stands in a bed over the floor, its body that reaches lowest."""
    beds = {built.part.name for built in model.substrates}
    in_bed = {
        end.split(".")[0]
        for join in model.joins
        if join.how == "embedded" and {join.a.split(".")[0], join.b.split(".")[0]} & beds
        for end in (join.a, join.b)
    }
    lowest = {
        built.part.name: min(built.bodies, key=lambda body: float(body.solid.bounds[0, 2]))
        for built in model.of_kind("rock", "wood")
        if built.part.name in in_bed
    }
    return {name: body for name, body in lowest.items() if body.solid.bounds[0, 2] > ON_FLOOR}
