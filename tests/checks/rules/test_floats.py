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


LOG = "log: {kind: wood, length: 200, branches: 0, detail: 2000, material: wood pine, at: [300, 200, 50], \
fixed_to: stone}"
STONE = "stone: {kind: rock, detail: 400, size: [SIZE, SIZE, SIZE], at: [300, 200, 0]}"


@pytest.mark.parametrize(("size", "count"), [(15, 1), (120, 0)])
def test_what_is_tied_together_rises_together(check, size, count):
    """A log tied to a pebble takes it along; a heavy stone holds it down."""
    found = check(RULE, f"{STONE.replace('SIZE', str(size))}\n{LOG}", waterline=300)
    assert [f.parts for f in found] == [("stone", "log")] * count
    for finding in found:
        assert "stone and log, tied together, are lifted by" in finding.message


def test_a_stone_that_is_glued_down_holds_what_is_tied_to_it(check):
    glued = STONE.replace("SIZE", "15").replace("}", ", fixed_to: tank.bottom}")
    assert check(RULE, f"{glued}\n{LOG}", waterline=300) == ()


def test_ballast_is_told_for_the_place_where_it_lies(faulty):
    """Granite of 2,700 kg/m³ under water of 997 pulls down 0.631 of what it weighs: 0.96 kg take 1.5."""
    (finding,) = faulty(RULE)
    dry = finding.measured / 9.80665
    assert dry * 2700 / (2700 - WATER) == pytest.approx(1.52, abs=0.01)
    assert (
        "lay 1.5 kg of granite (its weight in air; under water that pulls down like 960 g)" in finding.remedy
    )


def test_what_is_tied_to_sand_is_held_by_nothing(check):
    """The bed's own weight does not lie on it."""
    sand = "stone: {SAND, depth: 30, pitch: 50}"
    (finding,) = check(RULE, f"{sand}\n{LOG}", waterline=300)
    assert finding.parts == ("log",)
