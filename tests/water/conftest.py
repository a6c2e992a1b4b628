"""Tanks without silicone or braces, with bodies put in by hand: their figures have closed forms."""

from collections.abc import Callable, Sequence
from dataclasses import replace

import pytest
from plain_scenes import build_in_known_tank

from layout3d.model.model import Model
from layout3d.parts.base import Body
from layout3d.scene.reader import read_scene
from layout3d.solid.shape import Shape, Solid

TEXT = """
format: 1
units: mm
waterline: {waterline!r} m
conditions: {{water_temperature: 24 °C}}
parts:
  tank:
    kind: tank
    inside: [{length!r} m, {depth!r} m, {height!r} m]
    glass: 10
    silicone: 0
{more}"""


def make_model(
    bodies: Sequence[Body] = (),
    *,
    inside: tuple[float, float, float] = (1.0, 0.5, 0.6),
    waterline: float = 0.4,
    more: str = "",
) -> Model:
    length, depth, height = inside
    text = TEXT.format(length=length, depth=depth, height=height, waterline=waterline, more=more)
    model = build_in_known_tank(read_scene("hand.yaml", text=text))
    return replace(model, bodies=(*model.bodies, *bodies))


def overfilled(model: Model) -> Model:
    """Return the model with water 100 mm above the rim, which a scene file can't ask for."""
    return replace(model, scene=replace(model.scene, waterline=model.tank.height + 0.1))


def make_body(
    name: str,
    solid: Solid | Shape,
    *,
    density: float = 2700.0,
    porosity: float = 0.0,
    group: str = "rock",
    kind: str = "rock",
) -> Body:
    part = name.split(".")[0]
    placed = solid.solid() if isinstance(solid, Shape) else solid
    return Body(
        name=name,
        part=part,
        kind=kind,
        group=group,
        solid=placed,
        material="granite",
        density=density,
        porosity=porosity,
    )


@pytest.fixture(scope="session")
def model_of() -> Callable[..., Model]:
    return make_model


@pytest.fixture(scope="session")
def overfill() -> Callable[[Model], Model]:
    return overfilled


@pytest.fixture(scope="session")
def body_of() -> Callable[..., Body]:
    return make_body
