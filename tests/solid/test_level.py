import math

import numpy as np
import pytest
from closed_solids import ball, torus_sector
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from layout3d import keep
from layout3d.solid import level
from layout3d.solid.boolean import components, difference, trim, union
from layout3d.solid.level import area_at, middle_below, surely_one_below, volume_below, volume_under
from layout3d.solid.primitives import box, cylinder, tube
from layout3d.solid.shape import Placement

HOLLOW = difference(ball(0.05, n=40).solid(), [ball(0.03, n=40).solid()]).shape
SHAPES = [
    box((0.1, 0.07, 0.05)),
    cylinder(0.03, 0.1),
    HOLLOW,
    torus_sector(0.05, 0.01, 2.0),
    tube(0.05, 0.03, 0.1),
]


@st.composite
def solids(draw):
    turn = draw(st.sampled_from([0.0, math.pi / 2]) | st.floats(-3, 3))
    axis = draw(st.sampled_from([(1, 0, 0), (0, 1, 0), (1, 2, 3)]))
    return draw(st.sampled_from(SHAPES)).solid(Placement.at((0.3, -0.2, 5.0)) @ Placement.turned(axis, turn))


@settings(max_examples=15)
@given(solids(), st.lists(st.floats(-0.2, 1.2), min_size=1, max_size=5))
def test_agrees_with_trimming_by_booleans(solid, shares):
    low, high = solid.bounds[:, 2]
    levels = low + (high - low) * np.array(shares)
    slowly = [trim(solid, normal=(0, 0, 1), offset=z) for z in levels]
    expected = [0.0 if part is None else part.volume for part in slowly]
    # a cut within rounding of a flat face is dropped by the boolean
    slack = 1e-9 * solid.volume
    assert volume_below(solid, levels) == pytest.approx(np.array(expected), rel=1e-8, abs=slack)


@settings(max_examples=15)
@given(solids(), st.floats(0.01, 1.2))
def test_the_middle_of_what_lies_below_agrees_with_trimming_by_booleans(solid, share):
    low, high = solid.bounds[:, 2]
    part = trim(solid, normal=(0, 0, 1), offset=low + (high - low) * share)
    assert middle_below(solid, low + (high - low) * share) == pytest.approx(part.centroid, abs=1e-9)


@settings(max_examples=20)
@given(solids(), st.floats(-0.3, 1.3), st.sampled_from([(0.0, 0.0), (0.3, -0.2), (-2.0, 1.0)]))
def test_under_a_slope_agrees_with_trimming_by_booleans(solid, share, slope):
    """A plane is flat over each face, so that the figure has to be exact."""
    normal = np.array([*slope, 1.0])
    heights = solid.vertices @ normal
    offset = heights.min() + share * np.ptp(heights)
    part = trim(solid, normal=normal, offset=offset)
    expected = 0.0 if part is None else part.volume
    found = volume_under(solid, offset - heights)
    assert found == pytest.approx(expected, rel=1e-8, abs=1e-9 * solid.volume)


def test_under_a_surface_through_edges_and_faces_of_a_box():
    """Corners that lie in the surface are neither over nor under it."""
    cube = box((1.0, 1.0, 1.0)).solid()
    x, _, z = cube.vertices.T
    assert volume_under(cube, x - z) == pytest.approx(0.5)
    assert volume_under(cube, 1.0 - z) == pytest.approx(1.0)
    assert volume_under(cube, 0.0 - z) == 0.0
    assert volume_under(cube, np.minimum(x, 0.5) - z) == pytest.approx(0.25)


@settings(max_examples=15)
@given(solids())
def test_it_rises_from_nothing_to_the_whole(solid):
    low, high = solid.bounds[:, 2]
    found = volume_below(solid, np.linspace(low - 0.01, high + 0.01, 200))
    assert (np.diff(found) >= -1e-15).all()
    assert found[0] == 0.0
    assert found[-1] == solid.volume
    assert volume_below(solid, [low, high]) == pytest.approx(np.array([0.0, solid.volume]), abs=1e-18)
    assert (found <= solid.volume * (1 + 1e-12)).all()


@settings(max_examples=15)
@given(solids(), st.floats(0.02, 0.98))
def test_the_area_is_how_fast_the_volume_grows(solid, share):
    low, high = solid.bounds[:, 2]
    z = low + share * (high - low)
    step = 1e-6
    under, over = volume_below(solid, [z - step, z + step])
    assert area_at(solid, z)[0] == pytest.approx((over - under) / (2 * step), rel=1e-3, abs=1e-7)


def test_flat_faces_count_from_just_under():
    steps = union([box((1, 1, 1)).solid(), box((2, 1, 0.5)).solid()])
    assert area_at(steps, [-1, 0, 0.25, 0.5, 0.75, 1, 2]) == pytest.approx(np.array([0, 0, 2, 2, 1, 1, 0]))
    assert volume_below(steps, [0, 0.5, 1]) == pytest.approx(np.array([0, 1.0, 1.5]))


def test_levels_in_any_order_and_none_at_all():
    solid = box((1, 1, 1)).solid()
    assert volume_below(solid, [0.75, 0.25, 2.0, -1.0, 0.25]).tolist() == [0.75, 0.25, 1.0, 0.0, 0.25]
    assert volume_below(solid, []).shape == (0,)
    assert volume_below(solid, 0.5).tolist() == [0.5]
    with pytest.raises(ValueError, match="not finite"):
        volume_below(solid, [math.nan])


def test_many_levels_in_portions(monkeypatch):
    levels = np.linspace(-0.06, 0.06, 500)
    whole = volume_below(HOLLOW.solid(), levels)
    monkeypatch.setattr(level, "PAIRS_AT_ONCE", 1000)
    keep.forget()
    assert volume_below(HOLLOW.solid(), levels).tolist() == whole.tolist()


def test_a_solid_of_floats_far_up_keeps_its_digits():
    tall = cylinder(0.01, 0.1).solid(Placement.at((500.0, 500.0, 800.0)))
    assert volume_below(tall, 800.05)[0] == pytest.approx(math.pi * 1e-4 * 0.05, rel=1e-8)


POT = difference(cylinder(0.1, 0.2).solid(), [cylinder(0.09, 0.2).solid(Placement.at((0, 0, 0.01)))])
THINGS = [
    POT,
    tube(0.05, 0.04, 0.5).solid(),
    ball(0.08, n=40).solid(),
    box((0.3, 0.02, 0.4), centre=True).solid(),
]


@settings(max_examples=15)
@given(
    st.lists(
        st.tuples(st.sampled_from(range(len(THINGS))), *[st.floats(-0.5, 0.5)] * 2, st.floats(-0.2, 0.8)),
        max_size=5,
    ),
    st.floats(0.05, 0.95),
)
def test_what_surely_hangs_together_below_a_level_is_one_part(things, level):
    """Against the parts that the boolean kernel leaves: pots and standpipes hold waters of their own."""
    space = box((1.5, 1.5, 1.0), centre=False).solid(Placement.at((-0.75, -0.75, 0.0)))
    left = difference(space, [THINGS[k].moved(Placement.at(at)) for k, *at in things])
    assume(
        not np.isclose(left.vertices[:, 2], level, atol=1e-6).any()
    )  # where a rim lies in it, both are right
    below = trim(left, normal=(0, 0, 1), offset=level)
    parts = [part for part in components(below) if part.volume > 1e-12]
    if surely_one_below(left, level):
        assert len(parts) == 1
    else:
        assert len(parts) > 1


def test_a_pot_a_hollow_an_island_and_a_bore():
    space = box((1.0, 1.0, 1.0)).solid()
    middle = Placement.at((0.5, 0.5, 0.3))
    for thing, height, one in (
        (POT, 0.45, False),  # its rim stands over the level: the water in it is another
        (POT, 0.55, True),
        (ball(0.1, n=40).solid(), 0.3, True),  # an island
        (ball(0.1, n=40).solid(), 0.7, True),  # wholly under water
        (ball(0.1, n=40).solid(), 0.1, True),
        (tube(0.05, 0.04, 0.5).solid(), 0.5, True),  # open below
        (tube(0.05, 0.04, 0.5).solid(Placement.at((0, 0, -0.3))), 0.15, False),  # it stands on the floor
    ):
        assert surely_one_below(difference(space, [thing.moved(middle)]), height) is one


def test_what_is_kept_of_a_solid_is_dropped_with_it_and_no_other_level_counts():
    """Levels over and under a solid change no digit of those between, and a moved solid has its own."""
    stone = ball(0.1, n=40).solid(Placement.at((0.0, 0.0, 0.3)))
    inner = np.array([0.23, 0.31, 0.36])
    alone = volume_below(stone, inner)
    among = volume_below(stone, [5.0, 0.31, -1.0, 0.23, 0.1, 0.36, 0.45])
    assert (among[[3, 1, 5]] == alone).all()
    assert among[[0, 2, 4, 6]].tolist() == [stone.volume, 0.0, 0.0, stone.volume]
    higher = stone.moved(Placement.at((0.0, 0.0, 0.01)))
    assert volume_below(higher, inner + 0.01) == pytest.approx(alone)
    assert (volume_below(higher, inner) < alone).all()
    assert area_at(stone, [0.3, 0.5]).tolist() == [pytest.approx(area_at(stone, 0.3)[0]), 0.0]


@given(
    solids(), st.lists(st.floats(-0.1, 1.1), min_size=1, max_size=6), st.lists(st.floats(0, 1), max_size=6)
)
def test_a_level_is_told_alike_whichever_others_are_asked_with_it(solid, shares, others):
    low, high = solid.bounds[:, 2]
    levels, more = (low + (high - low) * np.array(each) for each in (shares, others))
    for tell in (volume_below, area_at):
        keep.forget()
        alone = [float(tell(solid, z)[0]) for z in levels]
        keep.forget()
        together = tell(solid, [*more, *levels])[len(more) :]
        assert together.tolist() == alone
        assert tell(solid, levels[::-1]).tolist() == alone[::-1]
