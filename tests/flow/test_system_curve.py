"""The line of what the pipework asks."""

from types import SimpleNamespace

import numpy as np
import pytest

from layout3d.errors import NoOperatingPoint, UnknownName
from layout3d.flow import system_curve as module
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


def test_the_line_is_traced_by_the_pump_s_speed_as_far_as_it_rises(monkeypatch):
    """Forty speeds up to 1.35 of 0.8; what does not lift, lifts no more than before or runs back is left "
    "out."""
    speeds = []

    def at_speeds(given):
        speeds.append(given["pump"])
        return SimpleNamespace(network=given["pump"])

    def solve(speed, *, setting, water, holds):
        assert (setting, holds) == ("likely", False)
        number = round(speed / (1.35 * 0.8) * 40)
        if number == 1:
            raise NoOperatingPoint("too slow")
        # the second is pushed back, the third stands still, the fifth has no head, the seventh gives less
        flow = {2: -1.0, 3: 0.0, 7: 5.0}.get(number, float(number))
        loss = None if number == 5 else -0.1 * number
        return SimpleNamespace(links={"pump": SimpleNamespace(flow=flow, loss=loss)})

    monkeypatch.setattr(module, "solve", solve)
    figures = module._traced(SimpleNamespace(at_speeds=at_speeds), "pump", 0.8, "likely", None)
    line = list(zip(figures[::2], figures[1::2], strict=True))
    assert speeds == pytest.approx([1.35 * 0.8 * step / 40 for step in range(1, 41)])
    assert [flow for flow, _ in line] == [4.0, 6.0, *map(float, range(8, 41))]
    assert [head for _, head in line] == pytest.approx([0.1 * flow for flow, _ in line])
