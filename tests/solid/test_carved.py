"""A carved solid is the one that the booleans cut, though its figures are told without cutting it."""

import pickle

import numpy as np
import pytest
from closed_solids import ball
from hypothesis import given, settings
from hypothesis import strategies as st

from layout3d.solid import carved as module
from layout3d.solid.boolean import difference
from layout3d.solid.carved import carved
from layout3d.solid.contain import inside
from layout3d.solid.level import area_at, volume_below
from layout3d.solid.primitives import box
from layout3d.solid.shape import Placement

BED = box((0.6, 0.4, 0.1)).solid()
WALL = box((0.1, 0.5, 0.5)).solid(Placement.at((-0.05, -0.05, -0.05)))
STONES = [ball(0.06, n=16), ball(0.04, n=16), box((0.12, 0.09, 0.07), centre=True)]


@st.composite
def places(draw):
    at = [draw(st.floats(low, high)) for low, high in ((0.0, 0.6), (0.0, 0.4), (0.0, 0.15))]
    return Placement.at(at) @ Placement.turned((1, 2, 3), draw(st.floats(-3, 3)))


def same_volume(found, solid):
    assert found.volume == pytest.approx(solid.volume, rel=1e-12)
    assert found.centroid == pytest.approx(solid.centroid, abs=1e-12)
    levels = np.linspace(-0.01, 0.12, 14)
    assert volume_below(found, levels) == pytest.approx(volume_below(solid, levels), rel=1e-12, abs=1e-15)
    assert volume_below(found, 0.12)[0] == found.volume
    between = levels[2:-3] + 0.003  # off the level faces
    assert area_at(found, between) == pytest.approx(area_at(solid, between), rel=1e-9)


@settings(max_examples=15)
@given(st.lists(places(), min_size=1, max_size=3))
def test_it_is_what_the_booleans_leave(at):
    stones = [shape.solid(place) for shape, place in zip(STONES, at, strict=False)]
    found, cut = carved(BED, [WALL], loose=stones), difference(BED, [WALL], loose=stones)
    same_volume(found, cut)
    assert found.bounds == pytest.approx(cut.bounds, abs=1e-12)
    points = np.random.default_rng(1).uniform((-0.01,) * 3, (0.61, 0.41, 0.11), (50, 3))
    assert (inside(found, points) == inside(cut, points)).all()
    assert (found.vertices == cut.vertices).all()
    assert (found.faces == cut.faces).all()
    assert found.area == cut.area


def test_a_stone_is_cut_by_no_wall_that_it_does_not_meet(monkeypatch):
    """Of two balls with a gap of 12 mm whose boxes meet, one lies in the bed and the other is fixed."""
    stone, fixed = (STONES[0].solid(Placement.at((x, y, 0.1))) for x, y in ((0.3, 0.2), (0.393, 0.293)))
    assert stone.box_meets(fixed)
    same_volume(carved(BED, [fixed], loose=[stone]), difference(BED, [fixed, stone]))
    cut = []
    monkeypatch.setattr(module, "difference", lambda solid, cutters: cut.append(tuple(cutters)) or solid)
    carved(BED, [fixed], loose=[stone])
    assert cut == [(fixed,), ()]  # the bed, and what the stone takes of it


def test_what_stones_take_off_a_wall_is_the_same_wherever_it_stands():
    stones = [STONES[0].solid(Placement.at((0.3, y, 0.1))) for y in (0.1, 0.2)]
    walls = [box((thick, 0.5, 0.5)).solid(Placement.at((-0.05, -0.05, -0.05))) for thick in (0.1, 0.12, 0.3)]
    first, second, near = (carved(BED, [wall], loose=stones).carving.taken for wall in walls)
    assert [part.content_key for part in first] == [part.content_key for part in second]
    assert near[0].volume < first[0].volume


def test_it_stands_where_it_is_moved_to():
    stone = STONES[0].solid(Placement.at((0.3, 0.2, 0.1)))
    move = Placement.at((1.0, 0.0, 0.0)) @ Placement.turned((0, 0, 1), 0.5)
    found = carved(BED, [], loose=[stone]).moved(move)
    cut = difference(BED, [stone]).moved(move)
    same_volume(found, cut)
    assert found.bounds == pytest.approx(cut.bounds)
    assert inside(found, move.apply([[0.1, 0.1, 0.05], [0.3, 0.2, 0.05]])).tolist() == [True, False]


def test_a_corner_that_is_taken_is_missed_in_its_bounds():
    """The bed rises to the back: its highest edge goes with the beam that lies in it."""
    bed = difference(
        BED, [box((2, 2, 1)).solid(Placement.at((-1, 0, 0.05)) @ Placement.turned((1, 0, 0), 0.1))]
    )
    beam = box((2, 0.1, 0.1)).solid(Placement.at((-1, 0.35, 0.02)))
    found = carved(bed, [], loose=[beam])
    assert found.bounds[1, 2] == pytest.approx(0.05 + 0.35 * np.tan(0.1), abs=1e-9)
    assert bed.bounds[1, 2] == pytest.approx(0.05 + 0.4 * np.tan(0.1), abs=1e-9)
    assert "_cut" not in vars(found.shape)  # what is beyond is cut by itself


def test_nothing_to_take_and_nothing_left():
    far = STONES[0].solid(Placement.at((5, 0, 0)))
    assert carved(BED, []) == BED
    assert carved(BED, [far], loose=[far]) == BED
    whole = box((1, 1, 1), centre=True).solid()
    assert carved(BED, [whole, BED]) is None
    assert carved(BED, [], loose=[box((2, 2, 2), centre=True).solid()]) is None
    sliver = carved(BED, [], loose=[box((1, 1, 1)).solid(Placement.at((-0.1, -0.1, -1 + 0.1 - 1e-8)))])
    assert sliver.volume == pytest.approx(0.6 * 0.4 * 1e-8, rel=1e-6)


def test_another_process_gets_the_same():
    found = carved(BED, [WALL], loose=[STONES[0].solid(Placement.at((0.3, 0.2, 0.1)))])
    before = pickle.loads(pickle.dumps(found))
    assert (before == found, before.volume, before.carving.taken) == (True, found.volume, found.carving.taken)
    faces = found.faces
    after = pickle.loads(pickle.dumps(found))
    assert "_cut" in vars(after.shape)
    assert (after.faces == faces).all()
