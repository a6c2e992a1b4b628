"""Tanks that aren't made of flat panes alone: the round one and the bow-front, by closed forms."""

import math
from typing import Any

import numpy as np
import pytest
from plain_scenes import build_plain

from layout3d.checks.examine import examine
from layout3d.errors import SceneRefused
from layout3d.model.model import Model
from layout3d.parts.tank_data import RoundWall
from layout3d.solid.boolean import intersection
from layout3d.solid.distance import gap
from layout3d.water.figures import figures

ROUND = {"kind": "cylinder_tank", "inside_diameter": 600, "height": 500, "wall": 10, "floor": 15}
BOW = {"kind": "bow_front_tank", "inside": [900, 450, 500], "bow": 90, "glass": 10}


def made(tank: dict[str, Any], parts: dict[str, Any] | None = None, **more: Any) -> Model:
    scene = {"format": 1, "units": "mm", "waterline": 300, "parts": {"tank": tank | more, **(parts or {})}}
    return build_plain(scene)


def found(model: Model, rule: str) -> list[Any]:
    return list(examine(model, only=(rule,)))


def volumes(model: Model, *kinds: str) -> float:
    return sum(body.solid.volume for body in model.bodies if body.kind in kinds)


# -- the round tank ------------------------------------------------------------------------------


def test_a_round_tank_holds_and_weighs_what_its_circles_say():
    """Closed form: pi r² h inside, pi ((r + t)² - r²) h of wall, pi (r + t)² of floor."""
    model = made(ROUND)
    assert figures(model)["tank_inside_volume"] == pytest.approx(math.pi * 0.3**2 * 0.5, rel=1e-9)
    assert figures(model)["water_volume_net"] == pytest.approx(math.pi * 0.3**2 * 0.3, rel=1e-9)
    whole = math.pi * ((0.31**2 - 0.3**2) * 0.5 + 0.31**2 * 0.015)
    assert volumes(model, "panel") == pytest.approx(whole, rel=1e-9)
    assert {body.material for body in model.bodies} == {"acrylic"}


def test_sides_of_a_round_wall_stay_within_a_twentieth_of_a_millimetre_of_the_circle():
    plan = np.array(made(ROUND).tank.plan) - 0.3
    assert np.abs(np.hypot(*plan.T) - 0.3).max() < 5e-5
    middles = (plan + np.roll(plan, -1, axis=0)) / 2
    assert np.abs(np.hypot(*middles.T) - 0.3).max() < 5e-5


@pytest.mark.parametrize(
    ("angle", "place"),
    [
        (0, (0.3, 0.0)),
        (90, (0.6, 0.3)),
        (180, (0.3, 0.6)),
        (-90, (0.0, 0.3)),
        (225, (0.3 - 0.3 * 0.5**0.5, None)),
    ],
)
def test_a_hole_is_told_by_its_angle_from_the_front_to_the_right(angle, place):
    model = made(ROUND, holes={"out": {"angle": f"{angle} deg", "bottom": 200, "diameter": 30}})
    at = model.tank.holes["out"].at
    assert at[0] == pytest.approx(place[0], abs=1e-9)
    if place[1] is not None:
        assert at[1] == pytest.approx(place[1], abs=1e-9)
    assert at[2] == pytest.approx(0.2)
    wall = model.tank.panels["wall"]
    assert wall.local(np.array([at]))[0] == pytest.approx([*model.tank.holes["out"].centre, 0.0], abs=1e-9)
    drilled = next(body for body in model.bodies if body.name == "tank.wall")
    solid = next(body for body in made(ROUND).bodies if body.name == "tank.wall")
    # a bore across a wall 10 mm thick: its area times the thickness, and a little for the bend
    assert solid.solid.volume - drilled.solid.volume == pytest.approx(math.pi * 0.015**2 * 0.010, rel=0.01)


def test_a_hole_in_the_floor_is_told_from_its_middle():
    hole = {"panel": "bottom", "angle": "90 deg", "out": 150, "bulkhead": "1 in thin"}
    model = made(ROUND, holes={"drain": hole})
    assert model.tank.holes["drain"].at == pytest.approx((0.45, 0.3, 0.0))
    assert model.tank.holes["drain"].gap == 0.0


@pytest.mark.parametrize("flange", ["inside", "outside"])
def test_a_bulkhead_sits_in_a_bent_wall_without_cutting_into_it(flange):
    """Its rim touches the hollow face; the rise of an arc is r - sqrt(r² - a²), a half the flange."""
    hole = {"angle": "180 deg", "bottom": 250, "bulkhead": "3/4 in thin", "flange": flange}
    model = made(ROUND, holes={"out": hole})
    bulkhead, wall = model.body("tank.out"), model.body("tank.wall")
    shared = intersection(bulkhead.solid, wall.solid)
    assert shared is None or shared.volume < 1e-8  # the polygons of flange and wall, 0.05 mm deep
    assert gap(bulkhead.solid, wall.solid).distance < 2e-4
    radius = 0.3 if flange == "inside" else 0.31
    assert model.tank.holes["out"].gap == pytest.approx(radius - math.sqrt(radius**2 - 0.027**2))
    inside = model.ports["tank.out.inside"]
    assert inside.direction == pytest.approx((0.0, -1.0, 0.0), abs=1e-9)
    assert inside.at[1] < 0.6 < model.ports["tank.out.outside"].at[1]


@pytest.mark.parametrize(("diameter", "faults"), [(506, 1), (508, 0)])
def test_a_flange_on_a_bend_just_either_side_of_what_a_gasket_takes(diameter, faults):
    """45 mm wide, so 22.5 mm off its middle: 1 mm of rise at a radius of (22.5² + 1²) / 2 = 253.6 mm."""
    tank = ROUND | {"inside_diameter": diameter}
    model = made(tank, holes={"out": {"angle": 0, "top": 150, "bulkhead": "1/2 in thin", "plugged": True}})
    assert len(found(model, "flange-on-bend")) == faults


def test_holes_round_a_wall_are_judged_across_where_its_outline_closes():
    around = {"bulkhead": "1/2 in thin", "plugged": True, "bottom": 250}
    near = made(ROUND, holes={"a": {"angle": "5 deg", **around}, "b": {"angle": "-5 deg", **around}})
    far = made(ROUND, holes={"a": {"angle": "25 deg", **around}, "b": {"angle": "-25 deg", **around}})
    assert found(near, "hole-to-hole")
    assert not found(far, "hole-to-hole")


def test_a_hole_near_the_rim_of_a_round_wall_is_found():
    low = made(ROUND, holes={"out": {"angle": 0, "top": 30, "diameter": 30}})
    assert [finding.parts for finding in found(low, "hole-edge-distance")] == [("tank.wall", "out")]
    assert not found(
        made(ROUND, holes={"out": {"angle": 0, "top": 150, "diameter": 30}}), "hole-edge-distance"
    )


def test_the_corner_of_the_box_around_a_round_tank_is_outside_of_it():
    rock = {"kind": "rock", "size": [60, 60, 60], "at": {"left": 50, "front": 50, "bottom": 0}}
    model = made(ROUND, {"stone": rock})
    assert not model.tank.holds((0.05, 0.05, 0.1))
    assert model.tank.holds((0.3, 0.01, 0.1))
    (finding,) = found(model, "outside")
    assert finding.parts == ("stone", "tank.wall")
    assert finding.message.endswith("past the inside face of tank.wall")


def test_sand_lies_within_a_round_wall():
    model = made(ROUND, {"sand": {"kind": "substrate", "depth": 50}})
    assert model.body("sand").solid.volume == pytest.approx(math.pi * 0.3**2 * 0.05, rel=1e-6)


@pytest.mark.parametrize(
    ("holes", "where", "words"),
    [
        ({"out": {"angle": 0, "diameter": 30}}, "tank.holes.out", "given by no distance"),
        ({"out": {"panel": "bottom", "bottom": 30, "diameter": 30}}, "tank.holes.out", "given by bottom"),
        ({"out": {"bottom": 500, "diameter": 30}}, "tank.holes.out.bottom", "off the wall"),
        ({"out": {"bottom": 10, "diameter": 30}}, "tank.holes.out", "past the edge of the inside of wall"),
        ({"out": {"panel": "bottom", "out": 295, "diameter": 30}}, "tank.holes.out", "past the edge"),
        ({"wall": {"bottom": 100, "diameter": 30}}, "tank.holes.wall", "means something else already"),
    ],
)
def test_a_hole_off_a_round_tank_is_refused(holes, where, words):
    with pytest.raises(SceneRefused) as refused:
        made(ROUND, holes=holes)
    (mistake,) = refused.value.mistakes
    assert words in mistake.found
    assert mistake.path == f"parts.{where}"


def test_a_slab_on_a_round_wall_is_refused():
    with pytest.raises(SceneRefused, match="wall is bent: a slab lies on a flat pane"):
        made(ROUND, {"slab": {"kind": "background", "panels": ["wall"], "thickness": 40}})


# -- the bow-front tank --------------------------------------------------------------------------

RADIUS = (0.45**2 + 0.09**2) / (2 * 0.09)  # of an arc of chord 900 and rise 90 mm
HALF = math.asin(0.45 / RADIUS)


def test_a_bow_front_holds_its_rectangle_and_its_segment():
    """Closed form: a segment of a circle has the area r² (a - sin a cos a), a half its angle."""
    area = 0.9 * 0.36 + RADIUS**2 * (HALF - math.sin(HALF) * math.cos(HALF))
    assert figures(made(BOW))["tank_inside_volume"] == pytest.approx(area * 0.5, rel=2e-5)


def test_panes_of_a_bow_front_fill_the_space_between_its_outside_and_its_inside():
    """Each stands beside the others: together with the inside they are the prism of the outside."""
    model = made(BOW, front=12, bottom=15, silicone=0)
    outer = np.array(model.tank.outer_plan)
    x, y = outer.T
    area = float(np.sum(x * np.roll(y, -1) - np.roll(x, -1) * y)) / 2
    inside = model.tank.interior.volume
    assert volumes(model, "panel") + inside == pytest.approx(area * (0.5 + 0.015), rel=1e-6)
    panes = [body.solid for body in model.bodies]
    for number, one in enumerate(panes):
        for other in panes[number + 1 :]:
            shared = intersection(one, other)
            assert shared is None or shared.volume < 1e-12
    assert float(outer[:, 1].min()) == pytest.approx(-0.012, abs=1e-4)


def test_a_bent_pane_knows_places_on_it_and_the_way_inward():
    wall = made(BOW).tank.panels["front"]
    assert isinstance(wall, RoundWall)
    assert wall.length == pytest.approx(2 * HALF * RADIUS)
    assert wall.at(0.0, 0.1) == pytest.approx((0.9, 0.09, 0.1))
    assert wall.at(wall.length, 0.1) == pytest.approx((0.0, 0.09, 0.1))
    assert wall.at(wall.length / 2, 0.1, 0.02) == pytest.approx((0.45, 0.02, 0.1))
    assert wall.facing == pytest.approx((0.0, 1.0, 0.0))
    places = np.array([[0.5, 0.1, 0.2], [0.1, 0.3, 0.1]])
    assert [wall.at(*uvw) for uvw in wall.local(places)] == [pytest.approx(p) for p in places.tolist()]


def test_a_hole_in_the_bent_pane_is_refused_with_its_reason():
    hole = {"panel": "front", "left": 300, "bottom": 200, "diameter": 40}
    with pytest.raises(SceneRefused, match="bent glass cracks where it is drilled"):
        made(BOW, holes={"out": hole})


@pytest.mark.parametrize(
    ("hole", "at"),
    [
        ({"panel": "left", "front": 100, "bottom": 200}, (0.0, 0.19, 0.2)),
        ({"panel": "right", "back": 100, "top": 100}, (0.9, 0.35, 0.4)),
        ({"panel": "back", "left": 100, "bottom": 200}, (0.1, 0.45, 0.2)),
        ({"panel": "bottom", "right": 100, "back": 80}, (0.8, 0.37, 0.0)),
    ],
)
def test_holes_in_flat_panes_of_a_bow_front(hole, at):
    assert made(BOW, holes={"out": hole | {"diameter": 30}}).tank.holes["out"].at == pytest.approx(at)


def test_a_slab_beside_the_bow_ends_at_the_bent_pane():
    slab = {"kind": "background", "panels": ["left"], "thickness": 60, "relief": {"form": "flat"}}
    model = made(BOW, {"slab": slab})
    body = next(body for body in model.bodies if body.part == "slab")
    assert float(model.tank.room(body.solid.vertices).min()) > -1e-9
    assert not found(model, "outside")


@pytest.mark.parametrize(
    ("more", "where"), [({"bow": 330}, "bow"), ({"bow": 420}, "bow"), ({"silicone": 50}, None)]
)
def test_a_bow_without_room_is_refused(more, where):
    if where is None:
        assert made(BOW, **more)
        return
    with pytest.raises(SceneRefused) as refused:
        made(BOW, **more)
    assert refused.value.mistakes[0].path == f"parts.tank.{where}"


def test_two_tanks_of_two_kinds_are_one_too_many():
    with pytest.raises(SceneRefused, match=r"2 tanks \(tank, other\)"):
        made(BOW, {"other": ROUND})
