"""Runs: neighbours that fit whichever way they go, ends, drip holes, supports, tubes, and odd routes."""

import itertools
import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from layout3d.catalog import default
from layout3d.checks.measure import Joins
from layout3d.fittings.registry import fitting
from layout3d.solid.distance import gap, inside, overlap

CATALOG = default()
WAYS = {
    "right": (1, 0, 0),
    "left": (-1, 0, 0),
    "back": (0, 1, 0),
    "front": (0, -1, 0),
    "up": (0, 0, 1),
    "down": (0, 0, -1),
}
MIDDLE = [600, 300, 300]
PIPE = "3/4 in sch 40"


def run(route, start=MIDDLE, **more):
    kind = {} if "tube" in more else {"pipe": PIPE}
    return {"kind": "run", **kind, "start": start, "route": route, **more}


def laid(built, route, start=MIDDLE, tank=None, others=None, **more):
    model = built({"run": run(route, start, **more), **(others or {})}, tank)
    return model, model.built["run"].data


def neighbours_fit(model):
    """Bodies of one run that follow each other touch, and no two of them share space."""
    bodies = [body for body in model.bodies if body.part == "run"]
    for i, one in enumerate(bodies):
        for k in range(i + 1, len(bodies)):
            shared = overlap(one.solid, bodies[k].solid)
            assert shared is None, (one.name, bodies[k].name, shared)
    elements = model.built["run"].data.elements
    for one, other in itertools.pairwise(elements):
        between = gap(model.body(one.body).solid, model.body(other.body).solid).distance
        assert between < 1e-6, (one.body, other.body, between)
        assert Joins(model).how(model.body(one.body), model.body(other.body))
        # the water's way goes on where it left off
        assert np.allclose(one.path[-1], other.path[0], atol=1e-9), (one.body, other.body)


TURNS = [
    (first, second)
    for first, second in itertools.product(WAYS, WAYS)
    if np.dot(WAYS[first], WAYS[second]) == 0
]


@pytest.mark.parametrize(("first", "second"), TURNS)
def test_neighbours_fit_whichever_way_a_run_goes(built, sound, first, second):
    branch = next(way for way in WAYS if np.dot(WAYS[way], WAYS[second]) == 0 and way not in (first,))
    route = [
        {first: 150},
        {second: 160},
        {"tee": branch},
        {second: 120},
        {"by": [80 * (a + b) for a, b in zip(WAYS[first], WAYS[second], strict=True)]},
        "cap",
    ]
    model, data = laid(built, route)
    sound(model)
    neighbours_fit(model)
    kinds = [element.kind for element in data.elements]
    assert kinds == ["pipe", "elbow_90", "pipe", "tee", "pipe", "elbow_45", "pipe", "cap"]
    port = model.ports["run.tee_1"]
    assert port.direction == pytest.approx(WAYS[branch])
    assert Joins(model).how(model.body("run.tee_1"), model.body("run.pipe_2"))


@pytest.mark.parametrize(("way", "pipe"), [*zip(WAYS, itertools.cycle([PIPE, "d32 pn 10"]), strict=False)])
def test_every_inline_fitting_fits(built, sound, way, pipe):
    smaller = {PIPE: "1/2 in sch 40", "d32 pn 10": "d25 pn 10"}[pipe]
    route = [
        {way: 120},
        "union",
        {way: 130},
        {"ball_valve": 0.5, "name": "tap"},
        {way: 140},
        "check_valve",
        {way: 130},
        "coupling",
        {way: 120},
        {"reduce": smaller},
        {way: 110},
        {"reduce": pipe},
        {way: 100},
        "nozzle",
    ]
    model, data = laid(built, route, pipe=pipe)
    sound(model)
    neighbours_fit(model)
    assert [element.size for element in data.elements if element.kind == "pipe"][-2:] == [smaller, pipe]
    assert next(e.opening for e in data.elements if e.kind == "ball_valve") == 0.5
    assert model.body("run.tap").kind == "ball_valve"


@pytest.mark.parametrize("along", [(3, 2, 1), (-1, 4, 2), (1, 1, 1), (0.2, -0.3, 1)])
def test_neighbours_fit_on_a_slant(built, sound, along):
    """Legs along no axis, square to each other: any three edges of a turned box."""
    first = np.array(along) / np.linalg.norm(along)
    second = np.cross(first, (0, 0, 1))
    second /= np.linalg.norm(second)
    third = np.cross(first, second)
    legs = [150 * first, 140 * second, 130 * third, 120 * (second + third) / math.sqrt(2)]
    route = [{"by": [float(x) for x in leg]} for leg in legs]
    model, data = laid(built, [*route, "cap"])
    sound(model)
    neighbours_fit(model)
    kinds = [e.kind for e in data.elements if e.kind != "pipe"]
    assert kinds == ["elbow_90", "elbow_90", "elbow_45", "cap"]


def test_an_elbow_opens_to_both_pipes(built):
    """Where the axes cross there is water, and along both axes to the sockets."""
    model, data = laid(built, [{"right": 150}, {"up": 150}, {"front": 150}])
    for element in data.elements:
        if element.kind == "elbow_90":
            body = model.body(element.body).solid
            points = [
                element.path[1],
                *(0.9 * np.subtract(p, element.path[1]) + element.path[1] for p in element.path),
            ]
            assert not inside(body, np.array(points)).any()


def test_a_valve_s_handle_is_up_and_on_upright_pipe_to_the_front(built):
    level, _ = laid(built, [{"right": 150}, "ball_valve", {"right": 150}])
    upright, _ = laid(built, [{"up": 150}, "ball_valve", {"up": 150}])
    low, high = level.body("run.ball_valve_1").solid.bounds
    assert high[2] - 0.3 > 0.3 - low[2] + 0.005
    low, high = upright.body("run.ball_valve_1").solid.bounds
    assert 0.3 - low[1] > high[1] - 0.3 + 0.005


def test_a_run_through_glass_fits_its_bulkhead(built, sound):
    holes = {"out": {"panel": "back", "left": 300, "bottom": 300, "bulkhead": "3/4 in thin"}}
    model = built(
        {
            "inner": run([{"front": 100}, {"up": 100}], "out.inside"),
            "outer": run([{"back": 90}], "out.outside"),
        },
        {"holes": holes},
    )
    sound(model)
    fitting = model.body("tank.out")
    for name in ("inner.pipe_1", "outer.pipe_1"):
        body = model.body(name)
        assert overlap(body.solid, fitting.solid) is None
        assert gap(body.solid, fitting.solid).distance < 1e-6
        assert Joins(model).how(body, fitting)
        assert overlap(body.solid, model.body("tank.back").solid) is None
    data = model.built["inner"].data
    assert (data.start_port, data.start_direction) == ("tank.out.inside", (0.0, -1.0, 0.0))


# -- steps that say the same -----------------------------------------------------------------------


def shapes(model):
    """Bodies, where they are and their volume; to a nanometre, for sums of decimals differ."""
    return [(b.name, b.solid.bounds.round(9).tolist(), round(b.solid.volume, 15)) for b in model.bodies]


def test_steps_by_to_and_until_say_the_same(built):
    route = [{"right": 200}, {"up": 150}, {"front": 100}]
    by = [{"by": [200, 0, 0]}, {"by": [0, 0, 150]}, {"by": [0, -100, 0]}]
    to = [
        {"to": [800, 300, 300]},
        {"to": {"right": 400, "front": 300, "bottom": 450}},
        {"to": [800, 200, 450]},
    ]
    until = [
        {"until": "right", "reach": [800, 0, 0]},
        {"until": "up", "reach": {"left": 0, "front": 0, "bottom": 450}},
        {"until": "front", "reach": [0, 200, 0]},
    ]
    whole = shapes(laid(built, route)[0])
    for other in (by, to, until):
        assert shapes(laid(built, other)[0]) == whole


def test_a_leg_in_two_is_one_pipe(built):
    one = shapes(laid(built, [{"right": 200}, {"up": 150}])[0])
    assert shapes(laid(built, [{"right": 120}, {"right": 80}, {"up": 50}, {"by": [0, 0, 100]}])[0]) == one


def test_a_run_may_go_to_another_part_s_port(built):
    holes = {"out": {"panel": "back", "left": 300, "bottom": 300, "bulkhead": "3/4 in thin"}}
    route = [{"right": 100}, {"until": "up", "reach": {"from": "out.inside"}}, {"join": "out.inside"}]
    start = {"from": "out.inside", "offset": [-100, -150, -120]}
    # in line with the port in x and z, then straight into it
    route = [{"right": 100}, {"up": 120}, {"join": "out.inside"}]
    model, data = laid(built, route, start, {"holes": holes})
    neighbours_fit(model)
    assert (data.end, data.end_port) == ("join", "tank.out.inside")
    assert "run.end" not in model.ports
    fitting = model.body("tank.out").solid
    assert overlap(model.body("run.pipe_3").solid, fitting) is None
    assert gap(model.body("run.pipe_3").solid, fitting).distance < 1e-6


@pytest.mark.parametrize("mirror", [0, 1, 2])
def test_a_mirrored_run_is_the_mirror_image(built, mirror):
    names = list(WAYS)
    swapped = {name: names[i ^ 1] if i // 2 == mirror else name for i, name in enumerate(names)}
    legs = [("right", 160), ("up", 150), ("back", 140), ("left", 120)]
    drip = {"diameter": 3, "pitch": 20, "angles": [0, 180]}
    route = [{way: length} for way, length in legs]
    route[2]["drip"] = drip
    other = [{swapped[way]: length} for way, length in legs]
    other[2]["drip"] = drip
    sign = np.where(np.arange(3) == mirror, -1.0, 1.0)
    one, data = laid(built, [*route, "cap"])
    two, mirrored = laid(built, [*other, "cap"])
    for a, b in zip(one.bodies, two.bodies, strict=True):
        if a.part == "run":
            assert a.solid.volume == pytest.approx(b.solid.volume, rel=1e-9)
            flipped = np.sort(
                0.3 * np.array([2, 1, 1]) + sign * (a.solid.bounds - 0.3 * np.array([2, 1, 1])), axis=0
            )
            assert np.allclose(flipped, b.solid.bounds, atol=2e-5)
    assert [e.cut_length for e in data.elements] == pytest.approx([e.cut_length for e in mirrored.elements])


# -- ends ------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("end", "kind", "beyond"),
    [
        ("open", "open", 0.0),
        (None, "open", 0.0),
        ("nozzle", "open", 1.5 * CATALOG.pipe(PIPE).outside_diameter),
        ("cap", None, 0.0),
        ("strainer", None, 0.0),
        ("union", "socket", fitting("union").size(CATALOG, PIPE).face[1]),
        ("ball_valve", "socket", fitting("ball_valve").size(CATALOG, PIPE).face[1]),
        ({"tee": "up"}, "socket", fitting("tee").size(CATALOG, PIPE).face[1]),
    ],
)
def test_ends(built, sound, end, kind, beyond):
    """An end where something may join on is a port: at the pipe's end, a nozzle's mouth, a fitting's face."""
    model, data = laid(built, [{"right": 200}, *([end] if end else [])])
    sound(model)
    if kind is None:
        assert "run.end" not in model.ports
        assert data.end_at == pytest.approx((0.8, 0.3, 0.3))
        return
    port = model.ports["run.end"]
    assert port.at == data.end_at == pytest.approx((0.8 + beyond, 0.3, 0.3))
    assert (port.end, port.direction) == (kind, (1.0, 0.0, 0.0))
    if kind == "socket":
        model, _ = laid(built, [{"right": 200}, end], others={"on": run([{"right": 100}, "cap"], "run.end")})
        sound(model)
        pipe, fitting = model.body("on.pipe_1"), model.body(port.body)
        assert overlap(pipe.solid, fitting.solid) is None
        assert gap(pipe.solid, fitting.solid).distance < 1e-6


def test_names_given_and_names_counted_keep_apart(built, sound):
    route = [{"right": 100}, {"tee": "up", "name": "tee_2"}, {"right": 100}, {"tee": "up"}]
    route += [{"right": 100}, {"ball_valve": 1, "name": "pipe_3"}, {"right": 100}, {"tee": "up"}]
    model, _ = laid(built, route)
    sound(model)
    assert [name for name in model.ports if "tee" in name] == ["run.tee_2", "run.tee_1", "run.tee_3"]
    assert {"run.pipe_1", "run.pipe_2", "run.pipe_4", "run.pipe_5"} <= {body.name for body in model.bodies}


# -- drip holes ------------------------------------------------------------------------------------

DOWN, FRONT, RIGHT = np.array([0, 0, -1.0]), np.array([0, -1.0, 0]), np.array([1.0, 0, 0])


@pytest.mark.parametrize(
    ("way", "base", "side"),
    [
        ("right", DOWN, FRONT),
        ("left", DOWN, FRONT),
        ("back", DOWN, RIGHT),
        ("front", DOWN, RIGHT),
        ("up", FRONT, RIGHT),
        ("down", FRONT, RIGHT),
    ],
)
def test_drip_holes_point_where_their_angle_says(built, way, base, side):
    drip = {"diameter": 3, "pitch": 40, "margin": 50, "angles": [0, 30, -90]}
    model, data = laid(built, [{way: 250, "drip": drip}, "cap"])
    (pipe,) = [element for element in data.elements if element.holes]
    face = 250 - 18.2626  # the cap's face hides a socket's depth: ASTM D2466, 0.719 in
    count = math.floor((face - 2 * 50) / 40) + 1
    assert len(pipe.holes) == 3 * count
    entry = CATALOG.pipe(PIPE)
    body = model.body(pipe.body).solid
    for row, angle in enumerate(np.radians([0, 30, -90])):
        out = math.cos(angle) * base + math.sin(angle) * side
        for k in range(count):
            hole = pipe.holes[row * count + k]
            assert hole.direction == pytest.approx(tuple(out), abs=1e-12)
            at = np.array(MIDDLE) / 1000 + np.array(WAYS[way]) * (0.05 + 0.04 * k)
            assert hole.at == pytest.approx(tuple(at + out * entry.outside_diameter / 2))
            assert hole.along == pytest.approx(0.05 + 0.04 * k)
            assert hole.wall == pytest.approx((entry.outside_diameter - entry.inside_diameter) / 2)
            wall = at + out * (entry.outside_diameter + entry.inside_diameter) / 4
            assert not inside(body, wall[None])[0]
            beside = wall + 0.004 * np.array(WAYS[way])
            assert inside(body, beside[None])[0]


def test_drip_holes_take_out_what_a_drill_takes(built):
    """A small hole through a wall w: pi/4 d² w, and a little more for the wall's curve (below 2 % here)."""
    entry = CATALOG.pipe(PIPE)
    whole, _ = laid(built, [{"right": 400}, "cap"])
    drilled, data = laid(built, [{"right": 400, "drip": {"diameter": 2, "pitch": 30}}, "cap"])
    count = len(data.elements[0].holes)
    taken = whole.body("run.pipe_1").solid.volume - drilled.body("run.pipe_1").solid.volume
    wall = (entry.outside_diameter - entry.inside_diameter) / 2
    plain = count * math.pi / 4 * 0.002**2 * wall
    assert plain < taken < 1.02 * plain


def test_a_count_of_drip_holes_starts_at_the_margin(built):
    drip = {"diameter": 3, "pitch": 25, "margin": 35, "count": 4}
    _, data = laid(built, [{"up": 100}, {"right": 400, "drip": drip}, {"up": 100}])
    (pipe,) = [element for element in data.elements if element.holes]
    face = np.array(pipe.visible[0])
    assert [np.dot(np.array(hole.at) - face, RIGHT) for hole in pipe.holes] == pytest.approx(
        [0.035, 0.060, 0.085, 0.110]
    )


def test_drip_holes_may_begin_in_the_middle_of_a_pipe(built, sound):
    """Margins then count from the ends of the leg that has them."""
    bar = [
        {"right": 200},
        {"right": 100, "drip": {"diameter": 3, "pitch": 20, "margin": 10}},
        {"right": 150},
        {"right": 100, "drip": {"diameter": 2, "pitch": 40, "margin": 10}},
        "cap",
    ]
    model, data = laid(built, bar)
    sound(model)
    assert [element.kind for element in data.elements] == ["pipe", "cap"]
    holes = data.elements[0].holes
    assert [round(1000 * hole.along, 6) for hole in holes] == [210, 230, 250, 270, 290, 460, 500]
    assert [hole.diameter for hole in holes] == [0.003] * 5 + [0.002] * 2


# -- supports --------------------------------------------------------------------------------------

BEHIND = [300, 540, 100]


@pytest.mark.parametrize("kind", ["clip", "suction_cup"])
def test_supports_have_a_foot_on_the_wall_and_hold_the_pipe(built, sound, kind):
    route = [{"up": 300}, {"right": 500}]
    support = {"kind": kind, "every": 200, "against": "back"}
    model, data = laid(built, route, BEHIND, supports=[support])
    sound(model)
    assert len(data.supports) == math.ceil(0.8 / 0.2)
    for held in data.supports:
        body = model.body(held.body)
        assert body.solid.bounds[1, 1] == pytest.approx(0.6, abs=1e-9)
        assert gap(body.solid, model.body("tank.back").solid).distance < 1e-9
        pipe = next(model.body(e.body) for e in data.elements if Joins(model).how(model.body(e.body), body))
        assert overlap(body.solid, pipe.solid) is None
        assert gap(body.solid, pipe.solid).distance < 1e-6
        assert Joins(model).how(body, model.body("tank.back"))
        assert np.linalg.norm(np.array(held.at) - body.solid.centroid) < 0.06


@pytest.mark.parametrize(
    ("start", "way", "wall", "axis", "plane"),
    [
        ([300, 540, 100], "right", "back", 1, 0.6),
        ([300, 60, 100], "right", "front", 1, 0.0),
        ([60, 300, 100], "back", "left", 0, 0.0),
        ([1140, 300, 100], "up", "right", 0, 1.2),
        ([300, 300, 50], "right", "bottom", 2, 0.0),
        ([300, 680, 100], "up", "back", 1, 0.612),  # from the room side
        ([300, 300, -60], "right", "bottom", 2, -0.012),
    ],
)
def test_supports_go_to_the_nearest_pane_on_either_side(built, sound, start, way, wall, axis, plane):
    model, data = laid(built, [{way: 200}], start, supports=[{"at": [100]}])
    sound(model)
    (held,) = data.supports
    body = model.body(held.body)
    assert Joins(model).how(body, model.body(f"tank.{wall}"))
    bounds = body.solid.bounds[:, axis]
    assert min(abs(bounds - plane)) < 1e-9
    assert gap(body.solid, model.body(f"tank.{wall}").solid).distance < 1e-9
    assert overlap(body.solid, model.body(f"tank.{wall}").solid) is None


def test_a_support_on_a_fitting_is_moved_to_the_pipe_beside_it(built):
    model, data = laid(built, [{"up": 200}, {"right": 200}], BEHIND, supports=[{"at": [200]}])
    (held,) = data.supports
    fitting = next(e for e in data.elements if e.kind == "elbow_90")
    assert gap(model.body(held.body).solid, model.body(fitting.body).solid).distance > 0
    done = sum(e.flow_length for e in data.elements[:1])
    assert held.along < done
    assert np.array(held.at) == pytest.approx(np.array(BEHIND) / 1000 + [0, 0, held.along])


def test_a_support_stands_on_a_sculpted_background(built, sound):
    wall = {"kind": "background", "panels": ["back"], "thickness": 40, "relief": {"depth": 30, "pitch": 20}}
    model, data = laid(
        built,
        [{"right": 500}],
        [300, 480, 300],
        supports=[{"every": 150, "against": "wall"}],
        others={"wall": wall},
    )
    sound(model)
    for held in data.supports:
        body = model.body(held.body)
        assert gap(body.solid, model.body("wall.back").solid).distance < 1e-9
        assert Joins(model).how(body, model.body("wall.back"))


def test_a_support_hangs_from_a_board(built, sound):
    stand = {"stand": {"kind": "stand", "height": 800}}
    support = {"at": [150], "against": "stand.top"}
    model, data = laid(built, [{"right": 300}], [300, 300, -150], supports=[support], others=stand)
    sound(model)
    board = model.body("stand.top").solid
    body = model.body(data.supports[0].body)
    assert body.solid.bounds[1, 2] == pytest.approx(board.bounds[0, 2])


def test_the_room_holds_a_hose_that_lies_on_the_floor(built, sound):
    """A place of a run as any other, without a clip of its own; the slab of foam grooves none for it."""
    hose = {"tube": "12/16 mm", "supports": [{"at": [50, 250], "against": "room"}]}
    model, data = laid(built, [{"right": 300}], [1500, 300, -800], **hose)
    sound(model)
    assert [(held.body, held.along) for held in data.supports] == [("", 0.05), ("", 0.25)]
    assert not [body for body in model.bodies if body.kind == "clip"]
    assert any(join.b == "room" and join.a == data.elements[0].body for join in model.joins)


# -- tubes -----------------------------------------------------------------------------------------


def test_a_tube_with_valves(built, sound):
    route = [{"up": 200}, {"right": 300}, {"ball_valve": 0.3}, {"right": 250}, {"front": 200}, "check_valve"]
    model, data = laid(built, [*route, {"front": 100}, "cap"], [200, 400, 100], tube="12/16 mm")
    sound(model)
    kinds = [element.kind for element in data.elements]
    assert kinds == ["tube", "ball_valve", "tube", "check_valve", "tube", "cap"]
    bodies = [body for body in model.bodies if body.part == "run"]
    for one, other in itertools.pairwise(bodies):
        assert overlap(one.solid, other.solid) is None  # tails stand free in the tube
        assert gap(one.solid, other.solid).distance < 1e-4
        assert Joins(model).how(one, other)
    for one, other in itertools.pairwise(data.elements):
        assert np.allclose(one.path[-1], other.path[0], atol=1e-9)
    assert data.flexible
    assert data.bend == data.least_bend == CATALOG.tube("12/16 mm").min_bend_radius


def test_a_tube_s_bends_have_their_radius(built):
    """Along the middle of a bend each three points lie on a circle of that radius."""
    _, data = laid(built, [{"right": 300}, {"up": 300}], tube="12/16 mm", bend_radius=90)
    path = np.array(data.elements[0].path)[1:-1]
    for a, b, c in zip(path, path[1:], path[2:], strict=False):
        ab, bc, ca = np.linalg.norm(b - a), np.linalg.norm(c - b), np.linalg.norm(a - c)
        doubled = np.linalg.norm(np.cross(b - a, c - a))
        assert ab * bc * ca / (2 * doubled) == pytest.approx(0.09, rel=1e-6)


def test_a_tube_leaves_a_port_straight_before_it_bends(built, sound):
    pump = {"kind": "pump", "model": "small 600", "outlet": "12/16 mm", "at": [300, 300, 0]}
    model, data = laid(
        built,
        [{"to": [700, 300, 300]}, {"up": 200}],
        "pump.outlet",
        others={"pump": pump},
        tube="12/16 mm",
        bend_radius=60,
    )
    sound(model)
    port = model.ports["pump.outlet"]
    path = np.array(data.elements[0].path)
    assert path[0] == pytest.approx(np.array(port.at) - np.array(port.direction) * port.depth)
    leaving = (path[1] - path[0]) / np.linalg.norm(path[1] - path[0])
    assert leaving == pytest.approx(port.direction)
    assert Joins(model).how(model.body("run.tube_1"), model.body("pump"))


def test_a_hose_goes_into_sockets(built, sound):
    holes = {"out": {"panel": "back", "left": 300, "bottom": 300, "bulkhead": "1 in thin"}}
    model, data = laid(built, [{"front": 200}], "out.inside", {"holes": holes}, tube="1 in flexible")
    sound(model)
    depth = model.ports["tank.out.inside"].depth
    assert 1000 * data.elements[0].cut_length == pytest.approx(200 + 1000 * depth)
    assert overlap(model.body("run.tube_1").solid, model.body("tank.out").solid) is None


def test_a_tube_may_end_in_a_valve_that_another_goes_on_from(built, sound):
    model, data = laid(
        built,
        [{"right": 200}, "ball_valve"],
        tube="12/16 mm",
        others={"on": run([{"right": 200}], "run.end", tube="12/16 mm")},
    )
    sound(model)
    assert [element.kind for element in data.elements] == ["tube", "ball_valve"]
    assert model.ports["run.end"].end == "barb"
    assert overlap(model.body("on.tube_1").solid, model.body("run.ball_valve_1").solid) is None


# -- what is refused -------------------------------------------------------------------------------

HOLES = {"out": {"panel": "back", "left": 300, "bottom": 300, "bulkhead": "3/4 in thin"}}
DRIP = {"diameter": 3, "pitch": 20}


@pytest.mark.parametrize(
    ("wrong", "path", "told"),
    [
        ({"pipe": PIPE, "tube": "12/16 mm"}, "pipe", "both pipe and tube"),
        ({"route": []}, "route", "no steps"),
        ({"route": ["cap"]}, "route[1]", "'cap' before any leg"),
        ({"route": [{"right": 0.01}]}, "route[1]", "a leg without length"),
        ({"route": [{"right": 100}, "cap", {"up": 50}]}, "route[3]", "after the end"),
        ({"route": [{"right": 100}, "union", "cap"]}, "route[3]", "a cap on top of a union"),
        ({"route": [{"right": 100}, "union", "open"]}, "route[3]", "an open end on top of a union"),
        ({"route": [{"right": 100}, "union", {"up": 100}]}, "route[3]", "a turn inside a union"),
        ({"route": [{"right": 100}, {"tee": "up"}, {"up": 100}]}, "route[3]", "a turn to up inside a tee"),
        (
            {"route": [{"right": 100}, {"tee": "left"}]},
            "route[2]",
            "whose branch points left, on pipe that runs right",
        ),
        ({"route": [{"right": 100}, {"left": 100}]}, "route[2]", "a turn of 180.0 degrees"),
        (
            {"route": [{"right": 100}, {"by": [100, 0, 50]}]},
            "route[2]",
            "a turn of 26.6 degrees from right to",
        ),
        ({"route": [{"right": 100}, {"reduce": "1 in sch 80"}, {"right": 0.2}]}, "route[3]", "is too short"),
        ({"route": [{"right": 100}, {"reduce": PIPE}, {"right": 99}]}, "route[2]", "has no wall"),
        ({"route": [{"until": "right", "reach": [500, 0, 0]}]}, "route[1]", "the point lies 100 mm behind"),
        ({"route": [{"until": "right", "reach": [600, 0, 0]}]}, "route[1]", "the point lies right here"),
        ({"route": [{"to": {"from": "out.insde"}}]}, "route[1].to", "nearest: 'tank.out.inside'"),
        ({"route": [{"join": "out.insde"}]}, "route[1].join", "nearest: 'out.inside'"),
        ({"route": [{"join": "out.inside"}]}, "route[1]", "but out.inside wants it to go back"),
        (
            {"start": "out.inside", "route": [{"back": 100}]},
            "route[1]",
            "the first leg goes back, but tank.out.inside",
        ),
        (
            {"start": "out.inside", "route": [{"by": [3, -100, 0]}]},
            "route[1]",
            "stands at 1.7 degrees to the axis",
        ),
        ({"start": "ouk.inside"}, "start", "nearest: 'out'"),
        (
            {"start": {"in": "sump", "left": 0, "front": 0, "bottom": 0}},
            "start",
            "no part or hole is called 'sump'",
        ),
        ({"route": [{"right": 300, "drip": {**DRIP, "count": 30}}]}, "route[1].drip", "expected at most 13"),
        ({"route": [{"right": 50, "drip": {**DRIP, "margin": 30}}]}, "route[1].drip", "expected at most 0"),
        (
            {"route": [{"right": 300, "drip": {"diameter": 11, "pitch": 20}}]},
            "route[1].drip",
            "in a bore of 20.6 mm",
        ),
        (
            {"route": [{"right": 300, "drip": {"diameter": 3, "pitch": 3}}]},
            "route[1].drip",
            "run into each other",
        ),
        (
            {"route": [{"right": 300, "drip": {**DRIP, "angles": [0, 3]}}]},
            "route[1].drip",
            "rows of drip holes that run into each other",
        ),
        (
            {"route": [{"right": 900, "drip": {"diameter": 0.3, "pitch": 0.4}}]},
            "route[1].drip",
            "2,101 drip holes in one pipe",
        ),
        (
            {"route": [{"right": 99}, {"ball_valve": 1, "name": "end"}]},
            "route[2]",
            "'end' is something else in this run already",
        ),
        (
            {"route": [{"right": 99}, {"tee": "up", "name": "a"}, {"right": 99}, {"tee": "up", "name": "a"}]},
            "route[4]",
            "'a' is something else in this run already",
        ),
        ({"route": [{"right": 99}, {"tee": "up", "name": "a.b"}]}, "route[2].name", "without dots"),
        ({"supports": [{"kind": "clip"}]}, "supports[1]", "supports without a place"),
        ({"supports": [{"at": [50, 900]}]}, "supports[1].at[2]", "a support 900 mm along a run 200 mm long"),
        ({"supports": [{"at": [50], "against": "bock"}]}, "supports[1].against", "no part is called 'bock'"),
        ({"supports": [{"at": [50], "against": "tank.bock"}]}, "supports[1].against", "nearest: 'tank.back'"),
        (
            {"supports": [{"at": [50], "against": "room"}]},
            "supports[1].at[1]",
            "the room holds run in the tank",
        ),
        (
            {"supports": [{"at": [50], "kind": "suction_cup", "against": "room"}]},
            "supports[1].against",
            "a suction cup on room, which is no pane",
        ),
        (
            {"supports": [{"at": [50], "kind": "suction_cup", "against": "tank.silicone"}]},
            "supports[1].against",
            "no pane",
        ),
    ],
)
def test_a_run_that_can_t_be_is_refused_where_it_says_so(refused, wrong, path, told):
    parts = {"run": {**run([{"right": 200}]), **wrong}}
    (only,) = refused(parts, {"holes": HOLES})
    assert told in str(only)
    assert only.path == f"parts.run.{path}"


@pytest.mark.parametrize(
    ("wrong", "path", "told"),
    [
        ({"route": [{"right": 200}, "union"]}, "route[2]", "a union in a tube"),
        ({"route": [{"right": 200}, "nozzle"]}, "route[2]", "a nozzle on a tube"),
        ({"route": [{"right": 200, "drip": DRIP}]}, "route[1]", "drip holes in a tube"),
        ({"route": [{"right": 200}, {"left": 100}]}, "route[2]", "turns straight back"),
        (
            {"route": [{"right": 200}, {"up": 30}, {"right": 200}]},
            "route[2]",
            "too short for the tube's bends",
        ),
        ({"route": [{"right": 200}, "ball_valve", {"right": 10}, "cap"]}, "route[3]", "too short"),
        ({"route": [{"right": 200}, "ball_valve", {"up": 100}]}, "route[3]", "a turn inside a ball valve"),
        ({"bend_radius": 5}, "bend_radius", "bends of 5 mm in a tube 16 mm wide"),
        (
            {"start": "out.inside", "route": [{"back": 100}]},
            "route[1]",
            "the tube turns by 180 degrees right at",
        ),
    ],
)
def test_a_tube_that_can_t_be_is_refused_where_it_says_so(refused, wrong, path, told):
    parts = {"run": {**run([{"right": 200}], tube="12/16 mm"), **wrong}}
    (only,) = refused(parts, {"holes": HOLES})
    assert told in str(only)
    assert only.path == f"parts.run.{path}"


@pytest.mark.parametrize(
    ("bend", "remedy"),
    [({}, "or take a tube that bends tighter"), ({"bend_radius": 100}, "or take a smaller `bend_radius:`")],
)
def test_a_tube_at_its_least_bend_is_told_to_bend_no_tighter(refused, bend, remedy):
    route = [{"right": 200}, {"up": 30}, {"right": 200}]
    (only,) = refused({"run": run(route, tube="12/16 mm") | bend}, {"holes": HOLES})
    assert remedy in str(only)


def test_lengths_are_told_in_the_scene_s_own_units(refused):
    route = [{"right": 8}, {"up": 2}, {"right": 8}]
    tank = {"inside": [48, 24, 24], "glass": "1/2 in"}
    (only,) = refused({"run": run(route, [20, 12, 10])}, tank, units="in")
    # 2 (14.5 mm + 0.719 in) = 2.5797 in, rounded up
    assert "expected 2.58 in or more" in str(only)


# -- routes of any make ----------------------------------------------------------------------------

LENGTHS = st.one_of(st.integers(60, 500), st.integers(60, 500), st.sampled_from([0.01, 20, 65.6, 5000]))
DRIPS = st.fixed_dictionaries(
    {"diameter": st.sampled_from([0.3, 2, 5, 12]), "pitch": st.sampled_from([1, 5, 20, 300])},
    optional={
        "margin": st.integers(0, 100),
        "angles": st.lists(st.integers(-180, 180), min_size=1, max_size=3),
        "count": st.integers(1, 30),
    },
)
PLAIN_LEGS = st.builds(lambda way, length: {way: length}, st.sampled_from(list(WAYS)), LENGTHS)
ODD_LEGS = st.one_of(
    st.builds(
        lambda way, length, drip: {way: length, "drip": drip}, st.sampled_from(list(WAYS)), LENGTHS, DRIPS
    ),
    st.builds(
        lambda move: {"by": move}, st.lists(st.sampled_from([-120, 0, 120, 7]), min_size=3, max_size=3)
    ),
    st.builds(lambda point: {"to": point}, st.lists(st.integers(-100, 900), min_size=3, max_size=3)),
    st.builds(
        lambda way, point: {"until": way, "reach": point},
        st.sampled_from(list(WAYS)),
        st.lists(st.integers(0, 600), min_size=3, max_size=3),
    ),
)
FITTINGS = st.one_of(
    st.none(),
    st.none(),
    st.sampled_from(["union", "coupling", "ball_valve", "check_valve"]),
    st.builds(lambda way: {"tee": way}, st.sampled_from(list(WAYS))),
    st.builds(lambda pipe: {"reduce": pipe}, st.sampled_from(["1/2 in sch 40", "1 in sch 40", "d25 pn 10"])),
    st.just({"ball_valve": 0, "name": "tap"}),
)
ENDINGS = st.one_of(
    st.none(),
    st.sampled_from(["cap", "strainer", "nozzle", "open", {"join": "out.inside"}, {"join": "run.tee_1"}]),
)


@st.composite
def good_routes(draw):
    """Square turns with room for any fitting, so that every one of them can be laid."""
    route, way = [], draw(st.sampled_from(list(WAYS)))
    for _ in range(draw(st.integers(1, 5))):
        leg = {way: draw(st.integers(150, 400))}
        if draw(st.booleans()):
            leg["drip"] = {"diameter": 2, "pitch": draw(st.integers(10, 60)), "margin": 20}
        route.append(leg)
        fitting = draw(st.sampled_from([None, "union", "ball_valve", "check_valve", "coupling", "tee", 45]))
        square = [other for other in WAYS if np.dot(WAYS[other], WAYS[way]) == 0]
        aside = draw(st.sampled_from(square))
        if fitting == 45:
            route.append({"by": [150 * (a + b) for a, b in zip(WAYS[way], WAYS[aside], strict=True)]})
            way = draw(st.sampled_from([way, aside]))
        elif fitting is None:
            way = aside
        else:
            route.append({"tee": aside} if fitting == "tee" else fitting)
    return [*route, {way: 160}, *draw(st.sampled_from([[], ["cap"], ["strainer"], ["nozzle"], ["open"]]))]


@settings(max_examples=15, derandomize=True)
@given(good_routes(), st.sampled_from([PIPE, "d25 pn 10", "1 in sch 80"]))
def test_a_good_route_of_any_make_is_laid(built, sound, route, pipe):
    model, _ = laid(built, route, [3000, 3000, 3000], pipe=pipe)
    sound(model)
    elements = model.built["run"].data.elements
    for one, other in itertools.pairwise(elements):
        assert overlap(model.body(one.body).solid, model.body(other.body).solid) is None
        assert np.allclose(one.path[-1], other.path[0], atol=1e-9)


@st.composite
def odd_routes(draw):
    steps = st.one_of(PLAIN_LEGS, ODD_LEGS, FITTINGS, ENDINGS)
    return [step for step in draw(st.lists(steps, min_size=1, max_size=7)) if step is not None]


RUNS = st.fixed_dictionaries(
    {
        "kind": st.just("run"),
        "start": st.sampled_from([MIDDLE, MIDDLE, [300, 540, 100], "out.inside", "out.outside"]),
        "route": st.one_of(good_routes(), odd_routes()),
    },
    optional={
        "supports": st.lists(
            st.fixed_dictionaries(
                {"at": st.lists(st.integers(0, 200), max_size=2)},
                optional={
                    "kind": st.sampled_from(["clip", "suction_cup"]),
                    "every": st.integers(20, 500),
                    "against": st.sampled_from(["back", "tank.front", "run"]),
                },
            ),
            max_size=1,
        ),
    },
)


@settings(max_examples=28, derandomize=True)
@given(RUNS, st.sampled_from([PIPE, "d25 pn 10", "2 in sch 80"]))
def test_a_run_of_any_make_is_sound_or_refused(any_make, spec, pipe):
    any_make({"run": {**spec, "pipe": pipe}}, {"holes": HOLES})


@settings(max_examples=28, derandomize=True)
@given(RUNS, st.sampled_from(["12/16 mm", "4/6 mm", "1 in flexible"]), st.sampled_from([None, 5, 40, 200]))
def test_a_tube_of_any_make_is_sound_or_refused(any_make, spec, tube, radius):
    more = {} if radius is None else {"bend_radius": radius}
    any_make({"run": {**spec, "tube": tube, **more}}, {"holes": HOLES})


@pytest.mark.parametrize("share", [0.0, 0.5, 1.0])
def test_a_pipe_that_ends_in_its_bulkhead_by_end_at_is_joined(built, share):
    """At its face, half in, or at the socket's bottom: it is in the socket, and no pipe to keep away from."""
    from layout3d.checks.examine import examine

    holes = {"out": {"panel": "back", "left": 300, "bottom": 200, "bulkhead": "3/4 in thin"}}
    model = built({}, {"holes": holes})
    port = model.ports["tank.out.inside"]
    start = [1000 * value for value in port.at]
    start[1] -= 300
    drop = {
        "kind": "run",
        "pipe": PIPE,
        "start": start,
        "route": [{"back": 300 + share * 1000 * port.depth}],
        "end_at": "out.inside",
    }
    model = built({"run": drop}, {"holes": holes})
    joined = {frozenset((join.a, join.b)) for join in model.joins}
    assert frozenset(("run.pipe_1", "tank.out")) in joined
    assert not examine(model, only=("pipe-to-pipe", "overlap"))


def test_a_join_that_is_not_straight_ahead_says_where_the_port_lies(refused):
    holes = {"out": {"panel": "back", "left": 300, "bottom": 200, "bulkhead": "3/4 in thin"}}
    start = {"from": "out.inside", "offset": [20, -300, 5]}
    route = [{"back": 100}, {"tee": "up"}, {"join": "out.inside"}]
    (only,) = refused({"run": run(route, start=start)}, {"holes": holes})
    assert only.path == "parts.run.route[3]"
    assert "out.inside is not straight ahead: it lies 200 mm back and 20 mm left and 5 mm down" in str(only)


def test_a_check_valve_in_the_thinnest_tube_can_be_built(built, sound):
    for tube in CATALOG.names("tubes"):
        if CATALOG.tube(tube).kind == "tube":
            sound(built({"run": run([{"right": 300}, "check_valve", {"right": 300}], tube=tube)}))
