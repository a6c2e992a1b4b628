"""Room for a magnet along the front glass."""

from types import SimpleNamespace

import pytest
from made_bodies import made_body, made_join, with_bodies
from made_outages import made_model

from layout3d.checks.rules import front_glass as module

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


def judged(monkeypatch, *bodies, joins=(), bed=0.0):
    """Run the rule over boxes behind a pane whose inside is at y 0, with a bed so high."""
    glass = made_body("tank.front", (0, -10, 0), (600, 0, 400), group="glass", kind="panel")
    monkeypatch.setattr(module, "viewing_panes", lambda model: (SimpleNamespace(body="tank.front"),))
    monkeypatch.setattr(module, "lowest_bed", lambda model, bounds, near: bed)
    limits = {"magnet_to_front_glass": 0.025, "magnet_to_front_glass_least": 0.006}
    return list(module.front_glass.find(with_bodies(made_model(**limits), glass, *bodies, joins=joins)))


def stone(name, behind, bottom=0, **more):
    return made_body(name, (100, behind, bottom), (200, behind + 50, 100), **more)


@pytest.mark.parametrize(
    ("behind", "severity"), [(25, None), (24.9, "warning"), (6, "warning"), (5.9, "fault"), (-2, "fault")]
)
def test_how_far_behind_the_glass_by_hand(monkeypatch, behind, severity):
    found = judged(monkeypatch, stone("stone", behind))
    assert [one.severity for one in found] == ([severity] if severity else [])
    for one in found:
        assert (one.parts, one.limit) == (("stone", "tank.front"), 0.025)
        assert one.measured == pytest.approx(behind / 1000, abs=1e-6)


def test_what_a_bed_hides_is_let_be_and_those_after_it_are_judged(monkeypatch):
    """Under 120 mm of bed nothing of a stone 100 mm high shows; over 50 of them its upper half does."""
    low, high = stone("low", 10), made_body("tall", (300, 10, 0), (400, 60, 200))
    assert [one.parts[0] for one in judged(monkeypatch, low, high, bed=0.12)] == ["tall"]
    assert [one.parts[0] for one in judged(monkeypatch, low, high, bed=0.05)] == ["low", "tall"]


def test_what_is_joined_to_that_pane_or_bends_is_let_off(monkeypatch):
    joined = made_join("stone", "tank.front", "held")
    assert judged(monkeypatch, stone("stone", 10), joins=(joined,)) == []
    assert len(judged(monkeypatch, stone("stone", 10), joins=(made_join("stone", "tank", "held"),))) == 1
    for kind in ("foliage", "root"):
        assert judged(monkeypatch, stone("stone", 10, group="plant", kind=kind)) == []
    assert judged(monkeypatch, stone("stone", 10, where="room")) == []
