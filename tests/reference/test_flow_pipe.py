"""Friction against published examples and tables."""

import pytest
from plain_flow import factor as darcy

from layout3d.flow.pipe import friction_head

GPM = 6.30902e-5  # m³/s
INCH = 0.0254


def test_friction_head_of_oil_in_cast_iron():
    """White, Fluid Mechanics, 4th ed., Example 6.7 (pp. 350-351): 117 m, f from a chart as 0.0225."""
    head = friction_head(0.2, 500.0, inside_diameter=0.2, roughness=0.26e-3, viscosity=1e-5)
    assert head == pytest.approx(117.0, rel=0.02)  # chart reading: three figures, f good to about 1 %


@pytest.mark.parametrize(
    ("bore_inch", "gpm", "published"),
    [(1.049, 5, 1.52), (1.610, 15, 1.45)],
)
def test_plumbing_code_table_of_schedule_40_plastic(bore_inch, gpm, published):
    """77 Ill. Adm. Code 906, App. A, Exhibit I: ft per 100 ft, schedule 40 plastic, C 150, nominal bores.

    The table is made with the Hazen-Williams formula, an old empirical one. At these Reynolds numbers its
    smooth C of 150 is known to read low and its careful C of 130 high: (150/130)^1.852 = 1.303 times as much.
    """
    ours = 100 * friction_head(gpm * GPM, 1.0, inside_diameter=bore_inch * INCH)
    assert published < ours < published * 1.303
    assert ours == pytest.approx(published, rel=0.15)


@pytest.mark.parametrize(
    ("reynolds", "rough", "factor"),
    [(15256, 5.6e-5, 0.02780), (17132, 7.2e-5, 0.027040)],
)
def test_factor_near_swamee_and_jain(reynolds, rough, factor):
    """Swamee and Jain 1976, J. Hydraul. Div. ASCE 102(5), 657-664: within 1 % of Colebrook."""
    import math

    explicit = 0.25 / math.log10(rough / 3.7 + 5.74 / reynolds**0.9) ** 2
    assert darcy(reynolds, rough) == pytest.approx(explicit, rel=0.01)
    assert darcy(reynolds, rough) == pytest.approx(factor, rel=0.005)


@pytest.mark.parametrize("reynolds", [1e4, 3e4, 1e5])
def test_smooth_pipe_near_blasius(reynolds):
    """Blasius 1913, f = 0.3164 Re^-0.25, within 3 % of the smooth Colebrook line from 4000 to 1e5."""
    assert darcy(reynolds, 0.0) == pytest.approx(0.3164 * reynolds**-0.25, rel=0.03)
