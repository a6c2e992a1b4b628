"""Water by temperature against figures of the IAPWS formulations and a published table."""

import pytest

from layout3d.catalog import water_density, water_viscosity
from layout3d.errors import OutOfRange

IAPWS = [
    (10.0, 999.702, 1.3059e-3),
    (15.0, 999.103, 1.1376e-3),
    (20.0, 998.207, 1.0016e-3),
    (25.0, 997.048, 0.8900e-3),
    (28.0, 996.236, 0.8324e-3),
    (30.0, 995.649, 0.7972e-3),
]
"""Temperature, density by IAPWS-95, viscosity by IAPWS 2008, at 101.325 kPa."""


@pytest.mark.parametrize(("celsius", "density", "viscosity"), IAPWS)
def test_against_iapws(celsius, density, viscosity):
    """Density agrees with IAPWS-95 to 0.01 kg/m³; the viscosity equation is a fit, good to 0.1 % here."""
    assert water_density(celsius) == pytest.approx(density, abs=0.01)
    assert water_viscosity(celsius) == pytest.approx(viscosity, rel=1e-3)


@pytest.mark.parametrize(
    ("celsius", "density"),
    [(4, 999.97), (18, 998.60), (22, 997.77), (24, 997.30), (28, 996.24), (35, 994.03), (40, 992.22)],
)
def test_density_against_the_published_table(celsius, density):
    """Tanaka et al., Metrologia 38 (2001) 301, table, rounded to 0.01 kg/m³."""
    assert water_density(celsius) == pytest.approx(density, abs=0.006)


def test_kinematic_viscosity_at_20_degrees():
    """1.0034e-6 m²/s at 20 °C (IAPWS)."""
    assert water_viscosity(20.0) / water_density(20.0) == pytest.approx(1.0034e-6, rel=5e-4)


@pytest.mark.parametrize("celsius", [-0.1, 40.1, float("nan")])
def test_a_density_outside_the_fit_is_refused(celsius):
    with pytest.raises(OutOfRange, match=r"expected 0 to 40 °C"):
        water_density(celsius)


@pytest.mark.parametrize("celsius", [-0.1, 100.1, float("nan")])
def test_a_viscosity_outside_the_fit_is_refused(celsius):
    with pytest.raises(OutOfRange, match=r"expected 0 to 100 °C"):
        water_viscosity(celsius)
