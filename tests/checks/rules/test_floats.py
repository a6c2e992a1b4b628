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


GLUED = ", fixed_to: tank.bottom"


def test_what_is_fixed_or_stands_dry_does_not_float(check):
    stump = (
        "log: {kind: wood, length: 200, branches: 0, detail: 2000, material: wood pine, at: [300, 200, 0]%s}"
    )
    assert [finding.parts for finding in check(RULE, stump % "", waterline=300)] == [("log",)]
    assert check(RULE, stump % ", fixed_to: tank.bottom", waterline=300) == ()
    assert check(RULE, stump % "", waterline=2) == ()


@pytest.mark.parametrize(
    ("material", "more", "count"), [("pumice", "", 1), ("lava rock", "", 0), ("pumice", GLUED, 0)]
)
def test_pumice_is_warned_of_until_it_is_held(check, material, more, count):
    """As it is bought it is lighter than water, whatever it weighs once its pores are full."""
    stone = (
        f"stone: {{kind: rock, mesh: block.obj, longest: 200, material: {material}, at: [300, 200, 0]{more}}}"
    )
    found = check(RULE, stone, waterline=300)
    assert [(finding.severity, finding.parts) for finding in found] == [("warning", ("stone",))] * count
    for finding in found:
        dry = 200 * 133.333 * 66.667e-9 * (WATER - 650) * 9.80665
        assert finding.measured == pytest.approx(dry, rel=1e-3)
        assert "sinks as pumice; as bought, dry, it is lifted by" in finding.message


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


LIGHT = "light: {kind: substrate, depth: 100, pitch: 100, material: expanded clay}"


@pytest.mark.parametrize(
    ("waterline", "cap", "severities"),
    [
        (300, "", ["fault"]),
        (30, "", []),  # most of it lies dry, and weighs on the rest
        (300, "cap: {kind: substrate, depth: DEPTH, pitch: 100}", []),
        (300, "cap: {kind: substrate, depth: DEPTH, pitch: 100, region: [0, 0, 300, 400]}", ["fault"]),
        (300, "stone: {kind: rock, detail: 400, size: [200, 200, 200], at: [300, 200, 100]}", ["fault"]),
    ],
)
def test_light_grains_come_up_unless_a_bed_lies_over_all_of_them(check, waterline, cap, severities):
    """100 mm of grains of 646.6 kg/m³ (pores 0.42) are lifted by 20.3 kg/m², and sand of 2,650 kg/m³ (0.4)
    presses on them under water by 0.99 kg/m² a millimetre: from 21 mm on it holds them.
    """
    parts = f"{LIGHT}\n{cap.replace('DEPTH', '122')}"
    found = check(RULE, parts, waterline=waterline)
    assert [f.severity for f in found] == severities
    assert all(f.parts == ("light",) for f in found)
    if "cap" in cap and not severities:
        assert check(RULE, parts.replace("122", "119"), waterline=waterline)


@pytest.mark.parametrize(
    ("more", "count"),
    [
        ("", 1),
        ("sand: {kind: substrate, depth: 20, pitch: 100}", 0),
        ("stone: {kind: rock, detail: 400, size: [60, 60, 60], at: [300, 200, 10]}", 1),
        (
            "stone: {kind: rock, form: slab, size: [300, 200, 80], rest: true, at: [300, 200, 20]}",
            0,
        ),
    ],
)
def test_a_mat_of_foam_is_held_down_by_what_lies_on_it(check, more, count):
    """10 mm of foam rubber on 600 x 400 mm are lifted by 2.4 L x 0.9 kg/L, which 1.3 L of granite weighs."""
    mat = "mat: {kind: mat, thickness: 10}"
    found = check(RULE, f"{mat}\n{more}", waterline=300)
    assert [(f.severity, f.parts) for f in found] == [("warning", ("mat",))] * count


@pytest.mark.parametrize(
    ("level", "material", "lifts"),
    [
        (94, "expanded clay", []),
        (96, "expanded clay", [0.13]),
        (150, "expanded clay", [3.99]),
        (150, "lava rock", []),
    ],
)
def test_filter_media_of_light_grains_come_up_in_their_compartment(check, level, material, lifts):
    """200 x 100 x 100 mm from 30 mm up, 0.58 of it grains of 646.6 kg/m³: lifted from 30 + 64.9 mm on."""
    found = check(
        RULE,
        "sump: {SUMP, at: [0, 0, -500], inside: [202, 102, 200], compartments: [{name: a, "
        f"level: {level}, media: {{top: 130, material: {material}}}}}]}}",
    )
    assert [one.measured for one in found] == pytest.approx(lifts, abs=0.01)
    assert all((one.severity, one.parts) == ("warning", ("sump.media_a",)) for one in found)


@pytest.mark.parametrize(("density", "lifts"), [(905, [0.318]), (996, [0.0045]), (998, [])])
def test_an_empty_basket_of_light_plastic_comes_up(check, density, lifts):
    """200³ with walls 3 thick, 0.6 of them solid: (8 - 7.4143) L · 0.6 = 0.3514 L in water of 997.3 kg/m³."""
    basket = "basket: {kind: filter_basket, size: [200, 200, 200], material: own, at: [300, 200, 0]}"
    own = f"catalog: {{materials: {{own: {{like: polypropylene, density: {density} kg/m3}}}}}}"
    found = check(RULE, basket, waterline=300, more=own)
    assert [one.measured for one in found] == pytest.approx(lifts, rel=0.02)
    assert all((one.severity, one.parts) == ("warning", ("basket",)) for one in found)
    assert all("more than it weighs in the water: loose" in one.message for one in found)
    tied = basket.replace("]}", "], fixed_to: tank.front}")
    assert check(RULE, tied, waterline=300, more=own) == ()
