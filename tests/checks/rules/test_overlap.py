"""Two parts in one place."""

import re
from types import SimpleNamespace

import numpy as np
import pytest
from made_bodies import made_body, made_join, with_bodies
from made_outages import made_model

from layout3d.checks.rules import overlap as module

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


def test_a_bulkhead_in_a_slab_is_not_moved_out_of_its_pane(check):
    """Along the pane the slab ends nowhere nearer than the pane does."""
    wall = "wall: {kind: background, panels: [back], thickness: 60, relief: {form: flat}}"
    hole = "one: {panel: back, left: 300, bottom: 200, bulkhead: 1/2 in thin}"
    (finding,) = check(RULE, wall, holes=hole)
    assert "front" not in finding.remedy
    assert "embeds" in finding.remedy


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


def test_a_mat_under_a_background_is_to_be_cut_and_not_to_be_moved_up(check):
    wall = "wall: {kind: background, panels: [back], thickness: 60, relief: {form: flat}}"
    (finding,) = check(RULE, "mat: {kind: mat, thickness: 6}\n" + wall)
    assert finding.remedy.startswith("end mat before wall.back (`region:`)")


LIMITS = {"overlap_volume": 1e-9, "rest_gap": 0.0015}


def judged(*bodies, joins=(), holes=None, panels=None):
    """Run the rule over boxes in a tank without walls."""
    model = with_bodies(made_model(**LIMITS), *bodies, joins=joins)
    model.runs = ()
    model.tank.panels, model.tank.holes = panels or {}, holes or {}
    return list(module.overlaps.find(model))


def cube(name, left, *, size=100, **more):
    return made_body(name, (left, 0, 0), (left + size, size, size), **more)


def test_two_boxes_are_told_with_what_they_share():
    """20 by 100 by 100 mm are 0.2 L; the way out is 20 mm to the left."""
    (one,) = judged(cube("b", 80), cube("a", 0))
    assert (one.severity, one.parts, one.limit) == ("fault", ("a", "b"), 0.0)
    assert one.measured == pytest.approx(0.020)
    assert one.at == pytest.approx((0.09, 0.05, 0.05))
    assert one.message == "a and b share 200 mL, 20 mm deep"
    assert one.remedy == "move a at least 20 mm to the left, to free it of b"


@pytest.mark.parametrize(
    ("group", "moves", "still"), [("substrate", "b", "a"), ("rock", "a", "b"), ("background", "b", "a")]
)
def test_what_stays_is_not_what_a_remedy_moves(group, moves, still):
    (one,) = judged(cube("a", 0, group=group), cube("b", 80))
    assert one.remedy.startswith(f"move {moves} at least 20 mm to the ")
    assert f"to free it of {still}" in one.remedy
    assert ("or let a be made around it" in one.remedy) == (group == "background")
    for group in ("glass", "stand"):  # of two that stay, the sump moves
        (both,) = judged(cube("a", 0, group=group), cube("b", 80, group="sump"))
        assert both.remedy.startswith("move b ")
    (alike,) = judged(cube("a", 0, group="glass"), cube("b", 80, group="glass"))
    assert alike.remedy.startswith("move a ")


def test_a_seam_goes_with_its_pane_and_stands_alone_where_only_it_is_met():
    """One cause, one finding: a pump in the corner is in the pane and in the bead before it."""
    pane = made_body("tank.left", (-10, 0, 0), (0, 100, 100), group="glass", kind="panel")
    bead = made_body("tank.bead", (0, 0, 0), (6, 100, 6), group="glass", kind="silicone")
    (one,) = judged(pane, bead, cube("pump", -0.6))
    assert one.parts == ("pump", "tank.left")
    (seam,) = judged(pane, bead, cube("pump", 0.6))
    assert seam.parts == ("pump", "tank.bead")
    other = made_body("sump.bead", (0, 0, 0), (6, 100, 6), group="glass", kind="silicone")
    assert len(judged(pane, bead, other, cube("pump", -0.6), joins=(made_join("tank", "sump", "seal"),))) == 2


@pytest.mark.parametrize(("deep", "count"), [(1.4, 0), (1.6, 1)])
def test_what_rests_on_something_may_dip_in_by_the_rest_gap(deep, count):
    """And what is not joined to it may not."""
    a, b = cube("a", 0), cube("b", 100 - deep)
    assert len(judged(a, b, joins=(made_join("a", "b", "rests"),))) == count
    assert len(judged(a, b)) == 1


@pytest.mark.parametrize(
    ("how", "count"),
    [("socket", 0), ("barb", 0), ("hole", 0), ("seal", 0), ("embedded", 0), ("rests", 1), ("glued", 1)],
)
def test_only_some_joins_share_space(how, count):
    assert len(judged(cube("a", 0), cube("b", 50), joins=(made_join("a", "b", how),))) == count


def test_pieces_that_one_part_joined_by_itself_may_share_space():
    pieces = cube("a.one", 0), cube("a.two", 50)
    assert judged(*pieces, joins=(made_join("a.one", "a.two", "rests"),)) == []
    assert len(judged(*pieces)) == 1


def test_leaves_give_way_and_a_speck_is_none():
    assert judged(cube("a", 0), cube("b", 50, kind="foliage")) == []
    corner = made_body("b", (99.1, 99.1, 99.1), (200, 200, 200))
    assert judged(cube("a", 0), corner) == []  # 0.9³ mm³
    assert len(judged(cube("a", 0), made_body("b", (98.9, 98.9, 98.9), (200, 200, 200)))) == 1


@pytest.mark.parametrize(
    ("first", "second", "radius", "count"),
    [("back", "left", np.inf, 1), ("back", "back", 1.0, 1), ("back", "back", np.inf, 0)],
)
def test_bulkheads_in_two_panes_or_a_bent_one_may_meet(first, second, radius, count):
    """Joined to their glass both, they meet each other only where their panes lean together."""
    holes = {name: SimpleNamespace(panel=panel) for name, panel in (("one", first), ("two", second))}
    panels = {
        name: SimpleNamespace(radius=radius, body="", thickness=0.01, local=lambda points: points + 9.0)
        for name in ("back", "left")
    }
    bodies = [
        cube(f"tank.{name}", left, kind="bulkhead", group="plumbing")
        for name, left in (("one", 0), ("two", 80))
    ]
    joins = (made_join("tank.one", "tank.two", "hole"),)
    found = judged(*bodies, joins=joins, holes=holes, panels=panels)
    assert len(found) == count
    assert all(one.remedy.startswith("move one at least ") for one in found)
    other = cube("tank.two", 80, kind="elbow", group="plumbing")
    assert judged(bodies[0], other, joins=joins, holes=holes, panels=panels) == []


@pytest.mark.parametrize(("apart", "into"), [(0.02, None), (0.0199, 1e-4), (0.005, 0.015)])
def test_a_tube_turned_back_on_itself(apart, into):
    """A hairpin of legs 0.5 m long, 20 mm wide, that goes up, over and down between them."""
    path = ((0.0, 0.0, 0.0), (0.5, 0.0, 0.0), (0.5, 0.0, 0.1), (0.5, apart, 0.1), (0.5, apart, 0.0))
    path = (*path, (0.0, apart, 0.0))
    found = module._crosses_itself(SimpleNamespace(path=path, outside=0.02))
    if into is None:
        assert found is None
    else:
        assert found[0] == pytest.approx(into)
        assert found[1][1] == pytest.approx(apart / 2)


def test_the_way_between_two_segments_is_the_shortest():
    """Against points strewn along both, for any two and for parallel and meeting ones."""
    made = np.random.default_rng(3)
    a, b, c, d = (made.uniform(-1.0, 1.0, (40, 3)) for _ in range(4))
    d[:5] = c[:5] + 0.7 * (b[:5] - a[:5])  # parallel
    c[5:8], d[5:8] = b[5:8] + 0.1, b[5:8] + 0.3  # past an end
    distance, middle = module._between_segments(a, b, c, d)
    shares = np.linspace(0.0, 1.0, 201)[:, None]
    for n in range(len(a)):
        one, other = a[n] + shares * (b[n] - a[n]), c[n] + shares * (d[n] - c[n])
        apart = np.linalg.norm(one[:, None] - other[None], axis=2)
        i, k = np.unravel_index(apart.argmin(), apart.shape)
        assert apart.min() - 0.02 < distance[n] <= apart.min() + 1e-12
        if n >= 5:
            assert np.linalg.norm(middle[n] - (one[i] + other[k]) / 2) < 0.05
