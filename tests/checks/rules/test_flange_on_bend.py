"""Flat flanges on bent walls against what their gasket takes."""

from types import SimpleNamespace

import pytest
from made_outages import made_model

from layout3d.checks.rules import flange_on_bend as module


@pytest.mark.parametrize(("gap", "over"), [(0.0015, None), (0.0017, 0.0002), (0.0, None)])
def test_either_side_of_what_a_gasket_takes(monkeypatch, gap, over):
    hole = SimpleNamespace(name="hole", gap=gap, flange_diameter=0.06, at=(0.1, 0.2, 0.3))
    monkeypatch.setattr(module, "holes", lambda model: [(hole, SimpleNamespace(body="tank.wall"))])
    found = list(module.flanges_on_bends.find(made_model(gasket_over_bend=0.0015)))
    assert len(found) == (over is not None)
    for one in found:
        assert (one.severity, one.parts, one.at) == ("fault", ("tank.wall", "hole"), (0.1, 0.2, 0.3))
        assert (one.measured, one.limit) == (gap, 0.0015)
        assert one.message == (
            "the flange of hole, 60 mm wide, stands off tank.wall by 1.7 mm at its worst: 0.2 mm more than "
            "its gasket takes (limit gasket_over_bend)"
        )
