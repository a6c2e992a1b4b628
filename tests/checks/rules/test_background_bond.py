"""Archimedes over the area that lies on the glass: V (rho_water - rho) g / A, on the share that is bonded."""

import pytest

from layout3d.catalog import water_density

RULE = "background-bond"
LIFTED = (water_density(24.0) - 45) * 9.80665  # per cubic metre of rigid foam, [N]


def slab(thickness, more=""):
    flat = "kind: background, panels: [back], relief: {form: flat, depth: 0}"
    return f"wall: {{{flat}, thickness: {thickness}{more}}}"


def test_an_open_gap_behind_it_bonds_nothing(faulty):
    (finding,) = faulty(RULE)
    assert finding.severity == "fault"
    # the beads of silicone in the corners take a little of the slab
    weight_above = 0.1 * 0.6 * 0.06 * 45 * 9.80665
    assert finding.measured == pytest.approx(0.3 * 0.6 * 0.06 * LIFTED - weight_above, rel=0.02)


def test_on_the_glass_or_bedded_it_holds(check):
    assert check(RULE, slab(60), waterline=300) == ()
    assert check(RULE, slab(60, ", gap: 10, bedding: expanding polyurethane foam"), waterline=300) == ()


@pytest.mark.parametrize(("thickness", "severity"), [(215, None), (240, "warning")])
def test_either_side_of_the_limit(check, thickness, severity):
    """Drowned, a slab of thickness t pulls on 0.3 of its back with t (rho - 45) g / 0.3: 7 kPa at 225 mm."""
    found = check(RULE, slab(thickness), waterline=399.9)
    assert [f.severity for f in found] == ([severity] if severity else [])
    for finding in found:
        assert finding.measured == pytest.approx(thickness / 1000 * LIFTED / 0.3, rel=0.05)  # less the beads


def test_what_is_heavier_than_water_pulls_on_nothing(check):
    assert check(RULE, slab(60, ", gap: 20, material: concrete"), waterline=300) == ()
