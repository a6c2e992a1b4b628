"""The line of what the pipework asks."""

import numpy as np
import pytest

from layout3d.errors import UnknownName
from layout3d.flow.running import running
from layout3d.flow.system_curve import system_curve


@pytest.fixture(scope="module")
def model(bar_scene):
    return bar_scene()


@pytest.mark.parametrize("setting", ["low", "likely", "high"])
def test_it_passes_through_the_point_of_operation(model, setting):
    flows, heads = np.array(system_curve(model, "pump", setting)).T
    (pump,) = running(model).pumps
    asked = np.interp(pump.flow.likely, flows, heads)
    share = asked / pump.head.likely
    assert share == pytest.approx(1.0, abs=0.15)
    if setting == "likely":
        assert share == pytest.approx(1.0, abs=0.005)  # between points it is drawn straight


def test_it_rises_and_higher_losses_ask_for_more(model):
    low, likely, high = (
        np.array(system_curve(model, "pump", setting)) for setting in ("low", "likely", "high")
    )
    for line in (low, likely, high):
        assert (np.diff(line, axis=0) > 0).all()
    reach = np.linspace(max(low[0, 0], high[0, 0]), min(low[-1, 0], high[-1, 0]), 20)
    asked = [np.interp(reach, line[:, 0], line[:, 1]) for line in (low, likely, high)]
    assert (asked[0] < asked[1]).mean() > 0.5
    assert (asked[1] < asked[2]).mean() > 0.5


def test_it_starts_at_the_lift(scene):
    """A single open end: at no flow the pump has to lift the water to the mouth, and no more."""
    parts = """
pump: {kind: pump, model: small 1000, outlet: d20 pn 16, at: {left: 150, back: 120, bottom: 0}}
line: {kind: run, pipe: d20 pn 16, start: pump.outlet, route: [{up: 250}, {right: 200}, open]}
"""
    model = scene(parts)
    flow, head = system_curve(model, "pump")[0]
    lift = running(model).outs[0].height - 0.2
    assert lift < head < lift + 0.1
    assert flow < 0.5 * running(model).pumps[0].flow.likely


def test_an_unknown_pump_is_named(model):
    with pytest.raises(UnknownName, match="no pump 'pomp' lifts water"):
        system_curve(model, "pomp")
