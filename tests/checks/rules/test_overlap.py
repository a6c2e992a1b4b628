"""Two parts in one place."""

import pytest

RULE = "overlap"


BOXES = """
one: {kind: light, size: [100, 100, 100], at: {left: 200, front: 200, bottom: 0}}
two: {kind: light, size: [100, 100, 100], at: {left: LEFT, front: 200, bottom: 0}, fixed_to: [FIX]}
"""


@pytest.mark.parametrize(("left", "depth"), [(300, []), (299.9, [0.0001]), (270, [0.030])])
def test_either_side_of_touching(check, left, depth):
    found = check(RULE, BOXES.replace("LEFT", str(left)).replace("FIX", ""))
    assert [f.measured for f in found] == pytest.approx(depth)


@pytest.mark.parametrize(("left", "count"), [(298.6, 0), (298.4, 1)])
def test_what_is_fixed_together_may_be_placed_into_each_other_a_little(check, left, count):
    """By as much as it may stand off: 1.5 mm (limit rest_gap)."""
    found = check(RULE, BOXES.replace("LEFT", str(left)).replace("FIX", "one"))
    assert len(found) == count


def test_a_part_inside_another_is_found(check):
    """A heater wholly within a stone: their surfaces do not meet."""
    stone = "stone: {kind: rock, detail: 400, size: [300, 300, 300], at: [300, 200, 0]}"
    (finding,) = check(RULE, f"{stone}\nrod: {{kind: heater, length: 80, at: [300, 200, 100]}}")
    assert finding.parts == ("rod", "stone")


def test_bulkheads_of_two_panes_meet_in_the_corner(check):
    """Both belong to the tank, whose own bodies are sealed to each other."""
    holes = "one: {panel: back, left: 25, bottom: 200, bulkhead: 1/2 in thin}, \
two: {panel: left, back: 25, bottom: 200, bulkhead: 1/2 in thin}"
    (finding,) = check(RULE, holes=holes)
    assert set(finding.parts) == {"tank.one", "tank.two"}
    assert finding.remedy.startswith("move one ")
    assert (
        check(
            RULE,
            holes=holes.replace(
                "bottom: 200, bulkhead: 1/2 in thin}, ", "bottom: 300, bulkhead: 1/2 in thin}, "
            ),
        )
        == ()
    )


@pytest.mark.parametrize(("rise", "count"), [(16, 0), (15, 1)])
def test_a_tube_may_pass_itself_but_not_run_through_itself(check, rise, count):
    """A loop of a tube 16 mm wide that comes back over its own start."""
    loop = f"""hose: {{TUBE, bend_radius: 40, start: [100, 200, 100], route: [{{right: 300}}, \
{{back: 100}}, {{by: [-100, 0, {rise}]}}, {{front: 250}}, open]}}"""
    found = check(RULE, loop)
    assert len(found) == count
    for finding in found:
        assert finding.parts == ("hose.tube_1",)
        assert finding.measured == pytest.approx(0.001, abs=2e-4)
        assert finding.at == pytest.approx((0.3, 0.2, 0.1075), abs=2e-3)


def test_a_bent_tube_does_not_run_into_itself(check):
    """A half turn of the least radius: its legs lie 192 mm apart."""
    hose = "hose: {TUBE, start: [100, 100, 50], route: [{up: 200}, {right: 192}, {down: 150}, open]}"
    assert check(RULE, hose) == ()


def test_runs_pieces_that_do_not_follow_each_other_are_held_apart(check):
    """Up, back and down again: the fifth piece runs through the first."""
    run = "run: {PIPE, start: [200, 200, 50], route: [{up: 200}, {right: 60}, {down: 100}, \
{left: 120}, cap]}"
    found = check(RULE, run)
    assert any({"run.pipe_1"} < set(f.parts) for f in found)
