import pytest
from hypothesis import example, given
from hypothesis import strategies as st
from scipy.interpolate import PchipInterpolator

from layout3d.flow.monotone import Monotone

STEPS = st.lists(st.tuples(st.floats(0.01, 3.0), st.floats(-2.0, 2.0)), min_size=1, max_size=9)


@example(steps=[(1.0, 1.0), (3.0, -30.0)], share=0.1)  # its end is steeper than thrice the first rise
@example(steps=[(3.0, 30.0), (1.0, -1.0)], share=0.9)
@given(steps=STEPS, share=st.floats(0.0, 1.0))
def test_it_is_the_curve_of_scipy(steps, share):
    """scipy.interpolate.PchipInterpolator, an independent implementation of the same method."""
    x, y = [0.0], [1.0]
    for dx, dy in steps:
        x.append(x[-1] + dx)
        y.append(y[-1] + dy)
    place = x[0] + share * (x[-1] - x[0])
    theirs = PchipInterpolator(x, y)
    value, slope = Monotone(x, y).at(place)
    assert value == pytest.approx(float(theirs(place)), rel=1e-9, abs=1e-9)
    if all(abs(place - knot) > 1e-9 for knot in x[1:-1]):
        assert slope == pytest.approx(float(theirs.derivative()(place)), rel=1e-6, abs=1e-6)
