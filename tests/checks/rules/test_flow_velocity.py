"""Water that runs too fast through pipe."""

import pytest

RULE = "flow-velocity"


def test_the_speed_is_the_flow_over_the_bores_area(faulty):
    (found,) = faulty(RULE)
    assert found.severity == "fault"
    assert (found.limit, found.unit) == (3.0, "m/s")
    assert "riser" in found.parts


@pytest.mark.parametrize(("speed", "severity"), [("40 %", None), ("60 %", "warning"), ("100 %", "fault")])
def test_slower_pumps_are_judged_by_the_lower_limit(faulty, speed, severity):
    found = faulty(RULE, speed=speed)
    assert [one.severity for one in found] == ([severity] if severity else [])


def test_either_side_of_the_limit(check):
    """The limit is set to just over and just under what was found."""
    parts = """
pump: {kind: pump, model: small 1000, outlet: d20 pn 16, at: {left: 100, back: 120, bottom: 0}}
line: {kind: run, pipe: d20 pn 16, start: pump.outlet, route: [{up: 150}, {right: 150}, open]}
"""
    (found,) = check(RULE, parts, more="limits: {velocity_supply: 0.1 m/s}\n")
    for share, count in ((1.0001, 0), (0.9999, 1)):
        limit = f"limits: {{velocity_supply: {share * found.measured:.9f} m/s}}\n"
        assert len(check(RULE, parts, more=limit)) == count


def test_each_run_is_judged_by_itself_and_a_fitting_as_well_as_pipe(check):
    """The first run keeps below the limit; in the second a bush is as fast as the narrow pipe behind it.

    Its bore is 17.0 mm, 20 less twice 1.5 (DIN 8062); pipe that is wider by the root of the speeds' ratio has
    the area for the limit.
    """
    parts = """
slow_pump:
  {kind: pump, model: small 600, speed: 50 %, outlet: d25 pn 10, at: {left: 100, back: 120, bottom: 0}}
slow: {kind: run, pipe: d25 pn 10, start: slow_pump.outlet, route: [{up: 150}, {right: 150}, open]}
pump: {kind: pump, model: small 1000, outlet: d25 pn 10, at: {left: 300, back: 120, bottom: 0}}
line:
  {kind: run, pipe: d25 pn 10, start: pump.outlet, route: [{up: 150}, {reduce: d20 pn 16}, {up: 150}, open]}
"""
    model_limits = "limits: {velocity_supply: LIMIT m/s, velocity_mouth: 9 m/s}\n"
    everything = check(RULE, parts, more=model_limits.replace("LIMIT", "0.01"))
    speeds = {finding.parts[0]: finding.measured for finding in everything}
    between = 0.5 * (speeds["slow"] + speeds["line"])
    assert speeds["slow"] < between < speeds["line"]
    (found,) = check(RULE, parts, more=model_limits.replace("LIMIT", f"{between:.6f}"))
    assert found.parts == ("line", "line.reducing_bush_1")
    wide = 0.0170 * (found.measured / between) ** 0.5
    assert f"use pipe of {1000 * wide:.1f} mm bore" in found.remedy


def test_a_mouth_is_judged_by_its_own_limit_unless_its_run_is_told(check):
    """A nozzle of 0.6 of the bore throws 2.8 times as fast as the pipe before it runs."""
    parts = """
pump: {kind: pump, model: small 1000, outlet: d20 pn 16, at: {left: 100, back: 120, bottom: 0}}
line: {kind: run, pipe: d20 pn 16, start: pump.outlet, route: [{up: 150}, {right: 150}, nozzle]}
"""
    (jet,) = check(RULE, parts, more="limits: {velocity_mouth: 0.1 m/s, velocity_supply: 9 m/s}\n")
    (pipe,) = check(RULE, parts, more="limits: {velocity_mouth: 0.1 m/s, velocity_supply: 0.1 m/s}\n")
    assert jet.severity == "warning"
    assert (jet.limit, jet.unit, jet.parts) == (0.1, "m/s", ("line",))
    assert jet.measured == pytest.approx(pipe.measured / 0.6**2, rel=1e-6)
    assert "velocity_mouth" in jet.message
    assert pipe.parts[0] == "line"
    over = f"limits: {{velocity_mouth: {jet.measured * 1.0001:.9f} m/s, velocity_supply: 9 m/s}}\n"
    assert check(RULE, parts, more=over) == ()
