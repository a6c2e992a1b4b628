"""A point of operation by two independent ways."""

import math

import fluids
import pytest
from plain_flow import parabola
from scipy.optimize import brentq

from layout3d.fittings.losses import Loss
from layout3d.flow.network import Junction, Network, Outlet, Pipe, Pump, Reservoir
from layout3d.flow.solve import solve
from layout3d.flow.water import water_at

LPH = 1 / 3.6e6


def test_operating_point_of_a_small_return():
    """Own root-find with scipy and fluids' friction (Colebrook): H = 2.5 (1 - (Q/3000 L/h)²), lift 1.2 m,
    3.0 m of 3/4 in schedule 40 (20.57 mm), sum of K 5.0, water at 20 °C: 1493 L/h at 1.881 m."""
    bore, nu, g = 0.810 * 0.0254, 1.0034e-6, 9.80665

    def theirs(q):
        v = q / (math.pi * bore**2 / 4)
        f = fluids.friction_factor(Re=v * bore / nu, eD=1.5e-6 / bore, Method="Colebrook")
        return 1.2 + (f * 3.0 / bore + 5.0) * v * v / (2 * g)

    root = brentq(lambda q: 2.5 * (1 - (q / (3000 * LPH)) ** 2) - theirs(q), 100 * LPH, 3000 * LPH)
    assert root / LPH == pytest.approx(1493.0, abs=1.0)

    ours = solve(
        Network(
            nodes=(
                Reservoir(name="sump", level=0.0),
                Junction(name="out", elevation=0.0),
                Outlet(name="mouth", elevation=1.2, bore=bore),
            ),
            links=(
                Pump(name="pump", start="sump", end="out", curve=parabola(2.5, 3000 * LPH)),
                # of the sum of K, 1.0 is the velocity head that leaves the mouth
                Pipe(name="pipe", start="out", end="mouth", length=3.0, bore=bore, loss=Loss.exact(4.0)),
            ),
        ),
        water=water_at(20.0),
    )
    assert ours.links["pump"].flow == pytest.approx(root, rel=1e-4)
    assert -ours.links["pump"].loss == pytest.approx(1.881, rel=1e-3)
