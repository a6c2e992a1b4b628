"""Falls: rigid pipe that leans in its sockets, as drains are laid; and new fittings in a route."""

import math

import numpy as np
import pytest

from layout3d.catalog import default
from layout3d.errors import SceneRefused
from layout3d.fittings.registry import fitting
from layout3d.solid.distance import overlap

CATALOG = default()
PIPE = "1-1/2 in sch 40"
START = [100, 300, 400]


def run(route, **more):
    return {"kind": "run", "pipe": PIPE, "start": START, "route": route, **more}


@pytest.fixture
def tank_with(built):
    def make(limits=None, **parts):
        return built(parts, **({"limits": limits} if limits else {}))

    return make


def drop(data):
    return data.start[2] - data.end_at[2]


@pytest.mark.parametrize("fall", ["1 %", 0.01, "1:100", "2 %", "1:80", "-1 %", "-1:80", "3 mm / 300 mm"])
def test_a_leg_falls_by_what_it_says(tank_with, fall):
    """A fall is drop over level length: 1:80 is 1.25 %."""
    share = {"1:100": 0.01, "1:80": 0.0125, "-1:80": -0.0125, "1 %": 0.01, "2 %": 0.02, "-1 %": -0.01}
    share = share.get(fall, 0.01)
    data = tank_with(run=run([{"right": 800, "fall": fall}])).built["run"].data
    level = data.end_at[0] - data.start[0]
    assert drop(data) / level == pytest.approx(share, rel=1e-9)
    assert math.dist(data.start, data.end_at) == pytest.approx(0.8, rel=1e-9)


def test_a_fall_until_a_point_reaches_as_far_as_the_point(tank_with):
    reach = [900, 300, 100]
    data = tank_with(run=run([{"until": "right", "reach": reach, "fall": "1:80"}])).built["run"].data
    assert data.end_at[0] == pytest.approx(0.9, abs=1e-12)
    assert drop(data) == pytest.approx(0.8 / 80, abs=1e-12)


@pytest.mark.parametrize("fall", ["1 %", "2 %", "-2 %"])
@pytest.mark.parametrize("way", ["right", "back"])
def test_a_drain_with_a_fall_has_elbows_that_stay_exact(tank_with, fall, way):
    """Down, along with a fall, down: elbows are square, both pipes lean by half of what the turn lacks."""
    model = tank_with(run=run([{"down": 150}, {way: 200, "fall": fall}, {"down": 150}]))
    elements = model.built["run"].data.elements
    assert [element.kind for element in elements] == ["pipe", "elbow_90", "pipe", "elbow_90", "pipe"]
    size = fitting("elbow_90").size(CATALOG, PIPE)
    for elbow, before, after in zip(elements[1::2], elements[::2], elements[2::2], strict=False):
        first, middle, last = (np.array(point) for point in elbow.path)
        assert np.linalg.norm(middle - first) == pytest.approx(size.take_off[0], abs=1e-9)
        assert np.dot(first - middle, last - middle) == pytest.approx(0.0, abs=1e-12)
        # pipes end where the sockets' bottoms are
        assert before.path[1] == pytest.approx(first, abs=1e-12)
        assert after.path[0] == pytest.approx(last, abs=1e-12)
        for pipe, socket in ((before, first - middle), (after, last - middle)):
            along = np.subtract(pipe.path[1], pipe.path[0])
            cosine = abs(np.dot(along, socket)) / np.linalg.norm(along) / np.linalg.norm(socket)
            assert math.degrees(math.acos(min(1.0, cosine))) <= 1.25


def test_without_a_fall_nothing_has_moved(tank_with):
    """Cut length is centre to centre less both take-offs, as pipe is cut by hand."""
    elements = tank_with(run=run([{"down": 150}, {"right": 200}, {"down": 150}])).built["run"].data.elements
    take_off = fitting("elbow_90").size(CATALOG, PIPE).take_off[0]
    assert elements[2].cut_length == pytest.approx(0.2 - 2 * take_off, abs=1e-12)
    assert elements[2].path[0][2] == pytest.approx(elements[2].path[1][2], abs=1e-12)


def test_drip_holes_follow_the_fall(tank_with):
    """Their heights differ by the fall times their distance."""
    drip = {"diameter": 2, "pitch": 50}
    route = [{"up": 100}, {"right": 600, "fall": "-1 %", "drip": drip}, "cap"]
    data = tank_with(run=run(route)).built["run"].data
    holes = next(element.holes for element in data.elements if element.holes)
    heights = np.array([hole.at[2] for hole in holes])
    places = np.array([hole.at[0] for hole in holes])
    assert len(holes) >= 8
    assert np.polyfit(places, heights, 1)[0] == pytest.approx(0.01, rel=0.05)
    assert np.all(np.diff(heights[np.argsort(places)]) > 0)


@pytest.mark.parametrize(
    ("route", "where", "says"),
    [
        ([{"down": 150}, {"right": 400, "fall": "4 %"}], "route[2]", "a turn of 87.7 degrees from down to"),
        ([{"right": 100}, {"right": 400, "fall": "1 %"}], "route[2]", "a turn of 0.6 degrees"),
        ([{"down": 150, "fall": "1 %"}], "route[1]", "fall"),
        ([{"right": 150, "fall": "1:2"}], "route[1]", "at most 25%"),
        ([{"until": "down", "reach": [0, 0, 0], "fall": "1 %"}], "route[1]", "a fall of a level leg"),
        ([{"right": 150, "fall": "steep"}], "route[1]", "steep"),
    ],
)
def test_a_fall_that_sockets_don_t_give_is_refused_with_the_number(tank_with, route, where, says):
    with pytest.raises(SceneRefused) as caught:
        tank_with(run=run(route))
    only = caught.value.mistakes[0]
    assert where in only.path
    assert says in f"{only.found} {only.expected}"


def test_a_scene_may_know_its_sockets_better(tank_with):
    route = [{"down": 150}, {"right": 400, "fall": "4 %"}]
    model = tank_with(run=run(route), limits={"socket_give": "1.8 deg"})
    assert drop(model.built["run"].data) == pytest.approx(0.15 + 0.4 * 0.04 / math.hypot(1, 0.04), abs=1e-9)


def test_a_rubber_coupling_takes_a_bend_that_rigid_ones_do_not(tank_with):
    """Common practice, no source: 2 degrees at each of its ends, 1 in a rigid socket."""
    by = {"by": [300, 0, -300 * math.tan(math.radians(3.5))]}
    with pytest.raises(SceneRefused, match=r"a turn of 3\.5 degrees inside a coupling"):
        tank_with(run=run([{"right": 200}, "coupling", by]))
    model = tank_with(run=run([{"right": 200}, "rubber_coupling", by]))
    assert [e.kind for e in model.built["run"].data.elements] == ["pipe", "rubber_coupling", "pipe"]


def test_a_rubber_coupling_joins_pipes_of_two_systems(tank_with):
    """Inch and metric sockets never mate; a rubber sleeve takes either outside diameter at either end."""
    route = [{"right": 200}, {"rubber_coupling": "d50 pn 10"}, {"right": 200}]
    model = tank_with(run=run(route))
    first, sleeve, last = model.built["run"].data.elements
    assert (first.size, last.size) == (PIPE, "d50 pn 10")
    bodies = [model.body(element.body).solid for element in (first, sleeve, last)]
    assert overlap(bodies[0], bodies[1]) is None
    assert overlap(bodies[1], bodies[2]) is None
    assert sleeve.bore == pytest.approx(
        min(CATALOG.pipe(PIPE).inside_diameter, CATALOG.pipe("d50 pn 10").inside_diameter)
    )
    assert not [f for f in model_faults(model) if "rubber" in f.message]


@pytest.mark.parametrize(("lean", "along"), [("on", 1.0), ("back", -1.0)])
def test_the_branch_of_a_wye_leans_with_or_against_the_run(tank_with, lean, along):
    route = [{"right": 200}, {"wye": "up", "lean": lean, "name": "side"}, {"right": 200}]
    model = tank_with(run=run(route))
    port = model.ports["run.side"]
    half = math.sqrt(0.5)
    assert port.direction == pytest.approx((along * half, 0.0, half), abs=1e-12)
    before, wye, after = model.built["run"].data.elements
    assert wye.path[0] == pytest.approx(before.path[1], abs=1e-12)
    assert wye.path[-1] == pytest.approx(after.path[0], abs=1e-12)
    solids = [model.body(element.body).solid for element in (before, wye, after)]
    assert overlap(solids[0], solids[1]) is None
    assert overlap(solids[1], solids[2]) is None


def test_pipe_goes_on_from_the_branch_of_a_wye(tank_with):
    route = [{"right": 200}, {"wye": "up", "name": "side"}, {"right": 200}, "cap"]
    side = {"kind": "run", "pipe": PIPE, "start": "run.side", "route": [{"by": [120, 0, 120]}, {"up": 100}]}
    model = tank_with(run=run(route), other=side)
    assert [e.kind for e in model.built["other"].data.elements] == ["pipe", "elbow_45", "pipe"]


def test_a_gate_valve_keeps_its_room_clear(tank_with):
    """A pipe through the room of its wheel is found, one beside it isn't."""
    route = [{"right": 200}, "gate_valve", {"right": 200}, "cap"]
    height = default().lengths(CATALOG.pipe(PIPE))["gate_height"] * 1000

    def other(up):
        return {
            "kind": "run",
            "pipe": PIPE,
            "start": [300, 200, START[2] + up],
            "route": [{"back": 200}, "cap"],
        }

    for up, hit in ((height + 40, True), (height + 100, False)):
        faults = model_faults(tank_with(run=run(route), other=other(up)))
        assert any(f.rule == "keep-clear" for f in faults) is hit, [f.message for f in faults]


def model_faults(model):
    from layout3d.checks.examine import examine

    return list(examine(model, only=("keep-clear", "overlap", "clearance")))


@pytest.mark.parametrize("fall", [4.5, "30 %", "1:2"])
def test_a_fall_that_is_a_length_is_told_how_a_fall_is_written(tank_with, fall):
    """4.5 was meant as mm over the leg: the answer has to name the forms, not a range of numbers."""
    with pytest.raises(SceneRefused, match="such as 1 % or 1:80, at most 25%"):
        tank_with(run=run([{"right": 800, "fall": fall}]))


@pytest.mark.parametrize("fall", ["15 mm", "1 deg"])
def test_the_example_of_a_fall_is_one_that_a_leg_takes(tank_with, fall):
    with pytest.raises(SceneRefused, match=r"such as 1 % or 1:80.*\n.*e\.g\. 1 %\Z"):
        tank_with(run=run([{"right": 800, "fall": fall}]))
    tank_with(run=run([{"right": 800, "fall": "1 %"}]))


def test_a_point_that_lies_behind_is_told_with_the_way_to_it(tank_with):
    with pytest.raises(SceneRefused, match="write `until: left`"):
        tank_with(run=run([{"until": "right", "reach": [-50, 100, 100]}]))
