import pytest

from layout3d.band import Band
from layout3d.flow.air import STONE, AirLine, air_pressure, highest_loop
from layout3d.flow.water import water_at


def test_a_metre_of_water_is_9789_pascal():
    """By hand: 998.207 kg/m³ x 9.80665 m/s² x 1 m at 20 °C."""
    band = air_pressure(1.0, stone=Band.exact(0.0), water=water_at(20.0))
    assert band.likely == pytest.approx(9789.1, abs=0.2)
    stone = air_pressure(0.5, water=water_at(20.0))
    assert stone.high - stone.low == pytest.approx(STONE.high - STONE.low)


def test_the_line_loops_above_the_water():
    assert highest_loop(0.5, 0.2) == pytest.approx(0.55)
    assert highest_loop(0.5, 0.9) == 0.9


def test_an_end_is_as_deep_as_the_water_over_it():
    """The water at 400 mm, the end at 100, the pump at 350 mm: 300 mm deep, and the pump 50 mm below it."""
    line = AirLine(
        pump="air",
        run="line",
        end=(0.2, 0.3, 0.1),
        water="tank",
        level=0.4,
        pump_height=0.35,
        top=0.6,
        check_valve=False,
        pressure=Band.exact(3000.0),
        greatest=12000.0,
        stone=True,
    )
    assert line.depth == pytest.approx(0.3)
    assert line.below == pytest.approx(0.05)
