"""Pumps, lights, heaters, mist makers and baskets: sizes, ports, what is kept clear, and odd figures."""

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from layout3d.catalog import default
from layout3d.solid.boolean import components
from layout3d.solid.distance import gap, inside, overlap

CATALOG = default()
AT = {"left": 400, "front": 300, "bottom": 100}


@pytest.mark.parametrize("model_name", CATALOG.names("pumps"))
@pytest.mark.parametrize("faces", ["up", "side"])
def test_every_pump_has_an_outlet_a_tube_goes_on(built, sound, model_name, faces):
    air = CATALOG.pump(model_name).air
    model = built({"pump": {"kind": "pump", "model": model_name, "faces": faces, "at": AT, "air": air}})
    sound(model)
    entry, port = CATALOG.pump(model_name), model.ports["pump.outlet"]
    length, _width, height = entry.size
    assert port.end == "barb"
    assert port.direction == pytest.approx((0, 0, 1) if faces == "up" else (1, 0, 0))
    low, high = model.body("pump").solid.bounds
    axis = 2 if faces == "up" else 0
    assert high[axis] == pytest.approx(port.at[axis])
    others = [k for k in range(3) if k != axis]
    assert (high - low)[others] == pytest.approx(np.array(entry.size)[others])
    tube = CATALOG.tube(port.size)
    assert tube.inside == pytest.approx(entry.outlet, abs=0.0006)
    assert len(components(model.body("pump").solid)) == 1
    # water can come to the outlet: a way from its mouth down into the casing
    axis_points = np.array(port.at) - np.outer([0.001, 0.5 * port.depth, port.depth], port.direction)
    assert not inside(model.body("pump").solid, axis_points).any()
    assert model.built["pump"].anchors["inlet"] == pytest.approx((0.4 - length / 2, 0.3, 0.1 + 0.45 * height))


@pytest.mark.parametrize("outlet", ["d25 pn 10", "3/4 in sch 40"])
@pytest.mark.parametrize("turn", [0, 30, {"about_up": 90, "tip_right": 90}])
def test_a_pipe_goes_into_a_pump_s_socket(built, sound, outlet, turn):
    pump = {"kind": "pump", "model": "large 5000", "outlet": outlet, "faces": "side", "at": AT, "turn": turn}
    model = built({"pump": pump})
    port = model.ports["pump.outlet"]
    assert (port.end, port.size, port.depth) == ("socket", outlet, CATALOG.pipe(outlet).socket_depth)
    way = [float(200 * x) for x in port.direction]
    model = built(
        {"pump": pump, "run": {"kind": "run", "pipe": outlet, "start": "pump.outlet", "route": [{"by": way}]}}
    )
    sound(model)
    pipe, body = model.body("run.pipe_1").solid, model.body("pump").solid
    assert overlap(pipe, body) is None
    assert gap(pipe, body).distance < 1e-5
    assert model.built["run"].data.elements[0].cut_length == pytest.approx(0.2 + port.depth)


def test_heater_mist_maker_and_light_have_their_volume(built, sound):
    over = {"left": 600, "front": 300, "top": -200}
    model = built(
        {
            "rod": {"kind": "heater", "length": 200, "diameter": 30, "at": AT, "clear": 40},
            "mist": {"kind": "mist_maker", "diameter": 40, "height": 30, "at": {**AT, "left": 700}},
            "lamp": {"kind": "light", "size": [800, 100, 20], "cords": 300, "at": over},
        }
    )
    sound(model)
    rod = math.pi * 0.015**2 * 0.84 * 0.2 + math.pi * (0.62 * 0.03) ** 2 * 0.16 * 0.2
    assert model.body("rod").solid.volume == pytest.approx(rod, rel=1e-6)
    assert model.body("rod").mass == pytest.approx(rod * CATALOG.material("glass").density / 2, rel=1e-6)
    assert model.body("rod").porosity == 0.0
    mist = math.pi * 0.02**2 * 0.024 + math.pi * 0.014**2 * 0.006
    assert model.body("mist").solid.volume == pytest.approx(mist, rel=1e-6)
    lamp = 0.8 * 0.1 * 0.02 - 4 * 0.025**2 / 2 * 0.02 + 2 * math.pi * 0.0015**2 * 0.3
    assert model.body("lamp").solid.volume == pytest.approx(lamp, rel=1e-3)
    assert model.body("lamp").where == "room"
    assert model.built["lamp"].anchors["source"] == pytest.approx((0.6, 0.3, 0.8))
    (clear,) = model.built["rod"].keep_clear
    assert clear.solid.bounds[:, 2] == pytest.approx([0.3, 0.34])


def test_a_filter_basket_is_walls_of_which_a_share_is_slots(built, sound):
    basket = {"kind": "filter_basket", "size": [200, 150, 180], "wall": 4, "open_share": 0.3, "at": AT}
    model = built({"basket": basket})
    sound(model)
    body = model.body("basket")
    assert body.solid.volume == pytest.approx(0.2 * 0.15 * 0.18 - 0.192 * 0.142 * 0.176)
    assert body.porosity == 0.3
    assert body.mass == pytest.approx(body.solid.volume * 0.7 * CATALOG.material("polypropylene").density)
    (clear,) = model.built["basket"].keep_clear
    assert clear.solid.bounds[:, 2] == pytest.approx([0.28, 0.43])


def test_a_turned_part_is_turned_about_its_base_point(built):
    """About its own length, then about the upright, then its top leans towards the tank's own sides."""
    rod = {"kind": "heater", "length": 200, "diameter": 20, "at": AT}
    half = math.sqrt(0.5)
    for turn, top in (
        ({"tip_front": 90}, (0.4, 0.3 - 0.2, 0.1)),
        ({"tip_back": 90}, (0.4, 0.3 + 0.2, 0.1)),
        ({"tip_left": 90}, (0.2, 0.3, 0.1)),
        ({"tip_right": 90}, (0.6, 0.3, 0.1)),
        ({"tip_right": 90, "about_up": 90}, (0.6, 0.3, 0.1)),
        ({"tip_right": 90 * half, "tip_back": 90 * half}, (0.4 + 0.2 * half, 0.3 + 0.2 * half, 0.1)),
        ({"about_length": 77}, (0.4, 0.3, 0.3)),
        (45, (0.4, 0.3, 0.3)),
    ):
        model = built({"rod": {**rod, "turn": turn}})
        assert model.built["rod"].anchors["top"] == pytest.approx(top)


@pytest.mark.parametrize(
    ("part", "path", "told"),
    [
        ({"kind": "pump", "model": "smal 600"}, "model", "nearest: 'small 600'"),
        (
            {"kind": "pump", "model": "small 300", "outlet": "2 in sch 40"},
            "outlet",
            "an outlet 70 mm wide on a pump",
        ),
        ({"kind": "pump", "model": "small 300", "outlet": "hose"}, "outlet", "neither a pipe nor a tube"),
        ({"kind": "filter_basket", "size": [50, 50, 50], "wall": 25}, "wall", "the walls fill the basket"),
        ({"kind": "heater", "at": {"from": "lamp.source"}}, "at", "no part or hole is called 'lamp'"),
        ({"kind": "heater", "at": {"from": "tank.lid"}}, "at", "a part with anchors (tank has none)"),
        ({"kind": "heater", "at": {"lefft": 3, "front": 1, "bottom": 0}}, "at", "nearest: 'left'"),
        ({"kind": "heater", "at": {"left": 3, "right": 4, "front": 1, "bottom": 0}}, "at", "left and right"),
        (
            {"kind": "heater", "at": {"in": "tank.x", "left": 3, "front": 1, "bottom": 0}},
            "at",
            "is not a space",
        ),
    ],
)
def test_equipment_that_can_t_be_is_refused_where_it_says_so(refused, part, path, told):
    (only,) = refused({"thing": {"at": AT, **part}})
    assert told in str(only)
    assert only.path == f"parts.thing.{path}"


def test_an_air_pump_of_the_catalogue_is_no_water_pump(refused):
    (only,) = refused({"pump": {"kind": "pump", "model": "air 300", "at": AT}})
    assert "air 300 is an air pump" in str(only)
    assert "`air: true`" in str(only)


def test_a_pump_with_an_outlet_that_no_tube_fits_asks_for_one(refused):
    catalog = {"pumps": {"mine": {"like": "small 600", "outlet": 37}}}
    (only,) = refused({"pump": {"kind": "pump", "model": "mine", "at": AT}}, catalog=catalog)
    assert "no tube of 37 mm bore is in the catalogue" in str(only)
    assert "`outlet:` with the name of a pipe or tube" in str(only)


SIDES = st.sampled_from([1, 5, 10, 20, 33, 150, 900, 4000])
TURNS = st.one_of(
    st.integers(-360, 360),
    st.fixed_dictionaries(
        {},
        optional=dict.fromkeys(("about_up", "about_length", "tip_right", "tip_front"), st.integers(0, 180)),
    ),
)
EQUIPMENT = st.one_of(
    st.fixed_dictionaries(
        {
            "kind": st.just("pump"),
            "model": st.one_of(
                st.just("mine"),
                st.sampled_from([n for n in CATALOG.names("pumps") if not CATALOG.pump(n).air]),
            ),
            "faces": st.sampled_from(["up", "side"]),
        },
        optional={
            "outlet": st.sampled_from(
                ["3/8 in sch 40", "3 in sch 80", "4/6 mm", "40/49 mm", "d63 pn 10", "1 in flexible"]
            ),
            "clear": st.integers(0, 500),
        },
    ),
    st.fixed_dictionaries(
        {"kind": st.just("light"), "size": st.lists(SIDES, min_size=3, max_size=3)}, optional={"cords": SIDES}
    ),
    st.fixed_dictionaries(
        {"kind": st.just("heater")}, optional={"length": SIDES, "diameter": SIDES, "clear": SIDES}
    ),
    st.fixed_dictionaries({"kind": st.just("mist_maker")}, optional={"diameter": SIDES, "height": SIDES}),
    st.fixed_dictionaries(
        {"kind": st.just("filter_basket"), "size": st.lists(SIDES, min_size=3, max_size=3)},
        optional={"wall": SIDES, "open_share": st.floats(0, 1)},
    ),
)
CATALOGS = st.fixed_dictionaries(
    {"like": st.just("small 600"), "size": st.lists(SIDES, min_size=3, max_size=3)}
)


@settings(max_examples=36, derandomize=True)
@given(EQUIPMENT, TURNS, CATALOGS)
def test_equipment_of_any_make_is_sound_or_refused(any_make, part, turn, pump):
    any_make({"thing": {**part, "at": AT, "turn": turn}}, catalog={"pumps": {"mine": pump}})
