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
