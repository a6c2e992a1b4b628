"""Openings below the waterline."""

import pytest

RULE = "plugged"


@pytest.mark.parametrize(
    ("level", "severity", "measured"),
    [
        ("7.25 in", None, None),
        ("7.26 in", "fault", 0.000254),
        ("12 in", "fault", 0.12065),
    ],
)
def test_either_side_of_each_limit(faulty, level, severity, measured):
    """A hole of 1 1/2 in with its middle at 8 in."""
    found = faulty(RULE, level=level)
    if severity is None:
        assert found == ()
    else:
        (finding,) = found
        assert finding.severity == severity
        assert finding.measured == pytest.approx(measured, abs=1e-6)


HOLE = "hole: {panel: back, left: 300, bottom: 150, bulkhead: d20}"
INSIDE = "run: {{PIPE, start: hole.inside, route: [{{front: 100}}, {route}]}}"


def test_a_hole_in_the_bottom_is_as_deep_as_the_water(check):
    (finding,) = check(
        RULE, holes="hole: {panel: bottom, left: 300, front: 200, diameter: 35}", waterline=250
    )
    assert finding.measured == pytest.approx(0.250)


@pytest.mark.parametrize("more", [", plugged: true", ""])
def test_a_plug_closes_it(check, more):
    assert len(check(RULE, holes=HOLE.replace("d20", f"d20{more}"), waterline=250)) == (0 if more else 1)


def test_a_plug_and_a_run_contradict_each_other(check):
    run = INSIDE.format(route="cap")
    (finding,) = check(RULE, run, holes=HOLE.replace("d20", "d20, plugged: true"))
    assert "is to be plugged, yet a run joins it at tank.hole.inside" in finding.message


@pytest.mark.parametrize(
    ("route", "severity"),
    [
        ("cap", None),
        ("open", "fault"),
        ("strainer", "fault"),
        ("{up: 80}, open", "fault"),  # ends at 230 mm under water of 250
        ("{up: 120}, open", "warning"),  # a standpipe over the water that leads nowhere
        ("{up: 150, drip: {diameter: 3, pitch: 20}}, cap", "fault"),
        ("{up: 60}, {tee: right}, {up: 60}, cap", "fault"),
        ("{up: 120}, {tee: right}, {up: 60}, cap", "warning"),
        ("{up: 60}, {ball_valve: 0 %}, {up: 70}, {front: 60}, {down: 60}, open", None),
    ],
)
def test_a_run_inside_is_followed_to_its_lowest_opening(check, route, severity):
    found = check(RULE, INSIDE.format(route=route), holes=HOLE, waterline=250)
    assert [f.severity for f in found] == ([severity] if severity else [])


def test_it_is_followed_from_run_to_run(check):
    """Through a tee's branch, into a second run that goes down again and ends open."""
    runs = (
        INSIDE.format(route="{up: 120}, {tee: right}, {up: 60}, cap")
        + """
more: {PIPE, start: run.tee_1, route: [{right: 60}, {down: 100}, END]}
"""
    )
    (finding,) = check(RULE, runs.replace("END", "open"), holes=HOLE, waterline=250)
    assert "the end of more" in finding.message
    assert finding.measured == pytest.approx(0.250 - 0.170)
    assert check(RULE, runs.replace("END", "cap"), holes=HOLE, waterline=250) == ()


@pytest.mark.parametrize(
    "end",
    [
        "start: hole.outside, route: [{back: 200}, cap]",
        "start: [300, 700, 150], route: [{front: 200}, open], end_at: hole.outside",
        "start: [300, 700, 150], route: [{front: 200}, open], end_at: tank.hole.outside",
    ],
)
def test_a_run_outside_leads_on(check, end):
    assert check(RULE, f"run: {{PIPE, {end}}}", holes=HOLE, waterline=250) == ()


def test_each_hole_is_judged_by_itself(check):
    """A plugged one, one over the water and one with a run outside stand before the one that leaks."""
    holes = (
        "shut: {panel: back, left: 100, bottom: 150, bulkhead: d20, plugged: true}, "
        "high: {panel: back, left: 200, bottom: 330, bulkhead: d20}, "
        "led: {panel: back, left: 300, bottom: 150, bulkhead: d20}, "
        "first: {panel: back, left: 400, bottom: 150, bulkhead: d20}, "
        "last: {panel: back, left: 500, bottom: 150, diameter: 30}"
    )
    run = "run: {PIPE, start: led.outside, route: [{back: 200}, cap]}"
    first, last = check(RULE, run, holes=holes, waterline=250)
    assert (first.parts, last.parts) == (("first",), ("last",))
    assert (first.limit, last.limit) == (0.0, 0.0)
    assert last.measured == pytest.approx(0.250 - 0.150 + 0.015)
    assert "the bulkhead in first leads nowhere" in first.message
    assert "last is open" in last.message


def test_a_standpipe_over_the_water_tells_how_far_it_may_rise(check):
    """It ends 20 mm over the water, straight up: water that rises so far gets in."""
    (finding,) = check(RULE, INSIDE.format(route="{up: 120}, open"), holes=HOLE, waterline=250)
    assert finding.measured == pytest.approx(-0.020)
    assert "rises 20 mm" in finding.message
    assert "to the sump or a drain" in finding.remedy
    (under,) = check(RULE, INSIDE.format(route="{up: 80}, open"), holes=HOLE, waterline=250)
    assert under.measured == pytest.approx(0.020)
    assert "20 mm below the waterline" in under.message
    assert "cap the run inside" in under.remedy


def test_a_pump_that_pumps_out_through_it_is_named(check):
    pump = "pump: {PUMP, outlet: d20 pn 16, at: {left: 300, front: 200, bottom: 0}}\n"
    run = (
        "run: {PIPE, start: pump.outlet, route: [{until: up, reach: hole.inside}, "
        "{until: back, reach: hole.inside}, {join: hole.inside}]}"
    )
    (finding,) = check(RULE, pump + run, holes=HOLE, waterline=250)
    assert "pump pumps water out through it" in finding.message


def test_the_lowest_of_several_openings_inside_rules(check):
    """A tee at 270 mm, 20 over the water, and past it an end at 190: the lower lets water in."""
    route = "{up: 120}, {tee: right}, {up: 60}, {front: 60}, {down: 140}, open"
    (finding,) = check(RULE, INSIDE.format(route=route), holes=HOLE, waterline=250)
    assert "the end of run" in finding.message
    assert (finding.severity, finding.limit) == ("fault", 0.0)
    assert finding.measured == pytest.approx(0.250 - 0.190)
    dry = "{up: 120}, {tee: right}, {up: 60}, open"
    (over,) = check(RULE, INSIDE.format(route=dry), holes=HOLE, waterline=250)
    assert "the branch run.tee_1" in over.message
    assert (over.severity, over.limit) == ("warning", 0.0)


def test_a_pump_elsewhere_pumps_nothing_out_through_it(check):
    """A pump of another run, and an air pump on this one, are none that bring water here."""
    pump = "pump: {PUMP, outlet: d20 pn 16, at: {left: 100, front: 200, bottom: 0}}\n"
    own = "own: {PIPE, start: pump.outlet, route: [{up: 100}, open]}\n"
    (finding,) = check(RULE, pump + own + INSIDE.format(route="{up: 120}, open"), holes=HOLE, waterline=250)
    assert "pumps water out" not in finding.message
    assert "rises 20 mm" in finding.message
