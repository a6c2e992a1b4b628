"""Open flow in round pipe against closed forms, an independent integration and published formulas."""

import math

import pytest
from scipy.integrate import solve_ivp
from scipy.optimize import brentq

from layout3d.flow.open_channel import (
    FULLEST,
    Reach,
    backwater,
    critical_depth,
    critical_flow,
    depth_of_energy,
    energy,
    normal_depth,
    uniform_flow,
)

G = 9.80665
LPH = 1 / 3.6e6
BORE = 0.0452


def section(bore, depth):
    """Area, wetted wall, width of the surface: integrated over chords, not by the angle."""
    half = math.sqrt(max(0.0, depth * (bore - depth)))
    wall = bore * math.acos(1 - 2 * depth / bore)
    return bore / 4 * wall - (bore / 2 - depth) * half, wall, 2 * half


def test_critical_flow_half_full():
    """Closed form: Q² T = g A³ with A = pi D²/8, T = D gives (pi/8)^1.5 sqrt(g) D^2.5."""
    assert critical_flow(0.1, 0.5) == pytest.approx((math.pi / 8) ** 1.5 * math.sqrt(G) * 0.1**2.5)


@pytest.mark.parametrize(("share", "factor"), [(0.25, 0.0647), (0.50, 0.2461), (0.75, 0.5397), (0.9, 0.8294)])
def test_section_factor_of_a_circle(share, factor):
    """Section factor A sqrt(A/T) over D^2.5 by chords, worked by hand to four figures."""
    area, _, width = section(1.0, share)
    assert critical_flow(1.0, share) / math.sqrt(G) == pytest.approx(area * math.sqrt(area / width))
    assert critical_flow(1.0, share) / math.sqrt(G) == pytest.approx(factor, rel=0.005)


@pytest.mark.parametrize("flow", [0.1, 0.3, 0.8, 1.5, 2.0])
def test_critical_depth_by_straub(flow):
    """Straub 1978, as handbooks quote it (from memory): yc = 1.01 D^-0.26 (Q²/g)^0.25, 0.02 < yc/D < 0.85.

    Its powers of D do not quite cancel: it is meant for sewers about a metre wide.
    """
    straub = 1.01 * (flow**2 / G) ** 0.25
    assert critical_depth(1.0, flow) == pytest.approx(straub, rel=0.035)  # an approximation of two powers


@pytest.mark.parametrize("share", [0.1, 0.5, 0.8])
def test_critical_depth_has_least_energy(share):
    flow = critical_flow(BORE, share)
    least = energy(BORE, flow, share * BORE)
    assert least < energy(BORE, flow, (share + 0.01) * BORE)
    assert least < energy(BORE, flow, (share - 0.01) * BORE)
    assert critical_depth(BORE, flow) == pytest.approx(share * BORE)


def test_uniform_flow_by_fluids_and_its_shape():
    """Manning by hand, n 0.009, D 77.27 mm at 1 %: V = (D/4)^(2/3) 0.1/0.009 = 0.800 m/s; 6751 L/h half full.

    Closed form of the circle: half full carries half of full; most is 1.076 of full, at 0.938 of the bore.
    """
    flow = uniform_flow(0.07727, 0.01, 0.5, 0.009)
    assert flow / LPH == pytest.approx(6751, rel=1e-3)
    assert flow / (math.pi / 8 * 0.07727**2) == pytest.approx(0.800, rel=1e-3)
    full = uniform_flow(0.05, 0.02, 1.0, 0.009)
    assert uniform_flow(0.05, 0.02, 0.5, 0.009) == pytest.approx(0.5 * full)
    most = uniform_flow(0.05, 0.02, FULLEST, 0.009)
    assert most == pytest.approx(1.076 * full, rel=1e-3)
    assert all(uniform_flow(0.05, 0.02, share, 0.009) < most for share in (0.90, 0.97))


@pytest.mark.parametrize("share", [0.05, 0.3, 0.7, 0.92])
def test_normal_depth_is_that_of_the_uniform_flow(share):
    reach = Reach(bore=BORE, length=1.0, fall=0.01, n=0.010)
    assert normal_depth(reach, uniform_flow(BORE, 0.01, share, 0.010)) == pytest.approx(
        share * BORE, rel=1e-6
    )
    assert normal_depth(reach, 2 * uniform_flow(BORE, 0.01, FULLEST, 0.010)) == math.inf


def integrated(reach, flow, last):
    """Depth at the start, from ``last`` at the end, by scipy's Radau on dy/ds = (Sf - S0)/(1 - Fr²)."""

    def rise(_, y):
        area, wall, width = section(reach.bore, y[0])
        friction = (flow * reach.n / area) ** 2 / (area / wall) ** (4 / 3)
        return [(friction - reach.fall) / (1 - flow**2 * width / (G * area**3))]

    found = solve_ivp(rise, (0, reach.length), [last], method="Radau", rtol=1e-9, atol=1e-12)
    assert found.success
    return found.y[0, -1]


@pytest.mark.parametrize(
    ("fall", "length", "litres_per_hour", "end"),
    [
        (0.0, 0.6, 1600, 0.0),  # level, free end
        (0.0, 0.05, 1600, 0.0),
        (0.001, 0.7, 1600, 0.0),  # falls less than it needs: deeper upstream
        (0.004, 3.0, 1600, 0.0),
        (0.004, 1.0, 1200, 0.040),  # water stands at its end: less deep upstream
        (0.03, 0.3, 1200, 0.040),  # the same in a steep leg
        (-0.005, 0.5, 800, 0.0),  # it rises
    ],
)
def test_backwater_by_an_independent_integration(fall, length, litres_per_hour, end):
    """Gradually varied flow, dy/dx = (S0 - Sf)/(1 - Fr²), Chow 1959 ch. 9, solved by scipy on this pipe."""
    reach, flow = Reach(bore=BORE, length=length, fall=fall, n=0.010), litres_per_hour * LPH
    critical = brentq(
        lambda y: flow**2 * section(BORE, y)[2] - G * section(BORE, y)[0] ** 3, 1e-4, BORE - 1e-9
    )
    last = max(end, critical * (1 + 1e-6))  # the equation has no slope at critical depth itself
    found = backwater(reach, flow, end)
    assert found.start == pytest.approx(integrated(reach, flow, last), rel=2e-3)
    assert found.energy == pytest.approx(energy(BORE, flow, found.start))


def test_energy_is_spent_on_friction():
    """Standard step, in 2,000 slices: the energy falls by the friction slope times the length."""
    reach, flow = Reach(bore=BORE, length=0.6, fall=0.0, n=0.013), 1000 * LPH
    found = backwater(reach, flow)
    depth = critical_depth(BORE, flow)
    head = energy(BORE, flow, depth)
    for _ in range(2000):
        area, wall, _ = section(BORE, depth)
        head += (flow * 0.013 / area) ** 2 / (area / wall) ** (4 / 3) * 0.6 / 2000
        depth = depth_of_energy(BORE, flow, head)
    assert found.energy == pytest.approx(head, rel=2e-3)


def test_a_long_leg_comes_to_its_uniform_depth():
    """A 1 % drain of 20 m: what Manning's formula says for uniform flow stands at its start, either side."""
    reach = Reach(bore=BORE, length=20.0, fall=0.005, n=0.010)
    flow = uniform_flow(BORE, 0.005, 0.6, 0.010)
    assert critical_depth(BORE, flow) < 0.6 * BORE  # a mild fall
    for end in (0.0, 0.9 * BORE):
        assert backwater(reach, flow, end).start == pytest.approx(0.6 * BORE, rel=1e-3)


def test_a_steep_leg_is_deepest_where_it_is_entered():
    reach = Reach(bore=BORE, length=1.0, fall=0.05, n=0.010)
    flow = critical_flow(BORE, 0.6)
    entered = backwater(reach, flow)
    assert entered.most == pytest.approx(0.6 * BORE)
    driven = backwater(reach, flow, fast=True)
    assert driven.most == pytest.approx(normal_depth(reach, flow))
    assert driven.most < entered.most


def test_a_full_leg_runs_on_under_pressure():
    """Manning full, by hand: the pressure at its start is that at its end and V² n²/R^(4/3) L, R = D/4."""
    reach, flow = Reach(bore=BORE, length=2.0, fall=0.0, n=0.010), 1500 * LPH
    speed = flow / (math.pi / 4 * BORE**2)
    lost = (speed * 0.010) ** 2 / (BORE / 4) ** (4 / 3) * 2.0
    assert backwater(reach, flow, 0.3).start == pytest.approx(0.3 + lost)
    steep = Reach(bore=BORE, length=2.0, fall=0.5, n=0.010)
    assert backwater(steep, flow, 0.3).start == pytest.approx(critical_depth(BORE, flow), rel=1e-3)


def test_no_flow_stands_level():
    found = backwater(Reach(bore=BORE, length=1.0, fall=0.01, n=0.010), 0.0, 0.02)
    assert (found.start, found.end, found.most) == (pytest.approx(0.01), 0.02, 0.02)
