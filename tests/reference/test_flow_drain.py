"""Drains against published tables and closed forms."""

import math

import pytest

from layout3d.fittings.losses import Loss
from layout3d.flow.drain import full_flow, stack_flow
from layout3d.flow.water import water_at

LPH = 1 / 3.6e6


@pytest.mark.parametrize(
    ("bore_inch", "quarter", "seven_24", "third"),
    [
        (1.364, 1433, 1853, 2315),
        (1.592, 2165, 2799, 3496),
        (2.049, 4243, 5486, 6853),
        (3.042, 12170, 15735, 19658),
    ],
)
def test_stacks_of_wyly_and_eaton(bore_inch, quarter, seven_24, third):
    """Wyly and Eaton 1961, NBS Monograph 31: gpm = 27.8 r^(5/3) D^(8/3), worked out in L/h for schedule
    40."""
    band = stack_flow(bore_inch * 0.0254)
    for flow, printed in ((band.low, quarter), (band.likely, seven_24), (band.high, third)):
        assert flow / LPH == pytest.approx(printed, rel=2e-3)


@pytest.mark.parametrize(
    ("bore_mm", "litres_per_hour"),
    [
        (15.44, 1210),
        (20.57, 2271),
        (26.24, 3830),
        (34.65, 6894),
        (40.44, 9523),
        (52.04, 16066),
        (77.27, 36124),
    ],
)
def test_full_drains_by_energy(bore_mm, litres_per_hour):
    """Energy balance solved with scipy and fluids' Colebrook: drop 0.6 m, 0.8 m of pipe, K 2.4, 20 °C."""
    import fluids
    from scipy.optimize import brentq

    bore, nu = bore_mm / 1000, 1.0034e-6

    def miss(v):
        f = fluids.friction_factor(Re=v * bore / nu, eD=1.5e-6 / bore, Method="Colebrook")
        return (f * 0.8 / bore + 2.4) * v * v / (2 * 9.80665) - 0.6

    theirs = brentq(miss, 0.2, 5.0) * math.pi / 4 * bore**2
    assert theirs / LPH == pytest.approx(litres_per_hour, rel=2e-3)
    ours = full_flow(bore, 0.6, 0.8, loss=Loss.exact(2.4), water=water_at(20.0))
    assert ours.likely == pytest.approx(theirs, rel=1e-3)
