import pytest
from hypothesis import given
from hypothesis import strategies as st

from layout3d.errors import OutOfRange
from layout3d.outage.levels import Levels

STEPS = st.lists(st.tuples(st.floats(0.01, 0.2), st.floats(0.0, 0.1)), min_size=1, max_size=12)


@given(steps=STEPS, share=st.floats(0.0, 1.0))
def test_level_and_volume_are_inverse(steps, share):
    levels, volumes = [0.0], [0.0]
    for rise, water in steps:
        levels.append(levels[-1] + rise)
        volumes.append(volumes[-1] + water)
    table = Levels(levels=tuple(levels), volumes=tuple(volumes))
    volume = share * volumes[-1]
    assert table.volume(table.level(volume)) == pytest.approx(volume, abs=1e-12)


def test_the_lowest_level_of_a_volume_that_stands_still():
    """Between 0.1 and 0.2 m all is stone."""
    table = Levels(levels=(0.0, 0.1, 0.2, 0.3), volumes=(0.0, 0.01, 0.01, 0.02))
    assert table.level(0.01) == pytest.approx(0.1)
    assert table.area(0.15) == 0.0
    assert table.area(0.25) == pytest.approx(0.1)
    assert table.area(0.1) == pytest.approx(0.1)


@pytest.mark.parametrize("level", [-0.01, 0.51, float("nan")])
def test_nothing_beyond_the_table(level):
    table = Levels(levels=(0.0, 0.5), volumes=(0.0, 0.1), name="sump")
    with pytest.raises(OutOfRange, match="level"):
        table.volume(level)
    with pytest.raises(OutOfRange, match="outside the table of sump"):
        table.level(0.2)


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
        Levels(levels=levels, volumes=volumes)
