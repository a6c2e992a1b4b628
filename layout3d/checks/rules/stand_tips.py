"""A narrow tank on a tall stand: whoever leans on it, or a child that climbs it, pulls it over."""

from __future__ import annotations

import numpy as np

from layout3d.checks.base import Findings, rule
from layout3d.checks.measure import judged
from layout3d.hold.balance import tip_angle
from layout3d.model.model import Model
from layout3d.parts.base import vector
from layout3d.units import show
from layout3d.water.mass import FOOT, masses


@rule(
    "stand-tips",
    asks="The stand with the filled tank stands broad enough not to be pulled over.",
    caution="Stand: it is taken to be rigid, and level on a hard floor. A carpet or a warp leans it, and the "
    "water that then runs to one side leans it more. Fix a tall one to the wall.",
    limits=("tip_angle", "tip_angle_least"),
)
def stand_tips(model: Model) -> Findings:
    """Find stands that tip with the filled tank over an edge of their foot; sumps, low down, are left out."""
    from shapely import Polygon

    weighed, middle = masses(model), Polygon(model.tank.plan).centroid
    for built in model.of_kind("stand"):
        name = built.part.name
        bodies = [body for body in model.bodies if body.part == name or body.where == "tank"]
        heavy = np.array([*(weighed.bodies[body.name] for body in bodies), weighed.water])
        water = (middle.x, middle.y, model.waterline / 2.0)
        centre = heavy @ np.array([*(body.solid.centroid for body in bodies), water]) / heavy.sum()
        points = np.concatenate([body.solid.vertices for body in built.bodies])
        angle = tip_angle(points[points[:, 2] <= points[:, 2].min() + FOOT], centre)
        yield from judged(
            model,
            angle,
            "tip_angle",
            "tip_angle_least",
            kind="angle",
            parts=(name, model.tank_name),
            at=vector(centre),
            says=f"{name} with the filled {model.tank_name} ({show(float(heavy.sum()), 'mass')}) tips over "
            f"at {show(angle, 'angle')}",
            remedy="make the stand lower or broader (`overhang:`), or fix it to the wall and accept this",
        )
