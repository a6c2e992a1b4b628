"""Plates under water: published tables, limits that are known, and sums that must hold."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from layout3d.glass.plate import Press, Strip, Tie, bent

SLOPE = 9806.65  # of water, [Pa/m]
HELD = 10.0  # width and thickness of a strip that holds a top edge as a support does, [m]


def shares(ratio, *, filled=1.0, top=False, poisson=0.3):
    """Return stress over q H²/t² and bow over q H⁴/(E t³) of a pane ``ratio`` times as long as high."""
    height, thickness, modulus = 0.6, 0.01, 70e9
    strip = Strip(height, HELD, HELD) if top else None
    press = Press(filled * height, SLOPE)
    found = bent(ratio * height, height, thickness, [press], strip=strip, modulus=modulus, poisson=poisson)
    load = SLOPE * filled * height
    return (
        found.stress * thickness**2 / (load * height**2),
        found.deflection * modulus * thickness**3 / (load * height**4),
    )


@pytest.mark.parametrize(
    ("ratio", "stress", "deflection"),
    [(1.0, 0.16, 0.022), (1.5, 0.26, 0.042), (2.0, 0.32, 0.056), (2.5, 0.35, 0.063), (3.0, 0.37, 0.067)],
)
def test_all_edges_held_under_a_triangle(ratio, stress, deflection):
    """Roark's Formulas for Stress and Strain, table 11.4, case 1e, ν 0.3 (from memory): two figures."""
    assert shares(ratio, top=True) == (
        pytest.approx(stress, abs=0.006),
        pytest.approx(deflection, abs=0.0006),
    )


def test_a_square_under_water_has_the_middle_of_timoshenko():
    """Timoshenko and Woinowsky-Krieger, hydrostatic load, square (from memory): M 0.0239 in the middle.

    By symmetry half of that under an even load, whose M is 0.0479 q a².
    """
    side, thickness, poisson = 0.5, 0.01, 0.3
    found = bent(
        side, side, thickness, [Press(side, SLOPE)], strip=Strip(side, HELD, HELD), at=[(side / 2, side / 2)],
        poisson=poisson,
    )  # fmt: skip
    (middle,) = found.asked
    assert middle * thickness**2 / 6.0 / (SLOPE * side**3) == pytest.approx(0.0239, abs=5e-5)


@pytest.mark.parametrize(("ratio", "share"), [(2.0, 0.00710), (1.0, 0.01286), (0.5, 0.01507)])
def test_an_even_load_with_the_top_free(ratio, share):
    """Timoshenko and Woinowsky-Krieger, three edges simply held, one free, ν 0.3 (from memory): w = c q a⁴/D.

    a is the free edge; b over a 1/2, 1 and 2. An even load is water that stands a kilometre high.
    """
    length, thickness, modulus, poisson = 1.0, 0.01, 70e9, 0.3
    load = 1000.0
    even = Press(1e5, load / 1e5)
    found = bent(length, length / ratio, thickness, [even], modulus=modulus, poisson=poisson)
    plate = modulus * thickness**3 / (12.0 * (1.0 - poisson**2))
    assert found.deflection * plate / (load * length**4) == pytest.approx(share, rel=2e-3)
    assert found.deflection_at[1] == pytest.approx(length / ratio)


@pytest.mark.parametrize(
    ("ratio", "filled", "stress", "deflection"),
    [
        (0.5, 1.0, 0.0838, 0.00399),
        (1.0, 1.0, 0.1972, 0.03991),
        (2.0, 1.0, 0.4579, 0.38859),
        (3.0, 1.0, 0.6799, 1.11141),
        (5.0, 1.0, 1.1802, 3.53482),
        (1.0, 0.5, 0.0844, 0.0109),
        (2.0, 0.7, 0.2531, 0.1865),
        (3.0, 0.9, 0.5711, 0.8979),
    ],
)
def test_a_free_top_above_the_water(ratio, filled, stress, deflection):
    """Levy's series, 150 odd terms, on a grid of 201 by 401, ν 0.22: calculated apart from this program.

    Long panes are worst near their lower corners, by twist, where tables that print the mid-edge don't look.
    """
    found = shares(ratio, filled=filled, poisson=0.22)
    assert found == (pytest.approx(stress, rel=2e-3), pytest.approx(deflection, rel=6e-3))


def test_a_brace_all_along_is_a_strip_that_does_not_give():
    """Ties from end to end, too short to stretch, and a stiff strip: two ways to hold a top edge."""
    tied = bent(1.2, 0.5, 0.01, [Press(0.4, SLOPE)], ties=[Tie(0.0, 1.2, 0.01, 1e-6)])
    held = bent(1.2, 0.5, 0.01, [Press(0.4, SLOPE)], strip=Strip(0.5, HELD, HELD))
    assert tied.stress == pytest.approx(held.stress, rel=1e-3)
    assert tied.deflection == pytest.approx(held.deflection, rel=1e-3)


def test_a_narrow_brace_halves_the_span_of_the_strip():
    """A strip as a beam of two spans (beams with even load: 5 and 2.08 of q l⁴/384 E I by half the span)."""
    pane = [Press(0.55, SLOPE)]
    alone = bent(1.8, 0.6, 0.012, pane, strip=Strip(0.6, 0.07, 0.012))
    tied = bent(1.8, 0.6, 0.012, pane, strip=Strip(0.6, 0.07, 0.012), ties=[Tie(0.84, 0.96, 0.012, 0.6)])
    free = bent(1.8, 0.6, 0.012, pane)
    assert tied.deflection < alone.deflection < free.deflection
    assert tied.strip_stress < alone.strip_stress / 2.0
    assert free.strip_stress == 0.0


@given(
    length=st.floats(0.3, 2.5),
    height=st.floats(0.2, 1.0),
    filled=st.floats(0.2, 1.0),
    first=st.floats(0.1, 0.9),
    thick=st.floats(0.004, 0.02),
)
def test_loads_add_up_and_a_mirror_changes_nothing(length, height, filled, first, thick):
    """Linear: half of a load bends half as far; a brace at x and one at L - x bend a pane alike."""
    press = Press(filled * height, SLOPE)

    def tied(place):
        tie = Tie(place * length - 0.02, place * length + 0.02, 0.01, 0.5)
        return bent(length, height, thick, [press], strip=Strip(height, 0.05, 0.01), ties=[tie])

    one, other = tied(first), tied(1.0 - first)
    assert one.stress == pytest.approx(other.stress, rel=1e-6)
    half = bent(length, height, thick, [Press(press.top, SLOPE / 2.0)] * 2)
    whole = bent(length, height, thick, [press])
    assert half.stress == pytest.approx(whole.stress, rel=1e-9)
    assert whole.stress > 0.0
    assert whole.deflection == pytest.approx(
        bent(length, height, thick / 2.0, [press]).deflection / 8.0, rel=1e-9
    )
    assert np.isfinite(one.deflection)
