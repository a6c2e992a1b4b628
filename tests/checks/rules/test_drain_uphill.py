"""Drains that climb again on their way down."""

import pytest

RULE = "drain-uphill"


@pytest.mark.parametrize("rise", [94, 150])
def test_the_depth_of_the_trap_is_measured(faulty, rise):
    (finding,) = faulty(RULE, rise=rise)
    assert (finding.severity, finding.parts) == ("fault", ("standpipe", "down"))
    assert finding.measured == pytest.approx(rise / 1000)
    assert finding.at[2] == pytest.approx(0.1 - 0.3)
    assert "and shuts off the air" in finding.message


HOLE = "hole: {panel: back, left: 300, bottom: 150, bulkhead: d32}"


@pytest.mark.parametrize(
    ("route", "measured"),
    [
        ("{back: 60}, {down: 200}, {front: 200}, {down: 100}, open", None),
        ("{back: 60}, {down: 200}, {left: 200}, open", None),  # level, and open at the side
        ("{back: 70}, {up: 200}, {left: 200}, open", 0.200),  # over the hole it comes from
    ],
)
def test_a_drain_without_sump_or_pump_is_judged_too(check, route, measured):
    run = f"down: {{kind: run, pipe: d32 pn 10, start: hole.outside, route: [{route}]}}"
    found = check(RULE, run, holes=HOLE, waterline=200)
    if measured is None:
        assert found == ()
    else:
        (finding,) = found
        assert finding.measured == pytest.approx(measured, abs=2e-3)  # bores of bulkhead and pipe differ
        assert "climbs" in finding.message


def test_a_pumped_run_may_climb(check):
    parts = """
pump: {kind: pump, model: small 600, outlet: d20 pn 16, at: {left: 100, front: 200, bottom: 0}}
riser: {kind: run, pipe: d20 pn 16, start: pump.outlet, route: [{up: 200}, {right: 100}, open]}"""
    assert check(RULE, parts) == ()


def test_a_drain_straight_down_through_the_floor_holds_no_trap(check):
    """Pipes end inside the bulkhead's sockets: that is no way down and up again."""
    parts = """
inside: {kind: run, pipe: d32 pn 10, start: hole.inside, route: [{up: 150}, open]}
below: {kind: run, pipe: d32 pn 10, start: hole.outside, route: [{down: 150}, {left: 80}, {down: 90}]}"""
    holes = "hole: {panel: bottom, left: 300, front: 200, bulkhead: d32}"
    assert check(RULE, parts, holes=holes, waterline=150) == ()


ONE = "one: {panel: back, left: 150, bottom: 300, bulkhead: d20}"
TWO = "two: {panel: back, left: 400, bottom: 300, bulkhead: d20}"
FALLS = "one_out: {PIPE, start: one.outside, route: [{back: 80}, {down: 200}, open]}\n"
DIPS = (
    "two_out: {PIPE, start: two.outside, route: [{back: 80}, {down: 250}, {right: 100}, {up: FIRST}, "
    "{right: 100}, {down: 300}, {right: 100}, {up: SECOND}, {right: 100}, {down: 300}, open]}\n"
)


@pytest.mark.parametrize(
    ("first", "second", "deepest", "z"), [(90, 150, 0.150, -0.160), (150, 90, 0.150, 0.050)]
)
def test_of_several_traps_the_deepest_is_told(check, first, second, deepest, z):
    """The first dip lies at 300 - 250 = 50 mm, the second 300 lower than the top of the first rise."""
    dips = DIPS.replace("FIRST", str(first)).replace("SECOND", str(second))
    told = [
        one for one in check(RULE, FALLS + dips, holes=f"{ONE}, {TWO}") if "down and then up" in one.message
    ]
    (trap,) = told  # the drain before it, that falls, is let be
    assert trap.measured == pytest.approx(deepest)
    assert trap.at[2] == pytest.approx(z)
    assert trap.parts == ("two_out",)
    assert "'two'" in trap.message
    assert "shuts off the air" in trap.message  # deeper than its bore
    assert trap.limit == 0.001


def test_each_drain_s_trap_is_told(check):
    """Two drains that dip alike, each in its own pipe."""
    dips = DIPS.replace("FIRST", "90").replace("SECOND", "100")
    other = dips.replace("two", "one").replace("right", "left")
    told = check(RULE, other + dips, holes=f"{ONE}, {TWO}")
    assert sorted(one.parts for one in told) == [("one_out",), ("two_out",)]
    assert [one.measured for one in told] == pytest.approx([0.100, 0.100])


def test_a_drain_that_climbs_tells_where_its_top_is(check):
    """From a flush hole at 300 mm up to 380 and over: the top of the climb lies outside, behind the tank."""
    climbs = (
        "two_out: {PIPE, start: two.outside, route: [{back: 80}, {up: 80}, {back: 100}, {down: 200}, open]}\n"
    )
    (rise,) = [one for one in check(RULE, climbs, holes=TWO) if "climbs" in one.message]
    assert rise.at[2] == pytest.approx(0.380)
    assert rise.at[1] > 0.4
    assert rise.measured == pytest.approx(0.080, abs=0.002)
