"""The tank: panes, beads, braces and rim against closed forms, bulkheads in their holes, and odd sizes."""

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from layout3d.catalog import default
from layout3d.checks.measure import Joins
from layout3d.parts.shapes.plan import edge_normals, move_edges
from layout3d.solid.distance import gap, overlap

HALF = 150 * math.sqrt(3)
HEXAGON = [[150, 0], [450, 0], [600, HALF], [450, 2 * HALF], [150, 2 * HALF], [0, HALF]]
CORNER = [[0, 0], [700, 0], [900, 200], [900, 900], [0, 900]]
"""A tank for the corner of a room, its front cut off at an angle."""


def area(plan):
    x, y = np.array(plan).T
    return abs(float(np.sum(x * np.roll(y, -1) - np.roll(x, -1) * y))) / 2


def volumes(model):
    return {body.name.removeprefix("tank."): body.solid.volume for body in model.bodies}


def test_panes_of_a_rectangular_tank_by_panels(built, sound):
    """Front and back run the full length, the sides stand between them, all stand on the bottom."""
    glass = {"front": 15, "back": 12, "left": 10, "right": 8, "bottom": 19}
    model = built(tank={"inside": [1200, 600, 500], "glass": glass, "silicone": 0})
    sound(model)
    made = volumes(model)
    assert made["front"] == pytest.approx(1.218 * 0.015 * 0.5)
    assert made["back"] == pytest.approx(1.218 * 0.012 * 0.5)
    assert made["left"] == pytest.approx(0.6 * 0.010 * 0.5)
    assert made["right"] == pytest.approx(0.6 * 0.008 * 0.5)
    assert made["bottom"] == pytest.approx(1.218 * 0.627 * 0.019)
    outer = 1.218 * 0.627 * 0.519
    assert sum(made.values()) == pytest.approx(outer - 1.2 * 0.6 * 0.5)
    assert model.tank.interior.volume == pytest.approx(1.2 * 0.6 * 0.5)


@pytest.mark.parametrize(
    ("size", "glass"), [([1000, 500, 450], 10), ([1000, 500, 450], {"left": 6, "others": 12})]
)
def test_outside_size_is_inside_size_and_glass(built, size, glass):
    def thick(panel):
        return glass if isinstance(glass, int) else glass.get(panel, glass["others"])

    outside = [
        size[0] + thick("left") + thick("right"),
        size[1] + thick("front") + thick("back"),
        size[2] + thick("bottom"),
    ]
    one = built(tank={"inside": size, "glass": glass})
    parts = {"tank": {"kind": "tank", "outside": outside, "glass": glass}}
    other = built(tank=None, parts=parts)
    assert [body.name for body in one.bodies] == [body.name for body in other.bodies]
    for a, b in zip(one.bodies, other.bodies, strict=True):
        assert np.allclose(a.solid.bounds, b.solid.bounds, atol=1e-12)
    low = np.min([body.solid.bounds[0] for body in one.bodies], axis=0)
    high = np.max([body.solid.bounds[1] for body in one.bodies], axis=0)
    assert high - low == pytest.approx(np.array(outside) / 1000)


def polygonal(footprint, **more):
    return {"kind": "tank", "footprint": footprint, "height": 600, "glass": 12, **more}


@pytest.mark.parametrize("footprint", [HEXAGON, CORNER, HEXAGON[::-1], [[0, 0], [800, 0], [300, 500]]])
def test_panes_of_a_polygonal_tank_meet_in_mitres(built, sound, footprint):
    """Each pane in plan is a trapezium: the mean of its inside and outside length times its thickness."""
    model = built(parts={"tank": polygonal(footprint, silicone=0)})
    sound(model)
    plan, outer = np.array(model.tank.plan), np.array(model.tank.outer_plan)
    assert area(plan) == pytest.approx(area(footprint) / 1e6)
    made = volumes(model)
    assert made["bottom"] == pytest.approx(area(outer) * 0.012)
    walls = [volume for name, volume in made.items() if name != "bottom"]
    assert sum(walls) == pytest.approx((area(outer) - area(plan)) * 0.6)
    for name, panel in model.tank.panels.items():
        if name != "bottom":
            (low, _), (high, _) = panel.glass[0], panel.glass[1]
            assert made[name] == pytest.approx((panel.length + high - low) / 2 * 0.012 * 0.6)
    assert model.tank.interior.volume == pytest.approx(area(plan) * 0.6)
    bodies = list(model.bodies)
    for i, one in enumerate(bodies):
        for other in bodies[i + 1 :]:
            assert overlap(one.solid, other.solid) is None
    for i in range(len(walls)):
        assert gap(bodies[i].solid, bodies[(i + 1) % len(walls)].solid).distance < 1e-9


def test_a_hexagon_s_panes_from_its_side_alone(built):
    """A regular hexagon of side a: each pane (a + t tan 30°) t H, for the outside is 2 t tan 30° longer."""
    made = volumes(built(parts={"tank": polygonal(HEXAGON, silicone=0)}))
    for number in range(1, 7):
        expected = (0.3 + 0.012 * math.tan(math.pi / 6)) * 0.012 * 0.6
        assert made[f"side_{number}"] == pytest.approx(expected)


def test_a_rectangular_footprint_holds_as_much_glass_as_a_tank_of_that_size(built):
    """Mitred or butted, the walls fill the space between the outside and the inside."""
    square = built(parts={"tank": polygonal([[0, 0], [1200, 0], [1200, 600], [0, 600]])})
    plain = built(tank={"inside": [1200, 600, 600]})
    assert sum(volumes(square).values()) == pytest.approx(sum(volumes(plain).values()))
    assert square.tank.high == pytest.approx(plain.tank.high)


@pytest.mark.parametrize("footprint", [HEXAGON, CORNER, [[0, 0], [1200, 0], [1200, 600], [0, 600]]])
@pytest.mark.parametrize("leg", [6, 15])
def test_volume_of_the_silicone(built, footprint, leg):
    """Closed form, L the leg, P the perimeter, A the inside angles, H the height.

    Along the bottom, by layers: the integral of P w - w² sum cot(A/2) over w from 0 to L. Up a corner:
    L² sin(A) / 2 times H, less what the bottom bead has of it already, L³ (sin(A) / 2 - sin²(A) / 12).
    """
    model = built(parts={"tank": polygonal(footprint, silicone=leg)})
    plan, leg = np.array(model.tank.plan), leg / 1000
    ahead, back = np.roll(plan, -1, axis=0) - plan, np.roll(plan, 1, axis=0) - plan
    cosine = np.sum(ahead * back, axis=1) / np.linalg.norm(ahead, axis=1) / np.linalg.norm(back, axis=1)
    angle = np.arccos(cosine)
    perimeter = np.linalg.norm(ahead, axis=1).sum()
    bottom = perimeter * leg**2 / 2 - leg**3 / 3 * np.sum(1 / np.tan(angle / 2))
    corners = np.sum(leg**2 * np.sin(angle) / 2 * 0.6)
    shared = np.sum(leg**3 * (np.sin(angle) / 2 - np.sin(angle) ** 2 / 12))
    assert volumes(model)["silicone"] == pytest.approx(bottom + corners - shared, rel=1e-6)


def test_perimeter_brace_cross_braces_and_rim(built, sound):
    tank = {
        "perimeter_brace": {"width": 60, "thickness": 10, "below_top": 5},
        "cross_braces": [
            {"at": 400, "width": 100, "thickness": 8},
            {"at": 800, "width": 80, "thickness": 10},
        ],
        "rim": {"height": 25, "thickness": 3},
    }
    model = built(tank=tank)
    sound(model)
    made = volumes(model)
    assert made["perimeter_brace"] == pytest.approx((1.2 * 0.6 - 1.08 * 0.48) * 0.010)
    strip = model.body("tank.perimeter_brace").solid.bounds
    assert strip[:, 2] == pytest.approx([0.585, 0.595])
    # the first brace is 8 mm thick, 592 to 600 mm up: 3 mm of that beside the strip, 5 mm over it
    assert made["cross_brace_1"] == pytest.approx(0.1 * (0.48 * 0.008 + 0.12 * 0.005))
    assert made["cross_brace_2"] == pytest.approx(0.08 * (0.48 * 0.010 + 0.12 * 0.005))
    outer, wide = 1.224 * 0.624, 1.230 * 0.630
    assert made["rim"] == pytest.approx((wide - outer) * 0.025 + (wide - 1.2 * 0.6) * 0.003)
    bare = volumes(built())["silicone"]
    assert bare - made["silicone"] == pytest.approx(4 * 0.006**2 / 2 * (0.010 + 0.0), rel=1e-6)
    for i, one in enumerate(model.bodies):
        for other in model.bodies[i + 1 :]:
            assert overlap(one.solid, other.solid) is None, (one.name, other.name)


def test_a_perimeter_brace_in_a_polygon(built, sound):
    model = built(parts={"tank": polygonal(HEXAGON, perimeter_brace={"width": 40, "thickness": 10})})
    sound(model)
    plan = np.array(model.tank.plan)
    assert volumes(model)["perimeter_brace"] == pytest.approx(
        (area(plan) - area(move_edges(plan, 0.04))) * 0.01
    )


# -- panels' own axes, holes and bulkheads -------------------------------------------------------------------


@pytest.mark.parametrize("footprint", [None, HEXAGON, CORNER])
def test_each_panel_s_axes_are_right_handed_and_run_left_to_right_from_inside(built, footprint):
    model = built(parts={"tank": polygonal(footprint)}) if footprint else built()
    middle = np.array(model.tank.plan).mean(axis=0)
    for name, panel in model.tank.panels.items():
        along, up, inward = (np.array(v) for v in (panel.along, panel.up, panel.inward))
        assert np.cross(along, up) == pytest.approx(inward)
        assert panel.local(np.array([panel.at(0.1, 0.2, 0.3)]))[0] == pytest.approx((0.1, 0.2, 0.3))
        if name == "bottom":
            assert (along, up) == (pytest.approx((1, 0, 0)), pytest.approx((0, 1, 0)))
            continue
        facing = np.array(panel.at(panel.length / 2, 0.3)) - [*middle, 0.3]
        right_hand = np.cross(facing, [0, 0, 1])  # of someone in the middle who looks at the panel
        assert float(right_hand @ along) > 0
        assert float(inward[:2] @ (middle - np.array(panel.origin)[:2])) > 0


TRAPEZIUM = [(0, 0), (600, 0), (450, 400), (0, 400)]
NAMES = ["front", "slant", "back", "left"]


@pytest.fixture
def panels(built):
    def made(corners, names):
        tank = polygonal([list(c) for c in corners], panels=names, glass={"slant": 15, "others": 10})
        return built(parts={"tank": tank}).tank.panels

    return made


def test_a_footprint_given_clockwise_gives_the_same_tank(panels):
    """The edges are those of the file, whichever way round its corners are told."""
    ways = (
        panels(TRAPEZIUM, NAMES),
        panels([TRAPEZIUM[k] for k in (1, 0, 3, 2)], ["front", "left", "back", "slant"]),
    )
    assert list(ways[0]) == list(ways[1]) == ["front", "slant", "back", "left", "bottom"]
    for name in ways[0]:
        one, other = ways[0][name], ways[1][name]
        assert one.origin == pytest.approx(other.origin)
        assert one.inward == pytest.approx(other.inward)
        assert one.thickness == other.thickness


def test_each_panel_stands_on_its_own_edge(panels):
    found = panels([TRAPEZIUM[k] for k in (1, 0, 3, 2)], ["front", "left", "back", "slant"])
    assert found["front"].inward == pytest.approx((0.0, 1.0, 0.0))
    assert found["back"].inward == pytest.approx((0.0, -1.0, 0.0))
    assert found["left"].inward == pytest.approx((1.0, 0.0, 0.0))
    assert found["slant"].thickness == 0.015
    assert found["slant"].length == pytest.approx((0.15**2 + 0.4**2) ** 0.5)


ENTRY = default().bulkhead("1 in thin")
SIDES = {
    "front": ({"left": 300, "bottom": 250}, (0.9, 0.0, 0.25), (0, 1, 0)),  # its left, seen from inside
    "back": ({"left": 300, "bottom": 250}, (0.3, 0.6, 0.25), (0, -1, 0)),
    "left": ({"front": 200, "bottom": 250}, (0.0, 0.2, 0.25), (1, 0, 0)),
    "right": ({"front": 200, "top": 350}, (1.2, 0.2, 0.25), (-1, 0, 0)),
    "bottom": ({"right": 900, "back": 200}, (0.3, 0.4, 0.0), (0, 0, 1)),
}


@pytest.mark.parametrize("flange", ["inside", "outside"])
@pytest.mark.parametrize("panel", SIDES)
def test_a_bulkhead_s_ports_stand_at_flange_and_thread(built, sound, panel, flange):
    """On the flange's side the port is a flange's height from the glass, on the other at the thread's end."""
    where, at, inward = SIDES[panel]
    if panel == "front":
        where = {"left": 900, "bottom": 250}  # a front hole is told from the left as one stands before it
    hole = {"panel": panel, **where, "bulkhead": "1 in thin", "flange": flange}
    model = built(tank={"holes": {"drain": hole}})
    sound(model)
    at, inward = np.array(at), np.array(inward)
    assert model.tank.holes["drain"].at == pytest.approx(tuple(at))
    inside, outside = (model.ports[f"tank.drain.{side}"] for side in ("inside", "outside"))
    if flange == "inside":
        expected = (at + inward * ENTRY.inside_height, at - inward * ENTRY.outside_length)
    else:
        outer = at - inward * 0.012
        expected = (outer + inward * ENTRY.outside_length, outer - inward * ENTRY.inside_height)
    assert np.array(inside.at) == pytest.approx(expected[0])
    assert np.array(outside.at) == pytest.approx(expected[1])
    assert np.array(inside.direction) == pytest.approx(inward)
    assert np.array(outside.direction) == pytest.approx(-inward)
    assert inside.size == ENTRY.pipe_size
    pane, fitting = model.body(f"tank.{panel}").solid, model.body("tank.drain").solid
    assert overlap(pane, fitting) is None
    assert gap(pane, fitting).distance < 1e-9
    assert Joins(model).how(model.body(f"tank.{panel}"), model.body("tank.drain"))


@pytest.mark.parametrize("panel", SIDES)
def test_a_drilled_pane_lacks_the_hole(built, panel):
    where = SIDES[panel][0]
    whole = volumes(built())[panel]
    holes = {
        "a": {"panel": panel, **where, "diameter": 45},
        "b": {"panel": panel, **{k: v + 100 for k, v in where.items()}, "diameter": 8},
    }
    model = built(tank={"holes": holes})
    missing = math.pi / 4 * (0.045**2 + 0.008**2) * 0.012
    assert whole - volumes(model)[panel] == pytest.approx(missing, rel=1e-9)


def test_holes_of_a_polygon_are_told_from_its_corners(built, sound):
    holes = {
        "a": {"panel": "slant", "start": 80, "bottom": 200, "diameter": 30},
        "b": {"panel": "slant", "end": 80, "bottom": 400, "diameter": 30},
    }
    tank = polygonal(CORNER, panels=["front", "slant", "right", "back", "left"], holes=holes)
    model = built(parts={"tank": tank})
    sound(model)
    step = 0.08 / math.sqrt(2)
    assert model.tank.holes["a"].at == pytest.approx((0.7 + step, step, 0.2))
    assert model.tank.holes["b"].at == pytest.approx((0.9 - step, 0.2 - step, 0.4))


# -- what is refused -----------------------------------------------------------------------------------------

HOLE = {"panel": "back", "left": 300, "top": 200, "diameter": 40}


@pytest.mark.parametrize(
    ("tank", "path", "told"),
    [
        ({"outside": [1000, 500, 500]}, "tank", "inside and outside given"),
        ({"inside": [1000, 500]}, "tank.inside", "no list of 3"),
        ({"panels": ["a", "b", "c", "d"]}, "tank.panels", "panel names are for a footprint"),
        ({"glass": {"front": 10}}, "tank.glass", "no thickness for right, back, left, bottom"),
        ({"glass": {"frnt": 10, "others": 10}}, "tank.glass.frnt", "nearest: 'front'"),
        ({"tempered": ["front", "bock"]}, "tank.tempered[2]", "nearest: 'back'"),
        ({"perimeter_brace": {"width": 300, "thickness": 10}}, "tank.perimeter_brace.width", "no opening"),
        (
            {"perimeter_brace": {"width": 50, "thickness": 10, "below_top": 595}},
            "tank.perimeter_brace.below_top",
            "below the tank's floor",
        ),
        (
            {"cross_braces": [{"at": 1180, "width": 60, "thickness": 10}]},
            "tank.cross_braces[1]",
            "past the right",
        ),
        (
            {"cross_braces": [{"at": 20, "width": 60, "thickness": 10}]},
            "tank.cross_braces[1]",
            "past the left",
        ),
        (
            {
                "cross_braces": [
                    {"at": 500, "width": 60, "thickness": 10},
                    {"at": 550, "width": 60, "thickness": 10},
                ]
            },
            "tank.cross_braces[2]",
            "overlaps another one",
        ),
        (
            {"inside": [1200, 600, 150], "rim": {"height": 160, "thickness": 3}},
            "tank.rim.height",
            "higher than",
        ),
        ({"holes": {"a": {**HOLE, "left": 1300}}}, "tank.holes.a.left", "off the panel"),
        ({"holes": {"a": {**HOLE, "left": 10}}}, "tank.holes.a", "reaches 10 mm past the edge"),
        ({"holes": {"a": {**HOLE, "right": 10}}}, "tank.holes.a", "from left and right sideways"),
        ({"holes": {"a": {**HOLE, "front": 10}}}, "tank.holes.a", "from left and front sideways"),
        (
            {"holes": {"a": {"panel": "back", "top": 90, "diameter": 9}}},
            "tank.holes.a",
            "from no edge sideways",
        ),
        (
            {"holes": {"a": {**HOLE, "diameter": 20, "bulkhead": "1 in thin"}}},
            "tank.holes.a.diameter",
            "a hole of 20 mm for a thread of",
        ),
        (
            {
                "glass": 60,
                "holes": {"a": {"panel": "back", "left": 300, "top": 200, "bulkhead": "1 in thin"}},
            },
            "tank.holes.a",
            "its nut ends",
        ),
    ],
)
def test_a_tank_that_can_t_be_is_refused_where_it_says_so(refused, tank, path, told):
    (only,) = refused(tank=tank)
    assert only.path == f"parts.{path}"
    assert told in str(only)


@pytest.mark.parametrize(
    ("more", "path", "told"),
    [
        ({"footprint": [[0, 0], [900, 0], [300, 300], [0, 900]]}, "tank.footprint", "turns inward"),
        ({"footprint": [[0, 0], [900, 0], [900, 0], [0, 900]]}, "tank.footprint", "lie on one spot"),
        ({"footprint": [[0, 0], [900, 900], [900, 0], [0, 900]]}, "tank.footprint", "turns inward"),
        ({"height": None}, "tank.height", "go together"),
        ({"panels": ["a", "b"]}, "tank.panels", "2 panel names for 5 edges"),
        ({"panels": ["a", "b", "c", "d", "bottom"]}, "tank.panels", "one name"),
        ({"panels": ["a", "b", "c", "d", "rim"]}, "tank.panels[5]", "no panel can be called 'rim'"),
        ({"panels": ["a", "b", "c", "d", "x.y"]}, "tank.panels[5]", "without dots"),
        (
            {
                "footprint": [[0, 0], [900, 0], [905, 300], [900, 600], [0, 600]],
                "glass": {"side_3": 3, "others": 80},
            },
            "tank.glass",
            "don't meet",
        ),
        (
            {"holes": {"a": {"panel": "bottom", "right": 30, "front": 30, "diameter": 40}}},
            "tank.holes.a",
            "past the edge of the inside of bottom",
        ),
    ],
)
def test_a_polygon_that_can_t_be_is_refused_where_it_says_so(refused, more, path, told):
    tank = {key: value for key, value in {**polygonal(CORNER), **more}.items() if value is not None}
    (only,) = refused(parts={"tank": tank})
    assert only.path == f"parts.{path}"
    assert told in str(only)


LENGTHS = st.one_of(st.integers(1, 1500), st.sampled_from([0, 0.5, 1e4, -5, 1e-6]))
HOLES = st.fixed_dictionaries(
    {"panel": st.sampled_from(["front", "back", "left", "right", "bottom"])},
    optional={
        **dict.fromkeys(("left", "right", "front", "back", "bottom", "top"), LENGTHS),
        "diameter": st.integers(2, 300),
        "bulkhead": st.sampled_from(["3/4 in thin", "2 in heavy", "d63"]),
        "flange": st.sampled_from(["inside", "outside"]),
    },
)
TANKS = st.fixed_dictionaries(
    {"inside": st.lists(st.integers(50, 1500), min_size=3, max_size=3), "glass": st.integers(1, 60)},
    optional={
        "silicone": st.integers(0, 50),
        "perimeter_brace": st.fixed_dictionaries(
            {"width": st.integers(5, 400), "thickness": st.integers(1, 100)},
            optional={"below_top": st.integers(0, 1000)},
        ),
        "cross_braces": st.lists(
            st.fixed_dictionaries(
                {"at": LENGTHS, "width": st.integers(10, 300), "thickness": st.integers(1, 100)}
            ),
            max_size=2,
        ),
        "rim": st.fixed_dictionaries({"height": st.integers(5, 200), "thickness": st.integers(1, 50)}),
        "holes": st.dictionaries(st.sampled_from(["a", "b", "c"]), HOLES, max_size=3),
    },
)


@settings(max_examples=36, derandomize=True)
@given(TANKS)
def test_a_tank_of_any_make_is_sound_or_refused(any_make, tank):
    any_make({}, tank)


@settings(max_examples=18, derandomize=True)
@given(
    st.lists(st.floats(0.05, 1.0), min_size=3, max_size=9),
    st.floats(100, 2000),
    st.lists(st.integers(3, 60), min_size=2, max_size=2),
    st.integers(0, 50),
    st.integers(5, 200),
)
def test_a_polygon_of_any_make_is_sound_or_refused(any_make, steps, radius, glass, silicone, width):
    """Corners on a circle, so that the footprint is convex; angles from sharp to nearly flat."""
    angles = np.cumsum(steps) / sum(steps) * 2 * math.pi
    circle = np.round(radius * np.column_stack([np.cos(angles), np.sin(angles)]), 3)
    footprint = np.round(circle - circle.min(axis=0), 3).tolist()
    tank = {
        **polygonal(footprint, silicone=silicone),
        "glass": {"side_1": glass[0], "others": glass[1]},
        "perimeter_brace": {"width": width, "thickness": 10},
    }
    model = any_make({"tank": tank})
    if model is not None:
        plan = np.array(model.tank.plan)
        assert (np.sum(edge_normals(plan) * (plan.mean(axis=0) - plan), axis=1) > 0).all()
