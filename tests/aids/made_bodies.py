"""Bodies made by hand for the rules of fit: boxes between two corners, and what a rule asks of a model."""

from functools import partial
from types import SimpleNamespace

import numpy as np

from layout3d.model.model import Model
from layout3d.parts.base import Body, Join
from layout3d.solid.primitives import box
from layout3d.solid.shape import Placement

__all__ = ["made_body", "made_join", "with_bodies"]


def made_body(name, low, high, *, group="rock", kind="rock", where="tank", part=None, density=1000.0):
    """Return a box from one corner to the other, [mm]."""
    size = tuple((b - a) / 1000 for a, b in zip(low, high, strict=True))
    solid = box(size).solid(Placement.at(tuple(a / 1000 for a in low)))
    return Body(
        name=name,
        part=part or name.partition(".")[0],
        kind=kind,
        group=group,
        solid=solid,
        material="granite",
        density=density,
        where=where,
    )


def made_join(a, b, how="rests"):
    return Join(a=a, b=b, how=how)


def with_bodies(model, *bodies, joins=(), **parts):
    """Put bodies and joins into a model made by hand; ``parts`` are what a built part's own part has."""
    model.bodies, model.joins = bodies, joins
    model.bounds = np.array([body.solid.bounds for body in bodies]).reshape(-1, 2, 3)
    model.near, model.such = partial(Model.near, model), partial(Model.such, model)
    model.body = lambda name: next(one for one in bodies if one.name == name)
    model.bodies_of = lambda *names: tuple(
        one for one in bodies if {one.name, one.part, one.group} & {*names}
    )
    of_part = dict.fromkeys(one.part for one in bodies)
    model.built = {
        name: SimpleNamespace(
            part=SimpleNamespace(name=name, **parts.get(name, {})),
            bodies=[one for one in bodies if one.part == name],
        )
        for name in of_part
    }
    return model
