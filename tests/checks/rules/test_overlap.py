"""Two parts in one place."""

import re

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


def test_a_speck_is_no_overlap(check):
    """A corner that dips in by a cube of under 1 mm (limit overlap_volume): nobody places truer."""
    two = "one: {kind: light, size: [100, 100, 100], at: [200, 200, 0]}\n\
two: {kind: light, size: [100, 100, 100], at: [AT]}"
    assert check(RULE, two.replace("AT", "299.4, 200, 98.5")) != ()
    assert check(RULE, two.replace("AT", "299.995, 200, 98.5")) == ()


def freed(check, scene, name, finding):
    """The move that a remedy tells, done: what is told to be free must be so."""
    told = re.search(
        rf"move {name} at least ([\d,.]+) mm (up|down|to the (?:left|right|front|back))", finding.remedy
    )
    assert told, finding.remedy
    way = {"up": (2, 1), "down": (2, -1), "to the left": (0, -1), "to the right": (0, 1)} | {
        "to the front": (1, -1),
        "to the back": (1, 1),
    }
    axis, sign = way[told[2]]
    at = [300.0, 200.0, 50.0]
    at[axis] += sign * float(told[1].replace(",", ""))
    return float(told[1].replace(",", "")), check(RULE, scene.replace("AT", str(at)))


def test_a_post_through_a_plate_is_told_the_way_out_not_the_plate_s_thickness(check):
    """A plate of 10 mm, 200 x 200, half way up a post 60 mm wide and 100 high: 50 mm up, and not 10."""
    scene = "post: {kind: filter_basket, size: [60, 60, 100], wall: 20, at: [300, 200, 0]}\n\
plate: {kind: light, size: [200, 200, 10], at: AT}"
    (finding,) = check(RULE, scene.replace("AT", "[300, 200, 50]"))
    way, left = freed(check, scene, "plate", finding)
    assert left == ()
    assert way == pytest.approx(50, abs=0.2)


def test_two_pipes_in_one_place_are_told_their_width_not_their_wall(check):
    """20 mm pipes across each other: the inside of a pipe is no way out."""
    scene = "one: {PIPE, start: AT, route: [{right: 200}, cap]}\n\
two: {PIPE, start: [400, 100, 50], route: [{back: 200}, cap]}"
    (finding,) = check(RULE, scene.replace("AT", "[300, 200, 50]"))
    way, left = freed(check, scene, "one", finding)
    assert left == ()
    assert way == pytest.approx(20, abs=0.2)


def test_a_pipe_through_a_pane_is_told_how_far_it_reaches_past_it(check):
    pipe = "one: {PIPE, start: [300, 300, 100], route: [{back: 150}, cap]}"
    (finding,) = [f for f in check(RULE, pipe) if "one.pipe_1" in f.parts]
    told = re.match(r"move one at least ([\d.]+) mm into the tank, off back", finding.remedy)
    assert told, finding.remedy
    assert 40 < float(told[1]) <= 50  # to y 450, less the cap
