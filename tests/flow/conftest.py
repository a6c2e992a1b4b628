"""Small scenes with plumbing, written in a few lines of YAML."""

from collections.abc import Callable
from pathlib import Path

import pytest

from layout3d.model.build import build_model
from layout3d.model.model import Model
from layout3d.scene.reader import read_scene

TANK = "kind: tank, inside: [1200, 500, 600], glass: 12"


def build(
    parts: str, *, waterline: object = 200, units: str = "mm", tank: str = TANK, more: str = ""
) -> Model:
    """Build a scene of a tank and parts, given as lines of YAML without indentation."""
    lines = "".join(f"  {line}\n" for line in parts.strip("\n").splitlines())
    text = f"format: 1\nunits: {units}\nwaterline: {waterline}\nparts:\n  tank: {{{tank}}}\n{lines}{more}"
    return build_model(read_scene(Path("made.yaml"), text=text))


def with_bar(
    *,
    speed: object = "70 %",
    hole: object = 2.5,
    opening: object = "60 %",
    riser: float = 300,
    level: float = 200,
    pump: str = "small 1000",
    angles: str = "[20 deg]",
    turn: str = "down: 150",
    more: str = "",
) -> Model:
    """Build a pump in the tank with a nozzle low on one branch and a drip bar on the other."""
    parts = f"""
pump:
  {{kind: pump, model: {pump}, speed: {speed}, outlet: d25 pn 10, at: {{left: 150, back: 120, bottom: 0}}}}
supply:
  kind: run
  pipe: d25 pn 10
  start: pump.outlet
  route:
    - up: {riser}
    - {{tee: right, name: split}}
    - up: 80
    - front: 100
    - {{ball_valve: {opening}, name: valve}}
    - front: 100
    - nozzle
bar:
  kind: run
  pipe: d25 pn 10
  start: supply.split
  route:
    - right: 100
    - {turn}
    - right: 600
      drip: {{diameter: {hole}, pitch: 25, margin: 40, angles: {angles}}}
    - cap
"""
    return build(parts, waterline=level, more=more)


@pytest.fixture(scope="session")
def scene() -> Callable[..., Model]:
    """Build a model from parts."""
    return build


@pytest.fixture(scope="session")
def bar_scene() -> Callable[..., Model]:
    """Build a model with a drip bar and a nozzle."""
    return with_bar
