"""Sets of cells that hang together, against SciPy's own labels."""

import numpy as np
import pytest
from scipy.ndimage import label

from layout3d.swim.joined import joined


@pytest.mark.parametrize(
    "shape", [(30, 20, 10), (5, 4, 3), (3, 1, 7), (1, 1, 1), (0, 2, 2), (2, 0, 2)], ids=str
)
@pytest.mark.parametrize("share", [0.0, 0.2, 0.3, 0.45, 0.7, 1.0])
def test_cells_are_parted_and_numbered_as_by_another_library(shape, share):
    """scipy.ndimage.label joins cells by faces and numbers sets as they come, the last axis fastest."""
    mask = np.asfortranarray(np.random.default_rng(7).random(shape) < share)
    numbers, count = joined(mask)
    expected, expected_count = label(mask.T)
    assert count == expected_count
    np.testing.assert_array_equal(numbers, expected.T)
    assert numbers.flags.f_contiguous or not mask.size
