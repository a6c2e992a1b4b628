"""Building a scene: parts that need each other, names and places, one mistake each, and what is made anew."""

from typing import Any

import numpy as np
import pytest
from plain_scenes import as_text

from layout3d import keep
from layout3d.checks.measure import Joins
from layout3d.errors import LayoutError, SceneRefused
from layout3d.model.build import build_model
from layout3d.model.model import Model
from layout3d.parts.shapes import natural
from layout3d.scene.reader import read_scene

TANK = {
    "kind": "tank",
    "inside": [1200, 600, 600],
    "glass": 12,
    "holes": {"out": {"panel": "back", "left": 300, "bottom": 300, "bulkhead": "3/4 in thin"}},
}
RUN = {"kind": "run", "pipe": "3/4 in sch 40", "route": [{"up": 150}]}
ROCK = {"kind": "rock", "size": [90, 80, 70], "detail": 500}


def built(parts: dict[str, Any], **head: Any) -> Model:
    scene = {"format": 1, "units": "mm", "waterline": 200, **head, "parts": {"tank": TANK, **parts}}
    return build_model(read_scene("model.yaml", text=as_text(scene)))


def mistakes(parts: dict[str, Any], **head: Any) -> tuple[LayoutError, ...]:
    with pytest.raises(SceneRefused) as refused:
        built(parts, **head)
    return refused.value.mistakes


# -- parts that need each other --------------------------------------------------------------------


def test_parts_may_stand_in_any_order_and_bodies_keep_the_file_s():
    parts = {
        "branch": {**RUN, "start": "riser.tee_1"},
        "riser": {**RUN, "start": [300, 300, 50], "route": [{"right": 100}, {"tee": "up"}, {"right": 90}]},
    }
    names = [body.name for body in built(parts).bodies if body.part != "tank"]
    assert names[0] == "branch.pipe_1"
    assert names[1:] == ["riser.pipe_1", "riser.tee_1", "riser.pipe_2"]


@pytest.mark.parametrize(
    ("parts", "path", "circle"),
    [
        ({"a": {**RUN, "start": "b.end"}, "b": {**RUN, "start": "a.end"}}, "b.start", "a -> b -> a"),
        (
            {
                "a": {**RUN, "start": [9, 9, 9], "route": [{"to": {"from": "b.end"}}]},
                "b": {**RUN, "start": "c.end"},
                "c": {**RUN, "start": "a.end"},
            },
            "c.start",
            "a -> b -> c -> a",
        ),
        (
            {
                "stone": {**ROCK, "at": {"from": "bed.top"}},
                "bed": {"kind": "substrate", "depth": 50, "pitch": 50},
            },
            "bed",
            "stone -> bed -> stone",
        ),
    ],
)
def test_parts_that_need_each_other_in_a_circle_are_told_once(parts, path, circle):
    (only,) = mistakes(parts)
    assert only.found == f"parts stand on each other in a circle: {circle}"
    assert only.path == f"parts.{path}"
    assert only.place.line > 0


def test_a_run_that_would_join_itself_is_told_how_a_ring_is_laid():
    (only,) = mistakes({"ring": {**RUN, "start": [9, 9, 9], "route": [{"to": {"from": "ring.end"}}]}})
    assert only.found == "ring is measured from itself, which is not built yet"
    assert "two runs" in only.remedy
    assert only.path == "parts.ring.route[1].to"


def test_what_hangs_on_a_bad_part_is_not_told_too():
    parts = {
        "riser": {**RUN, "start": "gone.end"},
        "branch": {**RUN, "start": "riser.end"},
        "third": {**RUN, "start": "branch.end"},
        "bed": {"kind": "substrate", "depth": 50, "pitch": 50},
    }
    (only,) = mistakes(parts)
    assert only.path == "parts.riser.start"
    parts["stone"] = {**ROCK, "at": {"in": "nowhere", "left": 1, "front": 1, "bottom": 1}}
    assert [m.path for m in mistakes(parts)] == ["parts.riser.start", "parts.stone.at"]


def test_a_long_chain_of_parts_is_built_from_its_beginning_and_refused_from_its_end():
    first = {"r0": {**RUN, "start": [300, 300, 50], "route": [{"up": 5}]}}
    chain = first | {f"r{i}": {**RUN, "start": f"r{i - 1}.end", "route": [{"up": 5}]} for i in range(1, 100)}
    assert built(chain).ports["r99.end"].at == pytest.approx((0.3, 0.3, 0.55))
    backward = dict(reversed(chain.items()))
    found = mistakes(backward)
    assert "30 parts that each need the next one, down to r69" in found[0].found
    assert found[0].remedy.startswith("write the parts that others start from")


# -- names -----------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("parts", "path", "told"),
    [
        ({"r": {**RUN, "start": "ouut.inside"}}, "r.start", "no part or hole is called 'ouut'"),
        (
            {"r": {**RUN, "start": "out.insde"}},
            "r.start",
            "one of: out.inside, out.outside; nearest: 'out.inside'",
        ),
        ({"r": {**RUN, "start": "tank"}}, "r.start", "'tank' is not a port"),
        (
            {"r": {**RUN, "start": "s.outlet"}, "s": {**ROCK, "at": [9, 9, 9]}},
            "r.start",
            "a part with ports (s.outlet has none)",
        ),
        ({"s": {**ROCK, "at": {"from": "out.midle"}}}, "s.at", "nearest: 'tank.out.inside'"),
        ({"s": {**ROCK, "at": {"in": "tankk", "left": 1, "front": 1, "top": 1}}}, "s.at", "nearest: 'tank'"),
        (
            {"s": {**ROCK, "at": {"in": "tank.x", "left": 1, "front": 1, "top": 1}}},
            "s.at",
            "'tank.x' is not a space",
        ),
        (
            {
                "s": {**ROCK, "at": {"in": "u", "left": 1, "front": 1, "top": 1}},
                "u": {**ROCK, "at": [9, 9, 9]},
            },
            "s.at",
            "a tank, a sump or one of its compartments",
        ),
        ({"s": {**ROCK, "at": [9, 9, 9], "fixed_to": "tank.bock"}}, "s.fixed_to", "nearest: 'tank.back'"),
    ],
)
def test_a_name_that_nothing_bears_is_told_with_the_nearest(parts, path, told):
    (only,) = mistakes(parts)
    assert told in str(only)
    assert only.path == f"parts.{path}"


def test_names_in_clearances_and_acceptances_are_held_against_bodies_ports_and_spaces():
    stone = {"stone": {**ROCK, "at": [300, 300, 0]}}
    fine = {
        "clearances": [
            {"between": ["stone", "tank.front"], "at_least": 20},
            {"between": ["rock", "glass"], "at_least": 5},
        ],
        "accept": [{"rule": "any", "parts": ["stone", "out", "tank.out.inside", "tank"], "why": "known"}],
    }
    assert built(stone, **fine)
    found = mistakes(
        stone,
        clearances=[
            {"between": ["ston", "tank"], "at_least": 3},
            {"between": ["stone", "out"], "at_least": 3},
        ],
        accept=[{"rule": "any", "parts": ["stone", "tank.frnt"], "why": "known"}],
    )
    assert [(m.path, m.found) for m in found] == [
        ("clearances[1]", "nothing in the scene is called 'ston'"),
        ("clearances[2]", "nothing in the scene is called 'out'"),  # a hole has no body to keep clear of
        ("accept[1]", "nothing in the scene is called 'tank.frnt'"),
    ]


def test_water_above_the_rim_is_told_in_the_scene_s_units():
    (only,) = mistakes({}, waterline=700)
    assert only.found == "the waterline is 100 mm above the tank's rim"
    (only,) = mistakes({}, waterline=700, style="inch")
    assert only.found == "the waterline is 3.94 in above the tank's rim"


# -- places ----------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("at", "expected"),
    [
        ([300, 200, 100], (0.3, 0.2, 0.1)),
        ({"left": 300, "front": 200, "bottom": 100}, (0.3, 0.2, 0.1)),
        ({"right": 300, "back": 200, "top": 100}, (0.9, 0.4, 0.5)),
        ({"x": 300, "y": 200, "z": 100}, (0.3, 0.2, 0.1)),
        ({"left": 300, "back": 200, "waterline": -50}, (0.3, 0.4, 0.15)),
        ({"left": 300, "back": 200, "ground": 10}, (0.3, 0.4, 0.06)),  # the bed is 50 mm deep
        ({"in": "tank", "left": 300, "back": 200, "ground": 10}, (0.3, 0.4, 0.06)),
        ({"in": "stand", "left": 0, "front": 0, "bottom": 0}, (0.024, -0.012, -0.782)),
        ("out", (0.3, 0.6, 0.3)),
        ({"from": "out", "offset": [10, -20, 30]}, (0.31, 0.58, 0.33)),
        ({"from": "tank.out"}, (0.3, 0.6, 0.3)),
        ({"from": "out.inside"}, (0.3, 0.6 - 0.008, 0.3)),
        ({"from": "pump.outlet", "offset": [0, 0, 50]}, None),
    ],
)
def test_where_a_position_lies(at, expected):
    parts = {
        "stand": {"kind": "stand", "height": 800},
        "bed": {"kind": "substrate", "depth": 50, "pitch": 50},
        "pump": {"kind": "pump", "model": "small 600", "at": [800, 300, 60]},
        "rod": {"kind": "heater", "length": 100, "diameter": 20, "at": at},
    }
    model = built(parts)
    low, high = model.body("rod").solid.bounds
    if expected is None:
        port = model.ports["pump.outlet"].at
        expected = (port[0], port[1], port[2] + 0.05)
    assert ((low + high) / 2)[:2] == pytest.approx(expected[:2])
    assert low[2] == pytest.approx(expected[2])


# -- what a model tells -----------------------------------------------------------------------------


def test_names_mean_bodies_parts_and_groups():
    model = built(
        {
            "stone": {**ROCK, "at": [300, 300, 0]},
            "riser": {**RUN, "start": "out.inside", "route": [{"front": 99}]},
        }
    )
    assert [b.name for b in model.bodies_of("stone")] == ["stone"]
    assert [b.name for b in model.bodies_of("tank.back", "stone")] == ["tank.back", "stone"]
    assert {b.name for b in model.bodies_of("plumbing")} == {"tank.out", "riser.pipe_1"}
    assert {b.kind for b in model.bodies_of("glass")} == {"panel", "silicone"}
    assert model.bodies_of("nothing") == ()
    assert model.body("tank.out").kind == "bulkhead"
    with pytest.raises(KeyError):
        model.body("tank.lid")
    assert [item.part.name for item in model.of_kind("rock", "run")] == ["stone", "riser"]
    assert [part.name for part in model.scene.parts] == ["tank", "stone", "riser"]
    joins = Joins(model)
    assert joins.how(model.body("tank.out"), model.body("riser.pipe_1"))
    assert not joins.how(model.body("tank.out"), model.body("stone"))
    assert model.waterline == pytest.approx(0.2)


# -- what is made anew -------------------------------------------------------------------------------


@pytest.fixture
def made(monkeypatch):
    """The shapes that are made in a test, by what makes them; nothing is kept on disk."""
    monkeypatch.setenv("LAYOUT3D_CACHE", "off")
    keep.forget()
    calls: list[str] = []

    def count(name):
        maker = getattr(natural, name)

        def counted(*args, **kwargs):
            calls.append(name)
            return maker(*args, **kwargs)

        monkeypatch.setattr(natural, name, counted)

    for name in ("rock", "driftwood", "plant", "heightfield"):
        count(name)
    return calls


NATURE = {
    "bed": {"kind": "substrate", "depth": 50, "pitch": 50},
    "stone": {**ROCK, "at": {"left": 200, "front": 200, "ground": -10}, "seed": 1},
    "other": {**ROCK, "at": {"left": 600, "front": 200, "ground": -10}, "seed": 2},
    "log": {"kind": "wood", "length": 200, "detail": 2000, "at": {"left": 400, "front": 400, "ground": 0}},
    "fern": {"kind": "plant", "height": 90, "spread": 120, "at": {"left": 900, "front": 400, "ground": 0}},
    "wall": {"kind": "background", "panels": ["back"], "thickness": 40, "relief": {"pitch": 40}},
    "riser": {**RUN, "start": "out.inside", "route": [{"front": 99}, {"up": 99}]},
}


def test_an_unchanged_scene_makes_nothing_anew(made):
    one = built(NATURE)
    assert sorted(made) == ["driftwood", "heightfield", "heightfield", "plant", "plant", "rock", "rock"]
    made.clear()
    two = built(NATURE)
    assert made == []
    assert [body.solid.shape.key for body in one.bodies] == [body.solid.shape.key for body in two.bodies]


def test_one_changed_part_is_made_anew_and_no_other(made):
    one = built(NATURE)
    made.clear()
    two = built(NATURE | {"other": NATURE["other"] | {"seed": 3}})
    assert made == ["rock"]
    changed = {a.name for a, b in zip(one.bodies, two.bodies, strict=True) if a.solid.shape != b.solid.shape}
    assert changed == {"other", "bed"}  # the bed lies around it


def test_a_part_that_only_moves_keeps_its_shape(made):
    one = built(NATURE)
    made.clear()
    two = built(
        NATURE | {"stone": NATURE["stone"] | {"turn": 30, "at": {"left": 250, "front": 200, "ground": -10}}}
    )
    assert made == []
    assert one.body("stone").solid.shape == two.body("stone").solid.shape
    assert not np.allclose(one.body("stone").solid.bounds, two.body("stone").solid.bounds)


def test_shapes_come_back_from_disk(made, monkeypatch, tmp_path):
    monkeypatch.setenv("LAYOUT3D_CACHE", str(tmp_path))
    monkeypatch.setattr(keep, "WORTH_FILING", 0.0)
    one = built(NATURE)
    keep.forget()
    made.clear()
    two = built(NATURE)
    assert made == []
    assert [body.solid.shape.key for body in one.bodies] == [body.solid.shape.key for body in two.bodies]


@pytest.mark.parametrize(
    "turn", [0, {"tip_right": 90}, {"tip_left": 35, "about_length": 120}, {"tip_back": 180}]
)
@pytest.mark.parametrize(
    "part",
    [
        {"kind": "wood", "length": 300, "thickness": 40, "branches": 0, "detail": 2000},
        {"kind": "pump", "model": "small 600"},
        {"kind": "heater", "length": 200},
        {"kind": "filter_basket", "size": [100, 80, 120]},
    ],
)
def test_what_stands_on_the_ground_does_so_with_its_lowest_point_however_it_is_turned(part, turn):
    at = {"left": 600, "front": 300, "ground": 5}
    model = built(
        {"bed": {"kind": "substrate", "depth": 30, "pitch": 50}, "it": {**part, "at": at, "turn": turn}}
    )
    assert model.body("it").solid.bounds[0, 2] == pytest.approx(0.035, abs=1e-9)


def test_a_log_turned_about_its_own_length_keeps_its_ends_where_they_are():
    """One meaning for every kind: the longest side, along x for this log and upright for a heater."""
    log = {
        "kind": "wood",
        "length": 300,
        "thickness": 40,
        "branches": 2,
        "detail": 2000,
        "at": [600, 300, 100],
    }
    plain, turned = (
        built({"log": {**log, "turn": {"about_length": angle}}}).body("log").solid for angle in (0, 90)
    )
    assert turned.bounds[:, 0] == pytest.approx(plain.bounds[:, 0])
    assert turned.vertices[:, 1] - 0.3 == pytest.approx(-(plain.vertices[:, 2] - 0.1))


def test_a_word_that_is_no_turn_is_told_with_those_that_are():
    (only,) = mistakes({"log": {"kind": "wood", "length": 300, "at": [600, 300, 100], "turn": {"spin": 10}}})
    assert "a turn has no key 'spin'" in str(only)
    assert all(word in only.expected for word in ("about_up", "about_length", "tip_front", "tip_left"))
