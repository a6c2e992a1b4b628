"""A point of operation by two independent ways."""

import math

import fluids
import pytest
from scipy.optimize import brentq

from layout3d.flow.pipe import friction_head, velocity_head, velocity_in
from layout3d.flow.pump import Curve, operating_point

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

    def ours(q):
        return 1.2 + friction_head(q, 3.0, inside_diameter=bore) + 5.0 * velocity_head(velocity_in(q, bore))

    point = operating_point(Curve.from_two_points(2.5, 3000 * LPH), ours)
    assert point.flow == pytest.approx(root, rel=3e-4)  # the parabola is drawn through 33 points
    assert point.head == pytest.approx(1.881, rel=2e-3)
