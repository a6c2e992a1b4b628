"""Bad scenes: every mistake is told in one run with its place, what was expected and the nearest name."""

import copy
import math
import unicodedata
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from plain_scenes import as_text, build_plain

from layout3d.errors import LayoutError, SceneRefused
from layout3d.model.build import build_model
from layout3d.parts.registry import is_tank, kinds
from layout3d.scene.reader import read_scene

TANK = """\
format: 1
units: mm
waterline: 180
parts:
  tank:
    kind: tank
    inside: [900, 450, 500]
    glass: 10
"""
PIPE = "  riser: {kind: run, pipe: 3/4 in sch 40, start: [100, 100, 50], route: "


def mistakes_of(text: str, **overrides: str) -> tuple[LayoutError, ...]:
    with pytest.raises(SceneRefused) as refused:
        build_model(read_scene("bad.yaml", text=text, overrides=overrides))
    return refused.value.mistakes


def changed(old: str, new: str) -> str:
    assert old in TANK
    return TANK.replace(old, new)


def test_cameras_stand_where_arithmetic_and_other_parts_put_them():
    at = "{left: -40 cm, front: -2 * tank.inside_depth, waterline: 2 in}"
    cameras = f"cameras: {{low: {{at: {at}, target: drain}}}}\n"
    drilled = changed(
        "glass: 10", "glass: 10\n    holes: {drain: {panel: back, left: 200, bottom: 300, diameter: 30}}"
    )
    model = build_model(read_scene("good.yaml", text=drilled + cameras))
    camera = model.cameras["low"]
    assert camera.at == pytest.approx((-0.4, -0.9, 0.18 + 0.0508))
    assert (camera.target[0], camera.target[2]) == pytest.approx((0.2, 0.3))
    assert camera.angle == pytest.approx(math.radians(35.0))


def test_the_plain_scene_reads():
    model = build_model(read_scene("good.yaml", text=TANK))
    assert model.tank.height == pytest.approx(0.5)


@pytest.mark.parametrize(
    ("text", "line", "column", "told"),
    [
        # wrong types
        (changed("glass: 10", "glass: [10]"), 8, 12, "a list stands here"),
        (changed("[900, 450, 500]", "{a: 1}"), 7, 13, "no list of 3 stands here"),
        (changed("[900, 450, 500]", ""), 7, 12, "no list of 3 stands here"),
        (changed("units: mm", "units: [mm]"), 2, 8, "a list stands here"),
        (TANK + "  rock: hello\n", 9, 9, "a scalar stands here"),
        (TANK + "  rock: {}\n", 9, 9, "no `kind:`"),
        (TANK + "  rock: {kind: [rock]}\n", 9, 16, "a list stands here"),
        (TANK + "values: [1]\n", 9, 9, "a list stands here"),
        (TANK + "limits: [1]\n", 9, 9, "a list stands here"),
        (TANK + "conditions: 3\n", 9, 13, "no mapping stands here"),
        (TANK + "clearances: [hello]\n", 9, 14, "no mapping stands here"),
        ("- 1\n", 1, 1, "the file is a list"),
        ("hello\n", 1, 1, "the file is one line of text"),
        ("format: 1\nunits: mm\nwaterline: 1\nparts: [a]\n", 4, 8, "a list stands here"),
        # unknown and missing names
        (changed("kind: tank", "kind: tnak"), 6, 11, "nearest: 'tank'"),
        (changed("glass: 10", "glass: 10\n    tempred: [back]"), 9, 5, "nearest: 'tempered'"),
        (changed("glass: 10", "glass: thick"), 8, 12, "no value is called 'thick'"),
        (changed("glass: 10", "glass: tnak.height / 50"), 8, 12, "nearest: 'tank'"),
        (changed("waterline: 180", "waterline: tank.inside_hight / 2"), 3, 12, "nearest: 'inside_height'"),
        (changed("    glass: 10\n", ""), 6, 5, "lacks 'glass'"),
        (changed("format: 1\n", ""), 1, 1, "lacks 'format'"),
        (changed("format: 1", "format: 2"), 1, 9, "one of: 1"),
        (changed("waterline: 180", "waterlin: 180"), 3, 1, "nearest: 'waterline'"),
        (TANK + "limits: {freebord: 3}\n", 9, 20, "nearest: 'freeboard'"),
        (TANK + "limits: {tip_angle: 2}\n", 9, 21, "tip_angle of 2° lies under tip_angle_least, which is 3°"),
        (
            TANK + "limits: {velocity_most: 9 m/s, frail_load_most: 5 N}\n",
            9,
            49,
            "10 N lies over frail_load_most",
        ),
        (TANK + "catalog: {pips: {}}\n", 9, 17, "nearest: 'pipes'"),
        (TANK + "clearances: [{between: [tank, stone], at_least: 3}]\n", 9, 14, "is called 'stone'"),
        (TANK + "accept: [{rule: any, parts: [drain], why: known}]\n", 9, 10, "is called 'drain'"),
        # cameras
        (TANK + "cameras: {low: {at: [0, 0, 0]}}\n", 9, 16, "lacks 'target'"),
        (
            TANK + "cameras: {low: {at: [0, 0, 0], target: [1, 2], angle: 20}}\n",
            9,
            40,
            "a list of 2 stands here",
        ),
        (TANK + "cameras: {low: {at: [0, 0, 0], target: [9, 9, 9], angle: 150}}\n", 9, 58, "at most 120°"),
        (
            TANK + "cameras: {low: {at: [0, 0, 0], target: [9, 9, tank.hight]}}\n",
            9,
            47,
            "no dimension 'hight'",
        ),
        (TANK + "cameras: {low: {at: [0, 0, 0], target: [0, 0, 0]}}\n", 9, 40, "stands where it looks"),
        (TANK + "cameras: {low: {at: [0, 0, 0], target: pmup.outlet}}\n", 9, 40, "is called 'pmup'"),
        (TANK + "cameras: {lo w: {at: [0, 0, 0], target: [9, 9, 9]}}\n", 9, 10, "'lo w' can't be a name"),
        (TANK + "cameras: [low]\n", 9, 10, "no mapping stands here"),
        # circles
        (changed("900", "tank.inside_length"), 7, 14, "a circle of names"),
        (TANK + "values: {a: b, b: a}\n", 9, 19, "values.a -> values.b -> values.a"),
        # sizes that no tank has
        (changed("glass: 10", "glass: 0"), 8, 12, "1 mm or more"),
        (changed("glass: 10", "glass: -10"), 8, 12, "1 mm or more"),
        (changed("glass: 10", "glass: .nan"), 8, 12, "not a figure"),
        (changed("glass: 10", "glass: nan"), 8, 12, "not a figure"),
        (changed("glass: 10", "glass: 1e999"), 8, 12, "too large"),
        (changed("900", "900 km"), 7, 14, "at most 10 m"),
        (changed("waterline: 180", "waterline: -1"), 3, 12, "0 mm or more"),
        (changed("waterline: 180", "waterline: 600"), 3, 12, "100 mm above the tank's rim"),
        (changed("450", "12 kg"), 7, 19, "a mass where a length is wanted"),
        (TANK + "conditions: {humidity: 60}\n", 9, 24, "at most 1"),
        # arithmetic beyond its bounds
        (changed("900", "1/0"), 7, 16, "division by zero"),
        (changed("900", "9^9^9^9"), 7, 17, "a power of"),
        (changed("900", "(" * 90 + "900" + ")" * 90), 7, 44, "nested more than 30 deep"),
        (changed("900", "1+" * 400 + "1"), 7, 14, "at most 500"),
        # holes and panels
        (TANK + "    holes: {a: {panel: back, left: 90, top: 90}}\n", 9, 16, "neither diameter nor bulkhead"),
        (TANK + "    holes: {a: {panel: bck, left: 90, top: 90, diameter: 30}}\n", 9, 24, "nearest: 'back'"),
        (TANK + "    holes: {a: {panel: back, left: 90, diameter: 30}}\n", 9, 16, "one of bottom and top"),
        (
            TANK + "    holes: {a.b: {panel: back, left: 90, top: 90, diameter: 30}}\n",
            9,
            12,
            "can't be a name",
        ),
        (TANK + "    tempered: [bck]\n", 9, 16, "nearest: 'back'"),
        (changed("glass: 10", "glass: {back: 12}"), 8, 12, "no thickness for"),
        # tanks
        (changed("parts:\n", "parts: {}\nx:\n"), 4, 8, "no tank"),
        (TANK + "  two: {kind: tank, inside: [900, 450, 500], glass: 10}\n", 5, 3, "2 tanks"),
        # runs
        (TANK + PIPE + "[up]}\n", 9, 74, "step 'up' without its value"),
        (TANK + PIPE + "[{cap: 3}]}\n", 9, 74, "'cap' alone"),
        (TANK + PIPE + "[{upp: 3}]}\n", 9, 74, "nearest: 'up'"),
        (TANK + PIPE + "[]}\n", 9, 73, "no steps"),
        (TANK + PIPE.replace("40", "41") + "[{up: 300}]}\n", 9, 28, "nearest: '3/4 in sch 40'"),
    ],
)
def test_one_mistake_is_told_where_it_stands(text, line, column, told):
    mistakes = mistakes_of(text)
    assert any(
        (mistake.place.line, mistake.place.column) == (line, column) and told in str(mistake)
        for mistake in mistakes
    ), "\n".join(map(str, mistakes))


def test_a_run_that_starts_nowhere_is_told_in_its_line():
    (only,) = mistakes_of(TANK + PIPE.replace("[100, 100, 50]", "nowhere") + "[{up: 300}]}\n")
    assert only.place.line == 9
    assert only.path.startswith("parts.riser")
    assert "is called 'nowhere'" in only.found
    assert "one of: riser, tank" in only.expected


def test_every_mistake_of_a_file_is_told_in_one_run_in_the_file_s_order():
    text = """\
format: 3
units: cm
waterline: foo
values: {a: 1 parsec, b: a, c: nobody.x}
parts:
  tank:
    kind: tank
    inside: [-1, x, 5 kg]
    gass: 3
  r: {kind: rocc}
  pipe: {kind: run, pipe: 3/4 in sch 41, start: {left: 1, front: 2}, route: [{up: -1}, {upp: 3}, 7, {}]}
limits: {freebord: 1}
"""
    lines = [mistake.place.line for mistake in mistakes_of(text)]
    assert lines == [1, 2, 3, 4, 4, 8, 8, 8, 9, 10, 11, 11, 11, 11, 11, 11, 12]


@pytest.mark.parametrize("word", ["kind: tank", "glass:", "waterline:"])
def test_a_misspelt_word_is_told_once(word):
    """Not a second time as what is lacking then."""
    (only,) = mistakes_of(changed(word, word[:-2] + word[-1]))
    assert "nearest: " in only.expected


def test_a_bad_value_is_told_once_however_many_need_it():
    text = changed("900", "a").replace("450", "a") + "values: {a: 3 parsec}\n"
    (only,) = mistakes_of(text)
    assert only.path == "values.a"


def test_a_setting_s_mistake_is_told_with_the_setting():
    text = changed("900", "a") + "values: {a: 900}\n"
    (only,) = mistakes_of(text, a="3 parsec")
    assert str(only.place).startswith("--set a")
    (unknown,) = mistakes_of(text, b="3")
    assert "no value is called so" in unknown.found


def test_aliases_that_multiply_are_stopped():
    levels = "".join(f"a{i}: &a{i} [{', '.join([f'*a{i - 1}'] * 9)}]\n" for i in range(1, 9))
    (only,) = mistakes_of("a0: &a0 [x]\n" + levels)
    assert "100,000 values" in only.found or "100 aliases" in only.found


# -- no scene of any make crashes the reader ---------------------------------------------------------------

RICH: dict[str, Any] = {
    "format": 1,
    "units": "mm",
    "title": "A rich scene",
    "waterline": "depth",
    "values": {"depth": "180 mm", "gap": "depth / 9", "wide": "tank.inside_length - 2 * gap"},
    "parts": {
        "tank": {
            "kind": "tank",
            "inside": [900, 450, 500],
            "glass": {"bottom": 12, "others": 10},
            "perimeter_brace": {"width": 50, "thickness": 8},
            "cross_braces": [{"at": 450, "width": 80, "thickness": 8}],
            "rim": {"height": 20, "thickness": 3},
            "tempered": ["bottom"],
            "holes": {
                "drain": {"panel": "back", "left": 150, "top": 120, "bulkhead": "1 in thin"},
                "supply": {"panel": "back", "right": 150, "top": 120, "diameter": 30},
            },
        },
        "riser": {
            "kind": "run",
            "pipe": "3/4 in sch 40",
            "start": {"left": 100, "back": "gap + 60", "bottom": 30},
            "route": [
                {"up": 300},
                {"right": 200, "drip": {"diameter": 3, "pitch": 25}},
                "union",
                {"right": 200},
                "cap",
            ],
        },
    },
    "clearances": [{"between": ["riser", "tank.front"], "at_least": 20, "why": "a magnet"}],
    "accept": [{"rule": "any", "parts": ["riser"], "why": "known"}],
    "conditions": {"water_temperature": "25 °C", "humidity": "60 %"},
    "limits": {"pipe_to_glass": 3},
    "catalog": {"materials": {"my_stone": {"density": "2600 kg/m3"}}},
}
EVERY: dict[str, Any] = {
    "format": 1,
    "units": "mm",
    "waterline": 150,
    "parts": {
        "tank": {"kind": "tank", "inside": [600, 300, 300], "glass": 8},
        "stand": {"kind": "stand", "height": 700, "posts": 1},
        "sump": {
            "kind": "sump",
            "at": {"in": "stand", "left": 60, "front": 40, "bottom": 0},
            "inside": [400, 200, 250],
            "compartments": [
                {"name": "inlet", "length": 150, "baffle": {"height": 180}, "media": {"top": 120}},
                {"name": "chamber", "level": 120},
            ],
        },
        "wall": {
            "kind": "background",
            "panels": ["back"],
            "thickness": 20,
            "relief": {"form": "flat", "depth": 10},
            "cut_outs": [{"panel": "back", "along": 300, "up": 200, "width": 20}],
        },
        "weir_box": {
            "kind": "overflow_box",
            "panel": "right",
            "left": 60,
            "width": 90,
            "depth": 70,
            "top": 170,
            "level": 110,
            "weir": {"depth": 20, "slot": 6},
        },
        "bed": {"kind": "substrate", "front": 20, "back": 40, "pitch": 40, "material": "sand"},
        "mat": {"kind": "mat", "thickness": 6, "region": [100, 50, 300, 250], "material": "plastic grid"},
        "stone": {
            "kind": "rock",
            "size": [90, 80, 60],
            "detail": 200,
            "at": {"left": 100, "front": 90, "ground": 0},
            "turn": {"about_up": "20 deg", "tip_front": 5},
        },
        "log": {
            "kind": "wood",
            "length": 200,
            "branches": 1,
            "detail": 2000,
            "at": {"left": 300, "front": 120, "ground": 0},
        },
        "moss": {
            "kind": "plant",
            "form": "moss",
            "height": 20,
            "spread": 60,
            "detail": 0.5,
            "at": [400, 100, 40],
            "fixed_to": "log",
        },
        "pump": {
            "kind": "pump",
            "model": "small 300",
            "at": {"in": "sump.chamber", "x": 60, "y": 60, "z": 0},
        },
        "hose": {
            "kind": "run",
            "tube": "12/16 mm",
            "start": "pump.outlet",
            "route": [
                {"up": 120},
                {"until": "back", "reach": {"from": "pump.outlet", "offset": [0, 150, 0]}},
            ],
        },
        "heater": {"kind": "heater", "at": {"left": 500, "back": 60, "bottom": 60}},
        "mist": {"kind": "mist_maker", "at": {"left": 250, "front": 60, "waterline": -40}},
        "basket": {
            "kind": "filter_basket",
            "size": [80, 80, 60],
            "at": {"right": 80, "front": 80, "bottom": 0},
        },
        "lamp": {"kind": "light", "size": [400, 60, 30], "at": {"x": 300, "y": 150, "top": -60}},
    },
}
NASTY = st.one_of(
    st.none(),
    st.booleans(),
    st.integers(-(10**12), 10**12),
    st.floats(),
    st.text(max_size=8),
    st.sampled_from(
        [
            "0",
            "-1",
            "1e308",
            "depth",
            "wide",
            "tank.inside_length",
            "riser",
            "riser.bend_radius",
            "tank.back",
            "drain.inside",
            "3/4 in",
            "12 kg",
            "45 deg",
            "=1",
            "[",
            "tank.inside_length * 1e9",
        ]
    ),
    st.sampled_from(
        [[], {}, [[]], [1], [1, 2], [1, 2, 3], {"from": "riser"}, {"a": {"a": 1}}, ["up", {"up": 1}]]
    ),
)


def places_in(value: Any, path: tuple[Any, ...] = ()) -> list[tuple[Any, ...]]:
    found = [path]
    if isinstance(value, dict):
        found += [deeper for key, child in value.items() for deeper in places_in(child, (*path, key))]
    elif isinstance(value, list):
        found += [deeper for key, child in enumerate(value) for deeper in places_in(child, (*path, key))]
    return found


@st.composite
def spoiled(draw: st.DrawFn, sound: dict[str, Any]) -> str:
    scene = copy.deepcopy(sound)
    places = places_in(sound)[1:]
    for path in draw(st.lists(st.sampled_from(places), min_size=1, max_size=3, unique=True)):
        holder = scene
        for step in path[:-1]:
            if not isinstance(holder, dict | list) or (isinstance(holder, dict) and step not in holder):
                break
            if isinstance(holder, list) and (not isinstance(step, int) or step >= len(holder)):
                break
            holder = holder[step]
        else:
            change = draw(st.sampled_from(["replace", "remove", "add"]))
            if isinstance(holder, dict):
                if change == "remove":
                    holder.pop(path[-1], None)
                elif change == "add":
                    holder[draw(st.text(min_size=1, max_size=6))] = draw(NASTY)
                else:
                    holder[path[-1]] = draw(NASTY)
            elif isinstance(holder, list) and isinstance(path[-1], int) and path[-1] < len(holder):
                holder[path[-1]] = draw(NASTY)
    return as_text(scene)


def test_the_sound_scenes_read_and_hold_every_kind():
    model = build_plain(RICH)
    assert model.scene.values["wide"] == pytest.approx(0.86)
    every = build_plain(EVERY)
    other_tanks = {kind for kind in kinds() if is_tank(kind) and kind != "tank"}
    assert {part.kind for part in (*model.scene.parts, *every.scene.parts)} == set(kinds()) - other_tanks


def check_answer(text: str) -> None:
    """Read and build; the scene is either good, or refused with what stands wrong and where."""
    model, mistakes = None, ()
    try:
        model = build_model(read_scene("spoiled.yaml", text=text))
    except SceneRefused as refused:
        mistakes = refused.mistakes
    assert model is not None or mistakes
    for mistake in mistakes:
        assert mistake.found
        assert mistake.place.line > 0, str(mistake)
        assert all(unicodedata.category(c) != "Cc" for c in str(mistake).replace("\n", ""))
    if model is not None:
        assert [body.name for body in model.bodies if not 0 < body.mass < math.inf] == []


@settings(max_examples=60, derandomize=True)
@given(spoiled(RICH))
def test_a_spoiled_scene_reads_or_is_refused_with_places(text):
    check_answer(text)


@settings(max_examples=40, derandomize=True)
@given(spoiled(EVERY))
def test_a_spoiled_scene_of_every_kind_reads_or_is_refused(text):
    check_answer(text)


def test_a_file_that_is_not_there_names_a_near_one(tmp_path: Path):
    (tmp_path / "ledge.yaml").write_text(TANK, encoding="utf-8")
    with pytest.raises(SceneRefused, match=r"did you mean .*ledge\.yaml"):
        read_scene(tmp_path / "legde.yaml")


def test_a_key_that_stands_twice_or_a_comma_in_a_number_hides_no_other_mistake():
    """What the map of such a key seems to lack may stand there under the wrong name, and isn't told."""
    text = (
        TANK
        + "    glass: 12\n"
        + "  stone: {kind: rock, size: [90, 90, 50], at: {left: 12,5, back: 9, ground: 0}}\n"
        + "  wall: {kind: background, thickness: 80, thickness: 90}\n"
        + "  log: {kind: woood}\n"
    )
    told = [(one.place.line, one.place.column, one.found) for one in mistakes_of(text)]
    assert [(line, found[:31]) for line, _, found in told] == [
        (9, "key 'glass' stands twice in thi"),
        (10, "a comma within a number"),
        (11, "key 'thickness' stands twice in"),
        (12, "no part kind is called 'woood'"),
    ]
    assert text.splitlines()[9][told[1][1] - 1] == ","
    assert len(mistakes_of(text.replace("woood", "wood"), **{"parts.none.at": "3"})) == 3
