"""Texts in a row, against the regression of another library."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from layout3d.sheets.spaced import spaced


@given(wishes=st.lists(st.integers(-60, 60) | st.floats(-50.0, 50.0), max_size=12), gap=st.floats(0.0, 9.0))
def test_a_row_is_the_isotonic_regression_of_what_is_over_an_even_one(wishes, gap):
    """Reference: scipy's ``isotonic_regression``, by the algorithm of Busing 2022, J. Stat. Softw. 102."""
    from scipy.optimize import isotonic_regression

    row = gap * np.arange(len(wishes))
    wanted = isotonic_regression(np.array(wishes) - row).x + row if wishes else []
    assert spaced(wishes, gap) == pytest.approx(list(wanted), abs=1e-9)
