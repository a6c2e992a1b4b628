import pytest

from layout3d.band import Band
from layout3d.flow.air import STONE, AirLine, air_lines, air_pressure, highest_loop
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


def test_lines_of_air_are_read_off_a_scene(scene):
    """A pump at 100 mm, its tube over a top at 450 mm and down to 150 mm, under water at 300 mm."""
    parts = """
air:
  {kind: pump, model: air 100, air: true, outlet: 4/6 mm,
  at: {left: 650, front: 200, bottom: 100}, fixed_to: room}
line:
  kind: run
  tube: 4/6 mm
  start: air.outlet
  route: [{until: up, reach: [0, 0, 450]}, {left: 200}, {until: down, reach: [0, 0, 150]}, open]
"""
    model = scene(parts, waterline=300)
    (line,) = air_lines(model)
    assert (line.pump, line.run, line.water) == ("air", "line", "tank")
    assert line.depth == pytest.approx(0.150)
    assert line.top == pytest.approx(0.450)
    assert line.pump_height == model.ports["air.outlet"].at[2]
    assert line.below == pytest.approx(0.300 - line.pump_height)
    assert not line.check_valve
    assert not line.stone
    # 150 mm of water at 25 °C, 997.05 kg/m³; and the pump's 1.2 m at no flow
    assert line.pressure.likely == pytest.approx(997.05 * 9.80665 * 0.150, rel=1e-3)
    assert line.greatest == pytest.approx(997.05 * 9.80665 * 1.2, rel=1e-3)
    # an end over the water needs no pressure, and water siphons through none
    assert air_lines(scene(parts.replace("0, 150]", "0, 320]"), waterline=300)) == ()
