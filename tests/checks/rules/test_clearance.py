"""Distances that the scene asks for."""

import pytest

RULE = "clearance"


@pytest.mark.parametrize(
    ("apart", "severity", "measured"),
    [
        (97.2, None, None),
        (97.1, "fault", 0.0599),
        (37.3, "fault", 0.0001),
    ],
)
def test_either_side_of_each_limit(faulty, apart, severity, measured):
    """Two caps of 37.2 mm, 60 mm apart. A round solid is drawn within 0.01 mm."""
    found = faulty(RULE, apart=apart)
    if severity is None:
        assert found == ()
    else:
        (finding,) = found
        assert finding.severity == severity
        assert finding.measured == pytest.approx(measured, abs=1e-5)


TWO = """
one: {kind: light, size: [100, 100, 100], at: {left: 200, front: 200, bottom: 0}}
two: {kind: light, size: [100, 100, 100], at: {left: LEFT, front: 200, bottom: 0}}
"""


def ask(between, at_least=10):
    return f"clearances: [{{between: {between}, at_least: {at_least}}}]\n"


def test_parts_that_run_into_each_other_are_told_as_such(check):
    (finding,) = check(RULE, TWO.replace("LEFT", "270"), more=ask("[one, two]"))
    assert finding.measured == pytest.approx(-0.030)
    assert "one runs 30 mm into two: 40 mm short of 10 mm" in finding.message
    assert finding.remedy == "move one away from two by 40 mm"
    (turned,) = check(RULE, TWO.replace("LEFT", "270"), more=ask("[two, one]"))
    assert turned.remedy == "move two away from one by 40 mm"


def test_parts_that_touch_are_told_as_such(check):
    (finding,) = check(RULE, TWO.replace("LEFT", "300"), more=ask("[one, two]"))
    assert "one touches two" in finding.message


@pytest.mark.parametrize("between", ["[equipment, equipment]", "[two, equipment]", "[equipment, one]"])
def test_groups_are_held_against_each_other_but_no_part_against_itself(check, between):
    (finding,) = check(RULE, TWO.replace("LEFT", "305"), more=ask(between))
    assert set(finding.parts) == {"one", "two"}
    assert finding.measured == pytest.approx(0.005)


def test_of_many_pairs_the_nearest_is_told(check):
    three = TWO.replace("LEFT", "308") + "three: {kind: heater, at: {left: 200, front: 300, bottom: 0}}"
    (finding,) = check(RULE, three, more=ask("[equipment, equipment]", 50))
    assert finding.parts == ("one", "two")


@pytest.mark.parametrize(
    ("between", "why"),
    [
        ("[one, rock]", "nothing in the scene belongs to rock"),
        ("[one, one]", "one and one are joined, or one part"),
    ],
)
def test_an_entry_that_measures_nothing_is_told(check, between, why):
    (finding,) = check(RULE, TWO.replace("LEFT", "400"), more=ask(between))
    assert finding.severity == "warning"
    assert why in finding.message


def test_pieces_of_one_part_are_measured_where_the_entry_names_both(check):
    (finding,) = check(RULE, more=ask("[tank.left, tank.right]", 700))
    assert finding.measured == pytest.approx(0.600)


def test_a_pipe_through_a_hole_is_measured_beside_the_hole(check):
    """The pipe goes straight back from its bulkhead, then comes no nearer than 100 mm."""
    run = "run: {PIPE, start: hole.inside, route: [{front: 150}, open]}"
    holes = "hole: {panel: back, left: 300, bottom: 200, bulkhead: d20}"
    assert check(RULE, run, holes=holes, more=ask("[run, tank.back]", 50)) == ()
