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
