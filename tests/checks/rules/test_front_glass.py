"""Room for a magnet along the front glass."""

import pytest

RULE = "front-glass"


@pytest.mark.parametrize(
    ("behind", "severity", "measured"),
    [
        (25, None, None),
        (24.9, "warning", 0.0249),
        (6.01, "warning", 0.00601),
        (5.9, "fault", 0.0059),
    ],
)
def test_either_side_of_each_limit(faulty, behind, severity, measured):
    """25 mm for a magnet, 6 mm for the thinnest (limits magnet_to_front_glass). Round within 0.01 mm."""
    found = faulty(RULE, behind=behind)
    if severity is None:
        assert found == ()
    else:
        (finding,) = found
        assert finding.severity == severity
        assert finding.measured == pytest.approx(measured, abs=1e-5)


CORNERS = "[[200, 0], [400, 0], [600, 300], [400, 600], [200, 600], [0, 300]]"
HEX = f"kind: tank, footprint: {CORNERS}, height: 400, glass: 10"


def heater(x, y):
    return f"rod: {{kind: heater, diameter: 20, length: 200, at: [{x}, {y}, 0]}}"


@pytest.mark.parametrize(("x", "y", "panes"), [(300, 20, 1), (120, 150, 1), (480, 150, 1), (300, 580, 0)])
def test_a_polygonal_tank_is_looked_at_through_the_panes_turned_to_the_front(check, x, y, panes):
    found = check(RULE, heater(x, y), tank=HEX)
    assert len(found) == panes


def test_a_pane_with_a_background_is_not_looked_through(check):
    wall = "wall: {kind: background, panels: [side_6], thickness: 10, relief: {form: flat}}"
    assert len(check(RULE, heater(120, 150), tank=HEX)) == 1
    assert check(RULE, heater(120, 150) + "\n" + wall, tank=HEX) == ()


def test_only_what_stands_out_of_the_bed_hinders_the_magnet(check):
    """A stone that is widest at its foot, buried to above its middle: what shows stands further back."""
    stone = "stone: {kind: rock, mesh: stone.obj, longest: 120, turn: {tip_right: 180}, at: [300, 70, 75]}"
    deep = "sand: {SAND, depth: 60, pitch: 100}"
    bare, buried = check(RULE, stone), check(RULE, f"{stone}\n{deep}")
    assert bare[0].measured == pytest.approx(0.020)
    assert not buried or buried[0].measured > bare[0].measured + 0.003


def test_what_is_fixed_to_the_glass_is_meant_to_be_there(check):
    fixed = heater(300, 20).replace("}", ", fixed_to: tank.front}")
    assert check(RULE, fixed) == ()
    assert (
        len(check(RULE, fixed.replace("tank.front", "tank"))) == 1
    )  # somewhere on the tank: not meant there
