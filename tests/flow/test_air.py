import pytest

from layout3d.band import Band
from layout3d.errors import NoOperatingPoint, OutOfRange
from layout3d.flow.air import STONE, AirPump, air_flow, air_pressure, highest_loop
from layout3d.flow.water import water_at

PUMP = AirPump(flows=(0.0, 2e-5, 5e-5), pressures=(14000.0, 9000.0, 0.0), name="blower")


def test_a_metre_of_water_is_9789_pascal():
    """By hand: 998.207 kg/m³ x 9.80665 m/s² x 1 m at 20 °C."""
    band = air_pressure(1.0, stone=Band.exact(0.0), water=water_at(20.0))
    assert band.likely == pytest.approx(9789.1, abs=0.2)
    assert air_pressure(1.0, line_loss=200.0).high - air_pressure(1.0).high == pytest.approx(200.0)
    assert air_pressure(0.5).high - air_pressure(0.5).low == pytest.approx(STONE.high - STONE.low)


def test_flow_at_a_depth():
    assert air_flow(PUMP, 9000.0) == pytest.approx(2e-5)
    assert air_flow(PUMP, 14000.0) == 0.0
    assert air_flow(PUMP, 5000.0) > air_flow(PUMP, 6000.0)


def test_too_deep_is_refused_with_the_miss():
    with pytest.raises(
        NoOperatingPoint, match=r"blower makes at most 14 kPa and 15\.5 kPa is needed: 1\.5 kPa short"
    ):
        air_flow(PUMP, 15500.0)


def test_nothing_below_the_last_point():
    with pytest.raises(OutOfRange, match="not known below 3000 Pa"):
        air_flow(AirPump(flows=(0.0, 1e-5), pressures=(9000.0, 3000.0)), 100.0)


def test_the_line_loops_above_the_water():
    assert highest_loop(0.5, 0.2) == pytest.approx(0.55)
    assert highest_loop(0.5, 0.9) == 0.9


@pytest.mark.parametrize(
    ("flows", "pressures"),
    [
        ((0.0,), (1.0,)),
        ((0.1, 1.0), (2.0, 1.0)),
        ((0.0, 1.0), (1.0, 2.0)),
        ((0.0, 1.0), (1.0,)),
        ((0.0, 1.0), (1.0, -1.0)),
    ],
)
def test_bad_points_are_refused(flows, pressures):
    with pytest.raises(OutOfRange, match="points of air pump"):
        AirPump(flows=flows, pressures=pressures)
