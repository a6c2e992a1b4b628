"""Statics: a block tips over the edge of the one below it at atan((L / 2 - overhang) / (h / 2))."""

import math

import pytest

RULE = "stands"


def tips_at(over):
    return math.atan2(120 - over, 40)


def over_at(degrees):
    return 120 - 40 * math.tan(math.radians(degrees))


@pytest.mark.parametrize(
    ("over", "severity"),
    [
        (over_at(10.2), None),
        (over_at(9.8), "warning"),
        (over_at(3.2), "warning"),
        (over_at(2.8), "fault"),
        (119, "fault"),
    ],
)
def test_either_side_of_both_limits(faulty, over, severity):
    found = faulty(RULE, over=over)
    assert [f.severity for f in found] == ([severity] if severity else [])
    for finding in found:
        assert finding.measured == pytest.approx(tips_at(over), abs=2e-4)
        assert finding.parts == ("top",)


def test_a_stone_whose_middle_is_past_the_edge_does_not_stand(faulty):
    (finding,) = faulty(RULE, over=125)
    assert (finding.severity, finding.measured) == ("fault", 0.0)
    assert "top (8.3 kg) doesn't stand on base" in finding.message


WALL_OF_SAND = """{SAND, front: 20, back: 300, pitch: 50}
stone: {kind: rock, mesh: block.obj, longest: LONG, at: {left: 300, front: 200, ground: -20}}"""


@pytest.mark.parametrize(("long", "severity"), [(240, "fault"), (80, "note")])
def test_a_stone_slides_down_sand_as_steep_as_its_friction(check, long, severity):
    """Sand that rises 0.7 m a metre; the stone's friction on it is 0.5. A light one is only noted."""
    (finding,) = check(RULE, "bed: " + WALL_OF_SAND.replace("LONG", str(long)))
    assert finding.severity == severity
    assert "doesn't stand on bed" in finding.message


@pytest.mark.parametrize(
    ("waterline", "over", "falls"), [(20, 180, False), (300, 180, True), (300, 110, False)]
)
def test_what_stands_in_the_air_and_not_in_water_is_told(check, waterline, over, falls):
    """Two soaked blocks of 1190 kg/m³ tied together, the upper one out by 180 mm: their weight acts 90 mm
    out, within the 120 mm of the lower one's end. Nearly under water that one weighs a quarter: they tip."""
    wood = "kind: wood, mesh: block.obj, longest: 240, material: root wood waterlogged"
    (found, *more) = [
        *check(
            RULE,
            "mat: {kind: mat, thickness: 6}\n"
            f"base: {{{wood}, at: {{left: 200, front: 200, bottom: 6}}}}\n"
            f"arm: {{{wood}, at: {{left: 200 + {over}, front: 200, bottom: 86}}, fixed_to: base}}",
            waterline=waterline,
        ),
        None,
    ]
    assert (found is not None) == falls
    if found is not None:
        assert more == [None]
        assert found.severity == "fault"
        assert found.parts == ("base", "arm")
        assert (found.measured, found.unit) == (0.0, "rad")
        assert "stands on mat in the empty tank, but not in water: from a level of 75 mm" in found.message


@pytest.mark.parametrize(
    ("device", "severity", "angle"),
    [
        ("heater, length: 200, at: [300, 200, 0]", "warning", 8.0),
        ("heater, length: 200, at: [300, 200, 0], fixed_to: tank.bottom", None, 0),
        ("heater, length: 200, at: [300, 200, 15], turn: {tip_right: 90}", None, 0),
        ("light, size: [560, 100, 30], at: {left: 330, front: 200, bottom: 400}", "fault", 0.0),
        ("light, size: [620, 100, 30], at: {left: 300, front: 200, bottom: 400}", None, 0),
        ("light, size: [560, 100, 30], at: {left: 300, front: 200, bottom: 400}", None, 0),
        ("pump, model: small 600, at: [300, 200, 0]", None, 0),
    ],
)
def test_equipment_that_nothing_fixes_has_to_stand(check, device, severity, angle):
    """A rod on its end tips at atan(15 mm / height of its middle); a lamp on one pane alone falls in."""
    found = check(RULE, f"it: {{kind: {device}}}", waterline=100)
    assert [finding.severity for finding in found] == [severity] * (severity is not None)
    for finding in found:
        assert math.degrees(finding.measured) == pytest.approx(angle, abs=0.1)


def test_what_is_fixed_and_what_nothing_bears_is_left_to_other_rules(check):
    block = "stone: {kind: rock, mesh: block.obj, longest: 240, turn: {tip_right: 60 deg}, "
    block += "at: {left: 300, front: 200, ground: %s}%s}"
    assert check(RULE, block % (50, "")) == ()
    assert check(RULE, block % (0, ", fixed_to: tank.bottom")) == ()
    assert len(check(RULE, block % (0, ""))) == 1
