"""How steep beds are."""

import math
from types import SimpleNamespace

import numpy as np
import pytest
from made_bodies import made_body
from made_outages import made_model

from layout3d.checks.rules.substrate_slope import _edge, _meets, _middlemost

RULE = "substrate-slope"


def bank(slope):
    """Return the depth at the back that makes this slope, [rad], from 20 mm at the front over 400 mm."""
    return f"{20 + 400 * math.tan(slope)!r}"


@pytest.mark.parametrize(
    ("slope", "severity"),
    [(0.436, None), (0.4361, "warning"), (0.611, "warning"), (0.6111, "fault")],
)
def test_either_side_of_each_limit(faulty, slope, severity):
    """25 degrees and 35 degrees (limits substrate_slope)."""
    found = faulty(RULE, back=bank(slope))
    assert [f.severity for f in found] == ([severity] if severity else [])
    assert [f.measured for f in found] == pytest.approx([slope] * len(found))


def test_the_place_is_where_it_is_steep(check):
    sand = "sand: {SAND, depths: [[0, 200, 20], [280, 200, 20], [320, 200, 100], [600, 200, 100]], pitch: 20}"
    (finding,) = check(RULE, sand)
    assert finding.at[0] == pytest.approx(0.3, abs=0.03)


def test_what_lies_outside_a_polygonal_tank_does_not_count(check):
    """The bank is steep in the corner of the box that the footprint cuts off."""
    tank = "DIAMOND"
    low = [[300, 300], [150, 150], [100, 100], [600, 600], [0, 600], [600, 0]]
    depths = [[0, 0, 200], *([x, y, 20] for x, y in low)]
    sand = f"sand: {{SAND, depths: {depths}, pitch: 20}}"
    assert check(RULE, sand, tank=tank) == ()
    assert len(check(RULE, sand)) == 1


REGION = "sand: {SAND, depth: DEPTH, region: [0, 0, 300, 400], pitch: 100}\n"


@pytest.mark.parametrize(("depth", "count"), [(10, 0), (10.1, 1)])
def test_the_free_edge_of_a_region_is_a_step(check, depth, count):
    found = check(RULE, REGION.replace("DEPTH", str(depth)))
    assert [f.severity for f in found] == ["fault"] * count
    for finding in found:
        assert finding.at[0] == pytest.approx(0.3, abs=1e-4)
        assert finding.at[2] == pytest.approx(0.00505)  # half way up
        assert (finding.measured, finding.unit) == (pytest.approx(math.pi / 2), "rad")


def test_what_stands_along_the_edge_holds_it(check):
    wall = "wall: {kind: filter_basket, size: [20, 400, 100], at: {left: 311, front: FRONT, bottom: 0}}"
    sand = REGION.replace("DEPTH", "60")
    assert check(RULE, sand + wall.replace("FRONT", "200")) == ()
    assert len(check(RULE, sand + wall.replace("FRONT", "220"))) == 1  # 20 mm are left open


def test_two_beds_hold_each_other_as_far_as_they_are_high(check):
    sand = REGION.replace("DEPTH", "60")
    gravel = sand.replace("sand", "gravel").replace("[0, 0, 300, 400]", "[300, 0, 600, 400]")
    assert check(RULE, sand + gravel) == ()
    (finding,) = check(RULE, sand + gravel.replace("depth: 60", "depth: 20"))
    assert finding.parts == ("sand",)


def edges(room=lambda points: np.ones(1)):
    """Return the places along the edges of a region of 255 by 125 mm, by the way outward."""
    model = made_model()
    model.tank.room = room
    found = {}
    for place, way in _edge(model, SimpleNamespace(region=(0.1, 0.2, 0.355, 0.325))):
        found.setdefault(tuple(way.tolist()), []).append(place)
    return {way: np.array(places) for way, places in found.items()}


def test_the_edge_of_a_region_is_looked_at_evenly_and_from_within():
    """25 places along 255 mm and 12 along 125, a micrometre inside, the outermost half a step from the "
    "ends."""
    found = edges()
    for way, axis, line, low, count, long in (
        ((0.0, -1.0), 1, 0.2 + 1e-6, 0.1, 25, 0.255),
        ((0.0, 1.0), 1, 0.325 - 1e-6, 0.1, 25, 0.255),
        ((-1.0, 0.0), 0, 0.1 + 1e-6, 0.2, 12, 0.125),
        ((1.0, 0.0), 0, 0.355 - 1e-6, 0.2, 12, 0.125),
    ):
        places = found.pop(way)
        assert places[:, axis] == pytest.approx(line, abs=1e-12)
        assert places[:, 1 - axis] == pytest.approx(low + long * (np.arange(count) + 0.5) / count)
    assert found == {}


def test_an_edge_at_the_glass_is_held():
    """The tank begins at 95 mm from the left: what lies 10 mm past the left edge is out of it."""
    found = edges(lambda place: np.array([place[0] - 0.095]))
    assert sorted(found) == [(0.0, -1.0), (0.0, 1.0), (1.0, 0.0)]
    assert len(edges(lambda place: np.array([place[0] - 0.09 - 1e-6]))) == 4  # just at it


@pytest.mark.parametrize(
    ("steep", "place"),
    [
        ([(0, 0)], (0.0, 0.0)),
        ([(0, 1), (2, 1)], (1.0, 1.0)),  # their middle lies within half a cell of neither: the first
        ([(0, 0), (1, 0)], (0.5, 0.0)),
        ([(0, 0), (0, 1), (1, 0), (1, 1)], (0.5, 0.5)),
    ],
)
def test_the_middle_of_the_steepest_cells_is_told(steep, place):
    slopes = np.zeros((3, 3))
    for index in steep:
        slopes[index] = 0.5
    middles = np.stack(np.meshgrid([0.0, 1.0, 2.0], [0.0, 1.0, 2.0], indexing="ij"), axis=-1)
    told = _middlemost(slopes, middles, (1.0, 1.0))
    expected = (0.0, 1.0) if steep == [(0, 1), (2, 1)] else place
    assert told == pytest.approx(expected)


@pytest.mark.parametrize(
    ("start", "end", "meets"),
    [
        ((0.30, 0.05, 0.05), (0.31, 0.05, 0.05), True),
        ((0.28, 0.05, 0.05), (0.29, 0.05, 0.05), False),
        ((0.30, 0.15, 0.05), (0.31, 0.15, 0.05), False),
        ((0.30, 0.05, 0.15), (0.31, 0.05, 0.15), False),
        ((0.45, 0.05, 0.05), (0.41, 0.05, 0.05), False),
        ((0.30, -0.05, 0.05), (0.31, -0.05, 0.05), False),
    ],
)
def test_what_stands_in_the_way_outward_meets_it(start, end, meets):
    stone = made_body("stone", (305, 0, 0), (400, 100, 100))
    assert _meets(stone, start, end) == meets
