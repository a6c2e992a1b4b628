"""What counts as the same, so that what hangs on it is kept."""

import pytest

from layout3d.model.same import FEW, same


@pytest.mark.parametrize("count", [2, 2 * FEW])
def test_rows_of_floats_are_the_same_to_the_last_digit_and_sign(count):
    row = tuple(0.1 * k for k in range(count))
    assert same(row, (*row,))
    for other in ((*row[:-1], row[-1] + 1e-15), (-0.0, *row[1:]), row[:-1], (0, *row[1:]), list(row)):
        assert not same(row, other)
