from __future__ import annotations

import numpy as np
import pytest

from layout3d.draw.seen import depths


@pytest.mark.parametrize("share", [0.0, 0.002, 0.3, 1.0])
def test_depths_are_the_distances_of_another_library(share):
    """Reference: scipy.ndimage.distance_transform_edt, which is exact as well: equal to the last bit."""
    from scipy.ndimage import distance_transform_edt

    mask = np.pad(np.random.default_rng(3).random((70, 110)) >= share, 1)
    assert np.array_equal(depths(mask), distance_transform_edt(mask))
