"""The table of fitting losses against the sets it says it comes from, by way of the library fluids."""

import fluids
import pytest
from fluids.fittings import Hooper2K

from layout3d.fittings.losses import contraction_loss, expansion_loss, fitting_loss, losses_table

BORES = [size / 1000 for size in losses_table()["bores_mm"]]


@pytest.mark.parametrize(
    ("kind", "lengths"),
    [
        ("elbow_90", 30),
        ("elbow_45", 16),
        ("tee_run", 20),
        ("tee_branch", 60),
        ("ball_valve", 3),
        ("swing_check", 100),
    ],
)
@pytest.mark.parametrize("bore", BORES)
def test_low_is_crane(kind, lengths, bore):
    """Crane TP-410, K = n f_T; the table prints two figures."""
    crane = lengths * fluids.ft_Crane(bore)
    assert fitting_loss(kind, bore).low == pytest.approx(crane, rel=0.03, abs=0.006)


@pytest.mark.parametrize(
    ("kind", "name"),
    [
        ("swing_check", "Valve, Check, Swing"),
        ("ball_valve", "Valve, Gate, Full line size, Beta = 1"),
        ("elbow_45", "Elbow, 45°, Mitered (R/D=1.5), 1 weld (45° angle)"),
    ],
)
@pytest.mark.parametrize("bore", BORES)
def test_high_is_hooper(kind, name, bore):
    """Hooper 1981, Chem. Eng. 88(17), 96-100; his law of size at infinite Reynolds number."""
    hooper = Hooper2K(Di=bore / 0.0254, Re=1e12, name=name)
    assert fitting_loss(kind, bore).high == pytest.approx(hooper, rel=0.03, abs=0.006)


def test_laminar_terms_are_hooper():
    """Hooper 1981: K1 of a standard 90 elbow is 800, of a swing check 1500, of a 45 elbow 500."""
    assert fitting_loss("elbow_90", 0.02).laminar == 800
    assert fitting_loss("swing_check", 0.02057).laminar == 1500


@pytest.mark.parametrize(
    ("size_bore", "rishel"),
    [(15.44, 2.10), (20.57, 1.70), (26.24, 1.50), (34.65, 1.30), (40.44, 1.20), (52.04, 1.00), (77.27, 0.76)],
)
def test_high_of_a_90_elbow_is_rishel(size_bore, rishel):
    """HVAC Pump Handbook, Rishel, 2006, table 3.7, screwed 90 elbow."""
    assert fitting_loss("elbow_90", size_bore / 1000).high == pytest.approx(rishel)


@pytest.mark.parametrize(
    ("ratio", "rennels"), [(0.2, 0.56), (0.4, 0.53), (0.5, 0.50), (0.6, 0.44), (0.8, 0.23)]
)
def test_sudden_narrowing(ratio, rennels):
    """Rennels 2012 and Crane TP-410, on the smaller bore."""
    loss = contraction_loss(0.02, 0.02 * ratio)
    assert loss.high == pytest.approx(rennels, abs=0.006)
    assert loss.low == pytest.approx(0.5 * (1 - ratio**2), rel=1e-9)


@pytest.mark.parametrize("ratio", [0.1, 0.5, 0.9])
def test_sudden_widening_is_borda_carnot(ratio):
    assert expansion_loss(0.02 * ratio, 0.02).likely == pytest.approx(fluids.diffuser_sharp(ratio, 1.0))
