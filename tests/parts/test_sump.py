"""The sump: walls, baffles and compartments that fill it exactly, mirrored and turned, and odd sizes."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from layout3d.solid.distance import overlap

SUMP = {
    "kind": "sump",
    "at": {"in": "stand", "left": 60, "front": 70, "bottom": 0},
    "inside": [900, 400, 350],
    "glass": 8,
    "compartments": [
        {"name": "inlet", "length": 250, "baffle": {"height": 250, "thickness": 6}},
        {
            "name": "media",
            "length": 300,
            "level": 240,
            "baffle": {"height": 300, "gap": 40, "thickness": 10},
            "media": {"bottom": 50, "top": 200},
        },
        {"name": "chamber", "level": 180},
    ],
}
STAND = {"stand": {"kind": "stand", "height": 800, "board": 30}}


def made(built, **more):
    return built({**STAND, "sump": {**SUMP, **more}})


def test_walls_and_baffles_have_their_volume(built, sound):
    model = made(built)
    sound(model)
    volume = {body.name: body.solid.volume for body in model.bodies_of("sump")}
    assert volume["sump.box"] == pytest.approx(0.916 * 0.416 * 0.358 - 0.9 * 0.4 * 0.35)
    assert volume["sump.baffle_inlet"] == pytest.approx(0.006 * 0.4 * 0.25)
    assert volume["sump.baffle_media"] == pytest.approx(0.010 * 0.4 * 0.26)
    assert volume["sump.media_media"] == pytest.approx(0.298 * 0.398 * 0.15)  # a millimetre free all round
    assert {body.where for body in model.bodies_of("sump")} == {"sump"}
    bodies = list(model.bodies_of("sump", "stand"))
    for i, one in enumerate(bodies):
        for other in bodies[i + 1 :]:
            assert overlap(one.solid, other.solid) is None, (one.name, other.name)


@pytest.mark.parametrize("flow", ["left_to_right", "right_to_left"])
@pytest.mark.parametrize("spin", [0, 90, 180, 270])
def test_compartments_and_baffles_fill_the_sump(built, flow, spin):
    """Each compartment begins where the baffle before it ends; together they are as long as the inside."""
    at = {"in": "stand", "left": 500, "front": 300, "bottom": 0}
    model = made(built, flow=flow, turn=spin, at=at)
    data = model.built["sump"].data
    inside = data.interior
    assert inside.volume == pytest.approx(0.9 * 0.4 * 0.35)
    full = [c.interior.volume for c in data.compartments]
    baffles = (0.006 + 0.010) * 0.4 * 0.35
    assert sum(full) + baffles == pytest.approx(inside.volume)
    assert full[-1] == pytest.approx((900 - 250 - 300 - 16) / 1000 * 0.4 * 0.35)
    # along the way the water takes, in the sump's own axes
    back = inside.placement.inverse()
    spans = [back.apply(c.interior.vertices)[:, 0] for c in data.compartments]
    spans = [(float(s.min()), float(s.max())) for s in spans]
    if flow == "right_to_left":
        spans = [(0.9 - high, 0.9 - low) for low, high in spans]
    assert spans == [
        pytest.approx((0.0, 0.25)),
        pytest.approx((0.256, 0.556)),
        pytest.approx((0.566, 0.9)),
    ]
    for compartment in data.compartments:
        space = model.spaces[f"sump.{compartment.name}"]
        assert np.array([space.low, space.high]) == pytest.approx(compartment.interior.bounds)
        assert space.water == pytest.approx(compartment.water_z)
        for body in model.bodies_of("sump"):
            if body.kind != "media":
                assert overlap(body.solid, compartment.interior) is None
    media = model.body("sump.media_media").solid.bounds
    low, high = data.compartments[1].interior.bounds
    assert (media[0] > low).all()
    assert (media[1] < high).all()


def test_mirrored_flows_are_mirror_images(built):
    one, two = made(built), made(built, flow="right_to_left")
    middle = one.built["sump"].data.interior.bounds.mean(axis=0)[0]
    for body in one.bodies_of("sump"):
        other = two.body(body.name)
        assert other.solid.volume == pytest.approx(body.solid.volume)
        assert other.solid.bounds[:, 1:] == pytest.approx(body.solid.bounds[:, 1:])
        assert sorted(2 * middle - body.solid.bounds[:, 0]) == pytest.approx(list(other.solid.bounds[:, 0]))


def test_levels_are_the_baffle_s_height_or_as_given(built):
    data = made(built).built["sump"].data
    assert [c.level for c in data.compartments] == pytest.approx([0.25, 0.24, 0.18])
    assert data.return_chamber.name == "chamber"
    assert data.rim - data.floor == pytest.approx(0.35)


def test_things_stand_in_a_compartment_by_its_own_faces_and_water(built, sound):
    rod = {"kind": "heater", "length": 100, "diameter": 20}
    parts = {
        **STAND,
        "sump": SUMP,
        "low": {**rod, "at": {"in": "sump.chamber", "left": 50, "back": 60, "ground": 5}},
        "high": {**rod, "at": {"in": "sump.inlet", "right": 50, "front": 60, "waterline": -120}},
    }
    model = built(parts)
    sound(model)
    chamber, inlet = model.spaces["sump.chamber"], model.spaces["sump.inlet"]
    assert model.body("low").solid.bounds[0, 2] == pytest.approx(chamber.low[2] + 0.005)
    assert model.body("high").solid.bounds[0, 2] == pytest.approx(inlet.low[2] + 0.25 - 0.12)
    assert model.body("low").where == model.body("high").where == "sump"


def wrong(**changes):
    """Return the compartments with one changed: number -> fields."""
    made = [dict(item) for item in SUMP["compartments"]]
    for key, fields in changes.items():
        made[int(key[1:]) - 1].update(fields)
    return [{k: v for k, v in item.items() if v is not None} for item in made]


@pytest.mark.parametrize(
    ("more", "path", "told"),
    [
        (
            {"compartments": wrong(c2={"name": "inlet"})},
            "compartments[2].name",
            "two compartments are called 'inlet'",
        ),
        ({"compartments": wrong(c2={"name": "a.b"})}, "compartments[2].name", "without dots"),
        ({"compartments": wrong(c1={"length": None})}, "compartments[1]", "inlet lacks its length"),
        ({"compartments": wrong(c2={"baffle": None})}, "compartments[2]", "media lacks its baffle"),
        ({"compartments": wrong(c3={"length": 100})}, "compartments[3]", "has a length or a baffle"),
        ({"compartments": wrong(c3={"level": None})}, "compartments[3]", "has no water level"),
        (
            {"compartments": wrong(c3={"level": 400})},
            "compartments[3].level",
            "400 mm above the floor of a sump 350 mm",
        ),
        (
            {"compartments": wrong(c1={"baffle": {"height": 400}})},
            "compartments[1].baffle.height",
            "400 mm above",
        ),
        (
            {"compartments": wrong(c2={"baffle": {"height": 100, "gap": 100}})},
            "compartments[2].baffle",
            "with a gap of 100 mm below it",
        ),
        (
            {"compartments": wrong(c2={"media": {"bottom": 90, "top": 80}})},
            "compartments[2].media",
            "from 90 mm to 80 mm",
        ),
        ({"compartments": wrong(c2={"media": {"top": 380}})}, "compartments[2].media", "at most 350 mm"),
        ({"compartments": wrong(c2={"length": 630})}, "compartments", "leave 4 mm for chamber"),
        ({"turn": {"tip_back": 5}}, "turn", "stands upright"),
        ({"turn": 45}, "turn", "a turn of 0, 90, 180 or 270"),
        ({"at": {"in": "stnd", "left": 1, "front": 1, "bottom": 0}}, "at", "nearest: 'stand'"),
        ({"at": {"in": "stand.a", "left": 1, "front": 1, "bottom": 0}}, "at", "'stand.a' is not a space"),
        ({"at": {"in": "stand", "left": 1, "front": 1, "waterline": 0}}, "at", "has no waterline of its own"),
    ],
)
def test_a_sump_that_can_t_be_is_refused_where_it_says_so(refused, more, path, told):
    (only,) = refused({**STAND, "sump": {**SUMP, **more}})
    assert told in str(only)
    assert only.path == f"parts.sump.{path}"


@pytest.mark.parametrize(
    ("more", "path", "told"),
    [
        ({"height": 100, "board": 40}, "height", "the boards fill the stand"),
        ({"posts": 8, "board": 150}, "posts", "boards of 150 mm fill a stand 1,224 mm long"),
        ({"height": 30}, "height", "50 mm or more"),
    ],
)
def test_a_stand_that_can_t_be_is_refused_where_it_says_so(refused, more, path, told):
    (only,) = refused({"stand": {**STAND["stand"], **more}})
    assert told in str(only)
    assert only.path == f"parts.stand.{path}"


def test_the_stand_s_boards_and_mat(built, sound):
    model = built(
        {"stand": {"kind": "stand", "height": 800, "board": 30, "overhang": 20, "posts": 2, "mat": 5}}
    )
    sound(model)
    volume = {body.name.removeprefix("stand."): body.solid.volume for body in model.bodies_of("stand")}
    board = 1.264 * 0.664 * 0.03
    assert volume["top"] == volume["bottom"] == pytest.approx(board)
    assert volume["left"] == volume["right"] == pytest.approx(0.03 * 0.664 * 0.74)
    assert volume["post_1"] == volume["post_2"] == pytest.approx(0.03 * 0.06 * 0.74)
    assert volume["mat"] == pytest.approx(1.224 * 0.624 * 0.005)
    posts = sorted(model.body(f"stand.post_{n}").solid.bounds[:, 0].tolist() for n in (1, 2))
    left, right = model.body("stand.left").solid.bounds[1, 0], model.body("stand.right").solid.bounds[0, 0]
    gaps = np.diff([left, *posts[0], *posts[1], right])[::2]
    assert gaps == pytest.approx([gaps[0]] * 3)
    space = model.spaces["stand"]
    assert space.high[2] - space.low[2] == pytest.approx(0.74)
    assert model.body("stand.bottom").solid.bounds[0, 2] == pytest.approx(-0.012 - 0.005 - 0.8)


SIZES = st.integers(20, 1200)
COMPARTMENTS = st.lists(
    st.fixed_dictionaries(
        {"name": st.sampled_from(["a", "b", "c", "d"]), "length": st.integers(20, 500)},
        optional={
            "level": st.integers(0, 400),
            "baffle": st.fixed_dictionaries(
                {"height": st.integers(20, 400)},
                optional={"gap": st.integers(0, 300), "thickness": st.integers(1, 50)},
            ),
            "media": st.fixed_dictionaries(
                {"top": st.integers(20, 400)}, optional={"bottom": st.integers(0, 400)}
            ),
        },
    ),
    max_size=3,
)


@settings(max_examples=20, derandomize=True)
@given(
    st.lists(SIZES, min_size=3, max_size=3),
    st.integers(1, 50),
    COMPARTMENTS,
    st.sampled_from([0, 90, 30, {"tip_left": 1}]),
    st.integers(0, 8),
    st.integers(5, 200),
)
def test_a_sump_of_any_make_is_sound_or_refused(any_make, inside, glass, compartments, turn, posts, board):
    sump = {
        "kind": "sump",
        "at": {"in": "stand", "left": 10, "front": 10, "bottom": 0},
        "inside": inside,
        "glass": glass,
        "turn": turn,
        "compartments": [*compartments, {"name": "last", "level": 10}],
    }
    any_make({"stand": {"kind": "stand", "height": 700, "posts": posts, "board": board}, "sump": sump})
