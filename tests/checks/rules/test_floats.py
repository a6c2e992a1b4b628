"""Archimedes: a loose piece under water comes up if it is lighter than the water it pushes aside."""

import pytest

from layout3d.catalog import water_density

RULE = "floats"
WATER = water_density(24.0)  # the scene's default


@pytest.mark.parametrize(
    ("density", "floats"), [(480, True), (WATER - 1, True), (WATER + 1, False), (1200, False)]
)
def test_either_side_of_the_waters_density(faulty, density, floats):
    """Wholly under water the lift is V (rho_water - rho) g, whatever the shape."""
    found = faulty(RULE, density=f"{density} kg/m3")
    assert bool(found) == floats
    if floats:
        (finding,) = found
        assert finding.severity == "fault"
        volume = finding.measured / (9.80665 * (WATER - density))
        (heavier,) = faulty(RULE, density=f"{density - 100} kg/m3")
        assert heavier.measured - finding.measured == pytest.approx(volume * 100 * 9.80665, rel=1e-6)


def test_what_is_fixed_or_stands_dry_does_not_float(check):
    stump = (
        "log: {kind: wood, length: 200, branches: 0, detail: 2000, material: wood pine, at: [300, 200, 0]%s}"
    )
    assert [finding.parts for finding in check(RULE, stump % "", waterline=300)] == [("log",)]
    assert check(RULE, stump % ", fixed_to: tank.bottom", waterline=300) == ()
    assert check(RULE, stump % "", waterline=2) == ()
