"""Weight or lift that a fixing alone bears: masses times g, and Archimedes."""

import pytest

from layout3d.catalog import water_density

RULE = "fixing-load"
G = 9.80665
WATER = water_density(24.0)  # the scene's default


@pytest.mark.parametrize(
    ("mass", "severity"), [(5.09, None), (5.11, "warning"), (20.3, "warning"), (20.5, "fault")]
)
def test_either_side_of_the_limits_a_stone_hangs_on_a_wall(faulty, mass, severity):
    """50 N and 200 N."""
    found = faulty(RULE, mass=f"{mass} kg")
    assert [(f.severity, f.parts) for f in found] == [(severity, ("big", "wall"))] * bool(severity)
    for finding in found:
        assert finding.measured == pytest.approx(mass * G, rel=1e-6)


def test_a_stone_that_lies_on_the_floor_does_not_hang_on_its_fixing(faulty_text):
    assert faulty_text(RULE, ("bottom: 200", "bottom: 0")) == ()


TIED = """
  ledge: {kind: rock, mesh: stone.obj, mass: 4 kg, at: {left: 100, front: 240, bottom: 200}, fixed_to: wall}
  more: {kind: rock, mesh: stone.obj, mass: 3 kg, at: {left: 100, front: 240, bottom: 330}, fixed_to: ledge}
"""
ON = ("fixed_to: ledge", "rest: true")


@pytest.mark.parametrize("pieces", [(), (ON,)])
def test_what_is_tied_to_a_piece_or_lies_on_it_hangs_on_its_fixing_too(faulty_text, pieces):
    text = TIED
    for old, new in pieces:
        text = text.replace(old, new)
    found = faulty_text(
        RULE, ("waterline: 150", "waterline: 40"), ("mass: mass", "mass: 1 kg"), ("parts:\n", f"parts:{text}")
    )
    assert [finding.parts for finding in found] == [("ledge", "wall")]
    assert found[0].measured == pytest.approx(7 * G, rel=0.02)  # presses lean a little


@pytest.mark.parametrize("made", ["wood pine", "root wood waterlogged"])
def test_wood_that_is_fixed_pulls_up_as_dry_as_it_comes(faulty_text, made):
    """Soaked wood sinks one day; until then its fixing holds down what the water lifts of it dry."""
    found = faulty_text(
        RULE,
        ("waterline: 150", "waterline: 450"),
        ("kind: rock", f"kind: wood, material: {made}"),
        ("mass: mass", "longest: 440"),
        ("front: 200", "front: 160"),
        ("bottom: 200", "bottom: 0"),
    )
    assert [finding.parts for finding in found] == [("big", "wall")]
    assert " of lift:" in found[0].message
    assert found[0].remedy.startswith("lay a stone on big, or ")


def test_lift_of_all_that_is_tied_together_is_told_as_lift(check):
    """Three logs in a chain pull on one fixing by three times the lift of one: it isn't their weight."""
    log = "{kind: wood, material: wood pine, length: 500, thickness: 130, taper: 0, branches: 0, detail: 2000"
    ties = {"a": "tank.back", "b": "a", "c": "b"}
    chain = "\n".join(
        f"{name}: {log}, at: [300, {320 - 140 * n}, 50], fixed_to: {to}}}"
        for n, (name, to) in enumerate(ties.items())
    )
    (one,) = check(RULE, chain, waterline=399)
    assert one.parts == ("a", "tank.back")
    assert " of lift:" in one.message
