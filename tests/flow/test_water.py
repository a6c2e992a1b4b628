import pytest

from layout3d.errors import LayoutError, OutOfRange
from layout3d.flow.water import surface_tension, water_at

# IAPWS-95 density [kg/m³] and IAPWS 2008 viscosity [mPa s] at 101.325 kPa, calculated with the library
# `chemicals` (iapws95_rho, mu_IAPWS)
IAPWS = [
    (10, 999.702, 1.3059),
    (15, 999.103, 1.1376),
    (20, 998.207, 1.0016),
    (25, 997.048, 0.8900),
    (28, 996.236, 0.8324),
    (30, 995.649, 0.7972),
]


@pytest.mark.parametrize(("temperature", "rho", "mu"), IAPWS)
def test_density_and_viscosity_agree_with_iapws(temperature, rho, mu):
    water = water_at(temperature)
    assert water.density == pytest.approx(rho, abs=0.003)
    assert water.viscosity * water.density * 1e3 == pytest.approx(mu, abs=1e-4)  # four decimals are printed


def test_surface_tension_at_20_degrees():
    """Handbook: 0.0728 N/m at 20 °C (from memory)."""
    assert surface_tension(20.0) == pytest.approx(0.0728, abs=1e-4)


def test_surface_tension_falls_as_water_warms():
    assert surface_tension(30.0) < surface_tension(20.0) < surface_tension(5.0)


def test_kinematic_viscosity_is_the_quotient():
    """IAPWS: 1.0034e-6 m²/s at 20 °C."""
    assert water_at(20.0).viscosity == pytest.approx(1.0034e-6, rel=1e-4)


@pytest.mark.parametrize("temperature", [-1.0, 41.0, 293.15, float("nan")])
def test_a_temperature_out_of_range_is_refused(temperature):
    with pytest.raises(OutOfRange, match="temperature") as caught:
        water_at(temperature)
    assert isinstance(caught.value, LayoutError)


@pytest.mark.parametrize(("temperature", "tension"), [(5, 0.0749), (10, 0.0742), (25, 0.0720), (40, 0.0696)])
def test_surface_tension_by_the_table(temperature, tension):
    """IAPWS R1-76 prints 74.94, 74.22, 71.97 and 69.59 mN/m; from memory, as handbooks have them."""
    assert surface_tension(temperature) == pytest.approx(tension, abs=1e-4)
