"""The table reads both ways, keeps to its points, and is within 0.01 % of the true volume."""

import numpy as np
import pytest
from closed_solids import ball, cone
from hypothesis import given
from hypothesis import strategies as st

from layout3d.errors import OutOfRange
from layout3d.solid.boolean import difference
from layout3d.solid.level import volume_below
from layout3d.solid.primitives import box
from layout3d.solid.shape import Placement
from layout3d.water.level_table import LevelTable, _level_faces, _thinned, flat_levels, level_table

STEPPED = LevelTable(levels=(0.0, 0.1, 0.2, 0.4), volumes=(0.0, 0.01, 0.01, 0.05))


@pytest.mark.parametrize(
    ("level", "volume"), [(0.0, 0.0), (0.05, 0.005), (0.1, 0.01), (0.15, 0.01), (0.3, 0.03), (0.4, 0.05)]
)
def test_volume_at_a_level(level, volume):
    assert STEPPED.volume(level) == pytest.approx(volume, abs=1e-15)


@pytest.mark.parametrize(("volume", "level"), [(0.0, 0.0), (0.005, 0.05), (0.01, 0.1), (0.03, 0.3)])
def test_the_lowest_level_of_a_volume(volume, level):
    assert STEPPED.level(volume) == pytest.approx(level, abs=1e-15)


@given(share=st.floats(0.0, 1.0))
def test_reading_there_and_back(share):
    volume = share * 0.05
    assert STEPPED.volume(STEPPED.level(volume)) == pytest.approx(volume, abs=1e-15)


@pytest.mark.parametrize("level", [-0.001, 0.401, float("nan")])
def test_a_level_beyond_the_table_is_refused(level):
    with pytest.raises(OutOfRange, match=r"a level in water of .* is outside its table") as caught:
        STEPPED.volume(level)
    assert caught.value.expected == "0 mm to 400 mm"


def test_the_ends_may_be_met_by_rounding():
    assert STEPPED.level(0.05 + 1e-15) == 0.4
    assert STEPPED.volume(-1e-15) == 0.0


def test_a_volume_beyond_the_table_is_refused():
    with pytest.raises(OutOfRange, match="a volume in water of 60 L is outside its table"):
        STEPPED.level(0.06)


STEPS = st.lists(st.tuples(st.floats(0.01, 0.2), st.floats(0.0, 0.1)), min_size=1, max_size=12)


@given(steps=STEPS, share=st.floats(0.0, 1.0))
def test_level_and_volume_are_inverse(steps, share):
    levels, volumes = [0.0], [0.0]
    for rise, water in steps:
        levels.append(levels[-1] + rise)
        volumes.append(volumes[-1] + water)
    table = LevelTable(levels=tuple(levels), volumes=tuple(volumes))
    volume = share * volumes[-1]
    assert table.volume(table.level(volume)) == pytest.approx(volume, abs=1e-12)


def test_the_surface_is_the_slope_of_the_piece_below():
    """Between 0.1 and 0.2 m all is stone."""
    table = LevelTable(levels=(0.0, 0.1, 0.2, 0.3), volumes=(0.0, 0.01, 0.01, 0.02))
    assert table.area(0.15) == 0.0
    assert table.area(0.25) == pytest.approx(0.1)
    assert table.area(0.1) == pytest.approx(0.1)
    with pytest.raises(OutOfRange, match="outside its table"):
        table.area(0.31)


def test_a_table_can_end_sooner():
    sooner = STEPPED.up_to(0.3)
    assert sooner.levels == (0.0, 0.1, 0.2, 0.3)
    assert sooner.volumes == pytest.approx((0.0, 0.01, 0.01, 0.03))
    assert STEPPED.up_to(0.4) is STEPPED


@pytest.mark.parametrize(
    ("levels", "volumes", "words"),
    [
        ((0.0,), (0.0,), "1 levels and 1 volumes"),
        ((0.0, 1.0), (0.0,), "2 levels and 1 volumes"),
        ((0.0, 0.0), (0.0, 1.0), "levels of water must rise"),
        ((0.0, 1.0), (1.0, 0.0), "never fall"),
        ((0.0, 1.0), (-1.0, 0.0), "0 or more"),
        ((0.0, float("inf")), (0.0, 1.0), "finite"),
    ],
)
def test_bad_tables_are_refused(levels, volumes, words):
    with pytest.raises(OutOfRange, match=words):
        LevelTable(levels=levels, volumes=volumes)


def ledge():
    """A box with a ledge in it, whose level faces are not on any even step."""
    cut = box((0.6, 0.5, 0.1234)).solid(Placement.at((0.0, 0.0, 0.2171)))
    return difference(box((1.0, 0.5, 0.6)).solid(), [cut])


SOLIDS = {
    "box": lambda: box((1.0, 0.5, 0.6)).solid(),
    "ball": lambda: ball(0.3, n=40).solid(Placement.at((0, 0, 0.3))),
    "cone on its tip": lambda: cone(0.0, 0.3, 0.6).solid(),
    "ledge": ledge,
}


@pytest.mark.parametrize("name", SOLIDS)
@pytest.mark.parametrize("marked", [True, False])
def test_the_table_is_within_its_promise(name, marked):
    solid = SOLIDS[name]()
    low, high = solid.bounds[:, 2]
    marks = flat_levels([solid]) if marked else ()
    table = level_table(lambda levels: volume_below(solid, levels), low, high, marks=marks)
    levels = np.random.default_rng(3).uniform(low, high, 2000)
    true = volume_below(solid, levels)
    found = np.array([table.volume(level) for level in levels])
    assert (np.abs(found - true) <= 1e-4 * np.maximum(true, 1e-3 * solid.volume)).all()
    assert len(table.levels) < 2000
    assert table.volumes[-1] == pytest.approx(solid.volume, rel=1e-12)


def test_a_box_needs_two_points():
    solid = SOLIDS["box"]()
    table = level_table(lambda levels: volume_below(solid, levels), 0.0, 0.6)
    assert table.levels == (0.0, 0.6)


def test_level_faces_come_largest_first():
    found = flat_levels([ledge()])
    assert sorted(found) == pytest.approx([0.0, 0.2171, 0.3405, 0.6])
    assert sorted(found[2:]) == pytest.approx([0.2171, 0.3405])


@pytest.mark.parametrize("degrees", [0, 30, 75])
def test_level_faces_are_known_by_their_height_and_area_however_they_are_turned(degrees):
    """A step: 0.02 m² at its foot, 0.01 at half its height and 0.01 at its top."""
    turned = Placement.turned((0.0, 0.0, 1.0), np.radians(degrees))
    cut = box((0.1, 0.1, 0.2)).solid(turned @ Placement.at((0.1, 0.0, 0.1)))
    step = difference(box((0.2, 0.1, 0.2)).solid(turned), [cut])
    faces = _level_faces(step)
    assert [height for height, _ in faces] == pytest.approx([0.0, 0.1, 0.2])
    assert [area for _, area in faces] == pytest.approx([0.02, 0.01, 0.01])


def test_the_largest_level_faces_come_first():
    """0.01 m² at 0 and 0.1 m, and at 0.1 another 0.04."""
    small, large = box((0.1, 0.1, 0.1)).solid(), box((0.2, 0.2, 0.1)).solid(Placement.at((1.0, 0.0, 0.1)))
    assert flat_levels([small, large])[0] == pytest.approx(0.1)
    assert sorted(flat_levels([small, large])) == pytest.approx([0.0, 0.1, 0.2])
    many = [box((0.01, 0.01, 0.001)).solid(Placement.at((0.0, 0.0, 0.01 * n))) for n in range(200)]
    assert len(flat_levels(many)) == 256


def test_points_on_a_straight_run_are_dropped_and_bends_are_kept():
    levels = np.array([0.0, 1.0, 2.0, 3.0, 4.0, 5.0])
    kept, volumes = _thinned(levels, np.array([0.0, 1.0, 2.0, 3.0, 5.0, 7.0]))
    assert kept.tolist() == [0.0, 3.0, 5.0]
    assert volumes.tolist() == [0.0, 3.0, 7.0]
    # a bow of small steps is no straight run, though each bends little
    bow = 1.0 + 1e-11 * np.array([0.0, 4.0, 6.0, 6.0, 4.0, 0.0])
    assert len(_thinned(levels, np.array([0.0, 1.0, 2.0, 3.0, 4.0, 5.0]) * bow)[0]) > 2
