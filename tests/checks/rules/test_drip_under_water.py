"""Drip holes under water, or just over it."""

import pytest

RULE = "drip-under-water"
HOLES = 200  # the pipe's middle at 210 mm less half of 20 mm, [mm]
BAR = """pump: {PUMP, outlet: d20 pn 16, at: {left: 80, back: 80, bottom: 0}}
bar: {PIPE, start: pump.outlet, route: [{until: up, reach: [0, 0, 210]},
  {right: 300, drip: {diameter: 2.5, pitch: 60, margin: 40}}, cap]}"""


@pytest.mark.parametrize(
    ("water", "severity"),
    [(-10.1, None), (-9.9, "warning"), (-0.1, "warning"), (0.1, "fault"), (60, "fault")],
)
def test_either_side_of_each_limit(check, water, severity):
    found = check(RULE, BAR, waterline=HOLES + water)
    if severity is None:
        assert found == ()
    else:
        (finding,) = found
        assert (finding.severity, finding.parts) == (severity, ("bar.pipe_2",))
        assert finding.measured == pytest.approx(-water / 1000, abs=1e-6)
        assert finding.message.startswith("3 of 3 drip holes of bar.pipe_2 ")


def test_of_a_bar_that_falls_the_holes_under_water_are_told(check):
    """60 mm apart at 2 %, each hole lies 1.2 mm lower: only the third has less than 10 mm under it."""
    (every,) = check(RULE, BAR.replace("{right: 300", "{right: 300, fall: 2 %"), waterline=HOLES)
    lowest = HOLES + 1000 * every.measured
    found = check(RULE, BAR.replace("{right: 300", "{right: 300, fall: 2 %"), waterline=lowest - 10 + 1.1)
    assert [finding.message[:6] for finding in found] == ["1 of 3"]


@pytest.mark.parametrize("count", [2, 3])
def test_a_siphon_break_belongs_just_under_the_water(check, count):
    """Up to two holes of a pipe that ends under water let air in; more are a bar."""
    way = BAR.replace("pitch: 60, margin: 40", f"pitch: 20, margin: 40, count: {count}")
    found = check(RULE, way.replace("cap]", "{down: 60}, open]"), waterline=HOLES + 5)
    assert [finding.severity for finding in found] == ([] if count == 2 else ["fault"])
    assert len(check(RULE, way, waterline=HOLES + 5)) == 1  # with a cap nothing siphons: a bar of two holes


def test_holes_that_no_pump_feeds_and_those_of_an_air_line_are_let_be(check):
    """A drain may draw in through holes, and air leaves by them under water."""
    drain = BAR.splitlines()[1:]
    loose = "\n".join(drain).replace("pump.outlet", "[80, 320, 100]")
    assert check(RULE, loose, waterline=250) == ()
