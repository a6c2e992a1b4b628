"""An overflow box: its panes and slots, the water in it at its own level, its drains behind its weir."""

import math
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from plain_scenes import build_plain

from layout3d.checks.examine import examine
from layout3d.errors import SceneRefused
from layout3d.flow.overflow import lowest_in_each_box
from layout3d.model.build import build_model
from layout3d.model.model import Model
from layout3d.outage.circuit import circuit
from layout3d.parts.vessel import OverflowBoxData
from layout3d.scene.reader import read_scene
from layout3d.solid.contain import inside
from layout3d.water.figures import figures
from layout3d.water.sump import compartment_tables

SCENES = Path(__file__).resolve().parents[2] / "scenes"
HOLE = {"panel": "bottom", "back": 75, "bulkhead": "d32"}
HOLES = {"main": {**HOLE, "right": 60}, "emergency": {**HOLE, "right": 150}}
BOX = {
    "kind": "overflow_box",
    "panel": "back",
    "right": 0,
    "width": 216,
    "depth": 156,
    "top": 325,
    "level": 230,
    "weir": {"depth": 25, "slot": 6, "tooth": 4},
}
T = 0.006


def made(parts: dict[str, Any] | None = None, tank: dict[str, Any] | None = None, **box: Any) -> Model:
    whole = {
        "kind": "tank",
        "inside": [800, 400, 450],
        "glass": 10,
        "silicone": 0,
        "holes": HOLES,
        **(tank or {}),
    }
    scene = {
        "format": 1,
        "units": "mm",
        "waterline": 302,
        "parts": {"tank": whole, "box": BOX | box, **(parts or {})},
    }
    return build_plain(scene)


def data(model: Model) -> OverflowBoxData:
    return model.overflow_boxes[0].data


def told(model: Model, word: str) -> list[Any]:
    return [one for one in examine(model, only=("overflow-box",)) if word in one.message]


def test_a_comb_is_cut_in_its_front_and_the_corner_closes_its_right():
    model = made()
    assert [body.name for body in model.bodies_of("box")] == ["box.front", "box.left"]
    (edge,) = data(model).weirs
    # between the corner and the left pane 210 mm: as many slots of 6 with teeth of 4 beside each
    assert (edge.slots, edge.slot_width) == (20, pytest.approx(0.006))
    assert sum(edge.width for edge in data(model).weirs) == pytest.approx(20 * 0.006)
    front = model.body("box.front").solid
    assert front.volume == pytest.approx((0.216 * 0.325 - 20 * 0.006 * 0.025) * T, rel=1e-9)
    assert model.body("box.left").solid.volume == pytest.approx(0.150 * 0.325 * T, rel=1e-9)
    middle = np.add([edge.middle], [[0.0, 0.0, 0.010]])
    assert bool(inside(front, middle)[0]) == (
        edge.slots % 2 == 0
    )  # a tooth stands in the middle of an even comb


def test_a_straight_weir_lowers_its_pane_to_the_crest():
    model = made(weir={"depth": 25, "sides": ["front", "left"]})
    assert float(model.body("box.front").solid.bounds[1, 2]) == pytest.approx(0.300)
    assert float(model.body("box.left").solid.bounds[1, 2]) == pytest.approx(0.300)
    assert sum(edge.width for edge in data(model).weirs) == pytest.approx(0.210 + 0.150)


def test_water_in_the_box_stands_at_its_own_level_and_the_books_add_up():
    """Closed form: areas of rectangles times their levels; the holes' bulkheads displace what is told."""
    model = made(tank={"holes": {}})
    found = figures(model)
    outside, within = 0.8 * 0.4 - 0.216 * 0.156, 0.210 * 0.150
    assert found["overflow_box_water"] == pytest.approx(within * 0.230, rel=1e-9)
    assert found["water_volume_net"] == pytest.approx(outside * 0.302 + within * 0.230, rel=1e-9)
    for model in (made(), made({"sand": {"kind": "substrate", "depth": 40}})):
        found = figures(model)
        whole = sum(
            found[key]
            for key in ("water_volume_net", "displaced_total", "sealed_pockets", "overflow_box_air")
        )
        assert whole == pytest.approx(found["water_volume_gross"], rel=1e-9)
        assert found["water_volume_gross"] == pytest.approx(0.8 * 0.4 * 0.302, rel=1e-9)
        assert found["overflow_box_air"] > 0


def test_the_box_has_a_table_of_its_own():
    model = made(tank={"holes": {}})
    table = compartment_tables(model)["box"]
    assert np.interp(0.1, table.levels, table.volumes) == pytest.approx(0.210 * 0.150 * 0.1, rel=1e-9)


def test_no_sand_lies_in_the_box():
    model = made({"sand": {"kind": "substrate", "depth": 40}}, tank={"holes": {}})
    assert model.body("sand").solid.volume == pytest.approx((0.8 * 0.4 - 0.216 * 0.156) * 0.04, rel=1e-6)


def test_what_stands_in_the_box_is_judged_by_its_water():
    """A heater with its top at 250 mm is under the tank's 302 mm, and out of the box's 230 mm."""
    heater = {
        "kind": "heater",
        "length": 200,
        "diameter": 25,
        "at": {"in": "box", "left": 40, "front": 40, "bottom": 50},
    }
    model = made({"heater": heater})
    (finding,) = examine(model, only=("under-water",))
    assert finding.severity == "fault"
    assert "above the water in box" in finding.message


def test_a_hung_box_has_a_bottom_of_its_own():
    model = made(
        bottom=150,
        level=230,
        tank={"holes": {"out": {"panel": "back", "right": 105, "bottom": 200, "bulkhead": "d32"}}},
    )
    assert [body.name for body in model.bodies_of("box")] == ["box.front", "box.left", "box.bottom"]
    assert data(model).floor == pytest.approx(0.156)
    assert data(model).holes == ("out",)
    assert figures(model)["overflow_box_water"] < 0.210 * 0.150 * (0.230 - 0.156)


# -- the rule -------------------------------------------------------------------------------------


def test_a_box_wants_a_drain_and_a_second_one():
    none, one, two = (made(tank={"holes": dict(list(HOLES.items())[:count])}) for count in (0, 1, 2))
    assert [finding.severity for finding in told(none, "no drain")] == ["fault"]
    assert [finding.severity for finding in told(one, "one drain, main")] == ["warning"]
    assert not told(two, "drain")


def standing(hole: str, end: str) -> dict[str, Any]:
    return {
        f"{hole}_pipe": {
            "kind": "run",
            "pipe": "d32 pn 10",
            "start": f"{hole}.inside",
            "route": [{"up": 210}, end],
        },
        f"{hole}_drain": {
            "kind": "run",
            "pipe": "d32 pn 10",
            "start": f"{hole}.outside",
            "route": [{"down": 200}, "open"],
        },
    }


def test_a_drain_that_takes_no_water_is_no_second_one():
    """A capped standpipe and the hole of a return let nothing out of the box, bulkhead or no."""
    both = standing("main", "open") | standing("emergency", "open")
    capped = standing("main", "open") | standing("emergency", "cap")
    assert not told(made(both), "drain")
    (found,) = told(made(capped), "one drain, main")
    assert found.severity == "warning"
    pump = {"kind": "pump", "model": "medium 2000", "outlet": "d32 pn 10", "at": [300, 200, -400]}
    to = "emergency.outside"
    route = [{"up": 100}, {"until": "right", "reach": to}, {"until": "back", "reach": to}, {"join": to}]
    supply = {"kind": "run", "pipe": "d32 pn 10", "start": "pump.outlet", "route": route}
    fed = made(standing("main", "open") | {"pump": {**pump, "fixed_to": "room"}, "supply": supply})
    assert told(fed, "one drain, main")


@pytest.mark.parametrize(("level", "severity"), [(274, []), (276, ["warning"]), (301, ["fault"])])
def test_the_fall_behind_the_crest_just_either_side_of_its_limits(level, severity):
    """The crest at 300 mm, 25 mm of fall wanted; at the crest and over it the weir is drowned."""
    assert [finding.severity for finding in told(made(level=level), "free fall")] == severity


@pytest.mark.parametrize(("top", "severity"), [(335, ["warning"]), (327, []), (303, []), (301, ["fault"])])
def test_the_waterline_lies_between_the_crest_and_the_top(top, severity):
    """At 302 mm; 5 mm below the crest is let pass. The crest is at the top less 25 mm."""
    found = told(made(top=top, level=200), "the waterline")
    assert [finding.severity for finding in found] == severity


@pytest.mark.parametrize(("right", "severity"), [(40, []), (36, ["warning"]), (31, ["warning"])])
def test_a_bulkhead_has_room_beside_it_in_the_box(right, severity):
    """A flange 60 mm wide and 5 mm beside it: 35 mm from its middle to the pane in the corner."""
    model = made(right=20, tank={"holes": {"main": {**HOLE, "right": right + 26}}})
    # the box's own right pane stands 20 to 26 mm from the corner
    found = told(model, "beside it to a pane")
    assert [finding.severity for finding in found] == (severity if right < 35 else [])


@pytest.mark.parametrize(("rim", "below", "drowned"), [(229, 0, 0), (235, 1, 0), (290, 1, 1)])
def test_the_drain_holds_the_water_in_the_box_wherever_the_scene_sets_it(rim, below, drowned):
    """The scene says 230 mm; the standpipe lets water in from its rim, and near the crest the weir drowns."""
    sump = {
        "kind": "sump",
        "at": {"in": "stand", "right": 60, "front": 20, "bottom": 0},
        "inside": [400, 340, 300],
        "compartments": [{"name": "all", "level": 100}],
    }
    pipe = {"kind": "run", "pipe": "d32 pn 10"}
    parts = {
        "stand": {"kind": "stand", "height": 800},
        "sump": sump,
        "standpipe": {
            **pipe,
            "start": "main.inside",
            "route": [{"until": "up", "reach": [0, 0, rim]}, "open"],
        },
        "down": {**pipe, "start": "main.outside", "route": [{"down": 500}, "open"]},
    }
    model = made(parts)
    assert len(told(model, "where its lowest drain lets it in")) == below
    assert len(told(model, "free fall")) == drowned


# -- its weir before its drains -------------------------------------------------------------------


def test_the_tank_runs_at_the_crest_and_the_head_of_the_comb():
    """The intake's slits in series with the standpipe, against the weir formula on the open width."""
    model = build_model(read_scene(SCENES / "weir.yaml"))
    found, box = circuit(model), data(model)
    assert found is not None
    assert found.flow is not None
    wide = 0.006 * sum(edge.slots for edge in box.weirs)
    head = (found.flow.likely / (2 / 3 * 0.60 * math.sqrt(2 * 9.80665) * wide)) ** (2 / 3)
    assert found.level.likely == pytest.approx(box.crest + head, abs=1e-5)
    assert {drain.name for drain in found.drains} == {"main", "emergency"}
    assert [drain.crest for drain in found.drains] == [pytest.approx(box.crest)] * 2  # here the tank stops
    assert [drain.name for drain in lowest_in_each_box(found.drains)] == ["main"]


# -- mistakes -------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("box", "path", "words"),
    [
        ({"left": 10}, "", "given twice"),
        ({"panel": "frunt", "right": 0}, "panel", "no panel is called"),
        ({"width": 900}, "width", "reaches 100 mm past the end of back"),
        ({"depth": 450}, "depth", "past another wall"),
        ({"top": 460}, "top", "10 mm above the tank's rim"),
        ({"level": 330}, "level", "330 mm over the tank's floor"),
        ({"width": 31}, "glass", "leave no room in it"),
        ({"weir": {"depth": 25, "sides": ["right"]}}, "weir.sides", "no pane at its right"),
        ({"weir": {"depth": 25, "slot": 100, "tooth": 90}}, "weir.slot", "no slot of 100 mm"),
    ],
)
def test_a_box_that_can_not_be_is_refused(box, path, words):
    with pytest.raises(SceneRefused) as refused:
        made(**box)
    (mistake,) = refused.value.mistakes
    assert words in mistake.found
    assert mistake.path == f"parts.box.{path}".rstrip(".")
