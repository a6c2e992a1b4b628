"""Air pumps that water can run back into, and lines too deep for their pump."""

from types import SimpleNamespace

import pytest
from made_outages import band, judged, made_model

from layout3d.checks.rules import air_pump as module

RULE = "air-pump"
PARTS = """
air:
  {kind: pump, model: PUMP, air: true, outlet: 6/9 mm, at: {left: 650, front: 200, bottom: BOTTOM},
  fixed_to: room}
line:
  kind: run
  tube: 6/9 mm
  start: air.outlet
  route: [{until: up, reach: [0, 0, 450]}, VALVE{left: 200}, {until: down, reach: [0, 0, END]}, LAST]
"""


def found_for(check, *, pump="small 300", bottom=100, end=150, valve="", last="open"):
    text = PARTS.replace("PUMP", pump).replace("BOTTOM", str(bottom)).replace("END", str(end))
    text = text.replace("LAST", last)
    return check(RULE, text.replace("VALVE", valve), waterline=300)


def test_either_side_of_the_waterline(check):
    """Its outlet is 132.6 mm below the water when it stands at 100 mm: at 232.6 mm it is level with it."""
    (found,) = found_for(check)
    level = 100 + 1000 * (found.limit - found.measured)
    assert found_for(check, bottom=level + 0.1) == ()
    (below,) = found_for(check, bottom=level - 0.1)
    assert below.severity == "fault"
    assert below.limit == pytest.approx(0.300)


def test_a_check_valve_on_the_way_is_enough(check):
    assert found_for(check, valve="{left: 80}, check_valve, ") == ()


def test_a_line_that_ends_above_the_water_siphons_nothing(check):
    assert found_for(check, end=310) == ()


@pytest.mark.parametrize(("end", "severities"), [(60, ["warning"]), (-200, ["fault"])])
def test_depth_is_held_against_what_the_pump_makes(check, end, severities):
    """Hydrostatics, 9.8 kPa a metre, plus 0.5 to 4 kPa for a stone: 0.60 m of head is 5.9 kPa."""
    deep = "kind: tank, inside: [600, 400, 1200], glass: 10"
    text = PARTS.replace("PUMP", "small 300").replace("VALVE", "").replace("LAST", "air_stone")
    text = text.replace("BOTTOM", "900" if end < 0 else "320")
    level = 800 if end < 0 else 300
    text = text.replace("END", "60").replace("[0, 0, 450]", "[0, 0, 1100]")
    found = check(RULE, text, waterline=level, tank=deep)
    assert [one.severity for one in found] == severities
    assert found[0].unit == "Pa"
    assert found[0].measured == pytest.approx(0.60 * 997.3 * 9.80665, rel=1e-3)


def test_an_open_end_takes_its_depth_and_no_stone(check):
    """Hydrostatics: the 240 mm over it are 2.3 kPa; a clogged stone there takes 4 kPa more, over 5.9 kPa."""
    assert found_for(check, bottom=320, end=60) == ()
    (found,) = found_for(check, bottom=320, end=60, last="air_stone")
    assert found.severity == "warning"
    assert "with a clogged stone" in found.message
    assert "change the stone" in found.remedy


def test_no_water_is_counted_on_to_get_through_an_air_stone(check):
    text = PARTS.replace("air: true, ", "").replace("PUMP", "small 300").replace("VALVE", "")
    text = text.replace("BOTTOM", "320").replace("END", "60")
    (found,) = check(RULE, text.replace("LAST", "air_stone"), waterline=300)
    assert (found.severity, found.parts) == ("fault", ("line.air_stone_1",))
    assert "hangs on no air pump" in found.message
    assert check(RULE, text.replace("LAST", "open"), waterline=300) == ()


def test_an_air_stone_in_the_sand_is_buried(check):
    """The stone is 25 mm long and ends 10.8 mm over the end of its route less half a connector."""
    line = PARTS.replace("PUMP", "small 300").replace("VALVE", "").replace("BOTTOM", "320")
    sand = "sand: {kind: substrate, depth: 60}\n"
    deep, clear = (
        check("buried", sand + line.replace("END", end).replace("LAST", "air_stone"), waterline=300)
        for end in ("40", "100")
    )
    assert [(found.severity, found.parts) for found in deep] == [("fault", ("line.air_stone_1", "sand"))]
    assert "the air stone of line" in deep[0].message
    assert clear == ()


def line(*, pump=0.2, level=0.3, valve=False, needs=(3e3, 4e3, 5e3), makes=5e3, stone=True):
    return SimpleNamespace(
        pump="air",
        run="line",
        end=(0.1, 0.2, 0.1),
        water="tank",
        level=level,
        pump_height=pump,
        check_valve=valve,
        pressure=band(*needs),
        greatest=makes,
        stone=stone,
        depth=level - 0.1,
        below=level - pump,
    )


def judged_lines(monkeypatch, *lines, mouths=(), air=True):
    part = SimpleNamespace(mouths=mouths, pumps=(SimpleNamespace(air=False), SimpleNamespace(air=air)))
    return judged(
        monkeypatch,
        module,
        module.air_pumps,
        made_model(),
        pipework=lambda model: SimpleNamespace(parts=(part,)),
        air_lines=lambda model: lines,
        middle_of=lambda model, name: (9.0, 9.0, 9.0),
    )


@pytest.mark.parametrize(("pump", "valve", "count"), [(0.3, False, 0), (0.2999, False, 1), (0.2999, True, 0)])
def test_a_pump_below_the_water_wants_a_check_valve(monkeypatch, pump, valve, count):
    assert len(judged_lines(monkeypatch, line(pump=pump, valve=valve))) == count


def test_a_pump_below_the_water_is_told_in_full(monkeypatch):
    """100 mm below it; a loop 50 mm over the water is 150 higher than the pump."""
    (one,) = judged_lines(monkeypatch, line(), line(pump=0.4))
    assert (one.severity, one.parts, one.measured, one.limit) == ("fault", ("air", "line"), 0.2, 0.3)
    assert one.at == (9.0, 9.0, 9.0)
    assert one.message.startswith(
        "air has its outlet 100 mm below the water of tank that line ends in, and no"
    )
    assert one.remedy.startswith("set it 150 mm higher, or put a `check_valve` into line ")


@pytest.mark.parametrize(
    ("makes", "severity", "needed"),
    [(5e3, None, None), (4.9e3, "warning", 5e3), (4e3, "warning", 5e3), (3.9e3, "fault", 4e3)],
)
def test_what_a_line_needs_against_what_its_pump_makes(monkeypatch, makes, severity, needed):
    found = judged_lines(monkeypatch, line(pump=0.4, makes=makes))
    assert [(one.severity, one.measured, one.limit) for one in found] == (
        [(severity, makes, needed)] if severity else []
    )
    for one in found:
        assert (one.unit, one.at) == ("Pa", (0.1, 0.2, 0.1))
        assert ("with a clogged stone" in one.message) == (severity == "warning")
        assert f"air makes {makes / 1000:g} kPa at most" in one.message
        assert "clean or change the stone" in one.remedy
    bare = judged_lines(monkeypatch, line(pump=0.4, makes=makes, stone=False))
    assert not any("stone" in one.remedy for one in bare)


def test_a_stone_that_no_air_pump_feeds_lets_nothing_through(monkeypatch):
    stone = SimpleNamespace(
        kind="air_stone", body="line.stone", at=(1.0, 2.0, 3.0), words="the stone", part="line"
    )
    end = SimpleNamespace(kind="open")
    assert judged_lines(monkeypatch, mouths=(end, stone)) == []
    (one,) = judged_lines(monkeypatch, mouths=(end, stone), air=False)
    assert (one.parts, one.at) == (("line.stone",), (1.0, 2.0, 3.0))
