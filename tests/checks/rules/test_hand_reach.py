"""A hand to valves, unions and nuts of the finished tank."""

import pytest

RULE = "hand-reach"


@pytest.mark.parametrize(
    ("opening", "severity", "measured"),
    [(44.9, "fault", 0.0), (45.1, "warning", 0.045), (99.9, "warning", 0.089), (100.1, None, None)],
)
def test_either_side_of_a_hand_and_of_a_flat_one(faulty, opening, severity, measured):
    """100 mm for a hand, 45 mm for a flat one (limits hand_access); widths by steps of 11 mm between."""
    brace = 300 - opening / 2
    found = faulty(RULE, brace=brace, left=brace / 2, right=600 - brace / 2)
    if severity is None:
        assert found == ()
    else:
        (finding,) = found
        assert finding.severity == severity
        assert finding.parts == ("riser.union_1",)
        assert finding.measured == pytest.approx(measured, abs=1e-9)


def test_a_valve_by_the_open_glass_is_in_reach(check):
    run = "riser: {PIPE, start: [300, 200, 150], route: [{up: 60}, ball_valve, {up: 60}, cap]}"
    assert check(RULE, run) == ()


def test_what_is_foamed_in_is_left_to_the_rule_on_that(check):
    wall = "wall: {kind: background, panels: [back], thickness: 120, relief: {form: flat}, embeds: [riser]}"
    run = "riser: {PIPE, start: [300, 350, 150], route: [{up: 60}, union, {up: 60}, cap]}"
    assert check(RULE, f"{wall}\n{run}") == ()
    assert check("buried-valve", f"{wall}\n{run}") != ()


def test_a_nut_below_a_tank_that_nothing_stands_under_is_in_reach(check):
    hole = "main: {panel: bottom, left: 300, front: 200, bulkhead: d32, flange: inside}"
    assert check(RULE, holes=hole) == ()
