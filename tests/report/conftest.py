import pytest

from layout3d.model.build import build_model
from layout3d.model.model import Model
from layout3d.scene.reader import read_scene

BARE_TANK = """\
format: 1
units: mm
waterline: 180
parts:
  tank: {kind: tank, inside: [900, 450, 500], glass: 10}
"""


@pytest.fixture(scope="session")
def model() -> Model:
    return build_model(read_scene("bare.yaml", text=BARE_TANK))
