"""Flanges and nuts beside silicone seams and panes."""

import math
from dataclasses import dataclass
from types import SimpleNamespace

import pytest
from made_outages import made_model

from layout3d.checks.rules import bulkhead_to_seam as module

RULE = "bulkhead-to-seam"


@pytest.mark.parametrize(
    ("left", "severity", "measured"),
    [
        (44.5, None, None),
        (44.4, "warning", 0.0099),
        (39.5, "warning", 0.005),
        (39.4, "fault", 0.0049),
        (30, "fault", -0.0045),
    ],
)
def test_either_side_of_each_limit(faulty, left, severity, measured):
    """Silicone of 12 mm, a flange of 45 mm: half of it and the seam from the middle."""
    found = faulty(RULE, left=left)
    if severity is None:
        assert found == ()
    else:
        (finding,) = found
        assert finding.severity == severity
        assert finding.measured == pytest.approx(measured, abs=1e-6)


EDGES = {
    "back": ("left: {near}, bottom: 200", "right: {near}, bottom: 200", "left: 300, bottom: {near}"),
    "front": ("left: {near}, bottom: 200", "right: {near}, bottom: 200", "right: 300, bottom: {near}"),
    "left": ("front: {near}, bottom: 200", "back: {near}, bottom: 200", "front: 200, bottom: {near}"),
    "right": ("front: {near}, bottom: 200", "back: {near}, bottom: 200", "back: 200, bottom: {near}"),
    "bottom": ("left: {near}, front: 200", "right: {near}, back: 200", "left: 300, front: {near}"),
}


@pytest.mark.parametrize(
    ("panel", "where"), [(panel, where) for panel, all in EDGES.items() for where in all]
)
def test_each_seam_of_each_pane_counts(check, panel, where):
    """Silicone of 6 mm and half a flange of 45 mm, 4 mm short of the 10 mm beside them."""
    holes = f"hole: {{panel: {panel}, {where.format(near=34.5)}, bulkhead: 1/2 in thin}}"
    (finding,) = check(RULE, holes=holes)
    assert finding.measured == pytest.approx(0.006)
    assert finding.severity == "warning"


def test_the_upper_edge_of_a_wall_has_no_seam(check):
    assert check(RULE, holes="hole: {panel: back, left: 300, top: 30, bulkhead: 1/2 in thin}") == ()


@pytest.mark.parametrize(("left", "count"), [(47, 0), (46.9, 1)])
def test_a_nut_inside_wants_room_for_turning_it(check, left, count):
    """A nut of 44 mm, and 25 mm beside it (limit nut_to_corner)."""
    holes = f"hole: {{panel: back, left: {left}, bottom: 200, bulkhead: 1/2 in thin, flange: outside}}"
    found = check(RULE, holes=holes)
    assert [finding.measured for finding in found] == pytest.approx([0.0249] * count)


def test_at_a_sharp_corner_the_next_pane_leans_over_the_nut(check):
    """Corner of 45 degrees: the way from the nut's upper rim square to the next pane, by plane geometry."""
    corners = "footprint: [[0, 0], [600, 0], [0, 600]], panels: [front, slant, left]"
    tank = f"kind: tank, {corners}, height: 400, glass: 10"
    holes = "hole: {panel: front, start: 540, bottom: 200, bulkhead: 1/2 in thin, flange: outside}"
    (finding,) = [f for f in check(RULE, tank=tank, holes=holes) if f.parts[1] == "tank.slant"]
    assert finding.measured == pytest.approx((60 - 22 - 9) / 2**0.5 / 1000)


def test_a_seam_of_a_polygonal_floor_is_its_own_Seam(check):
    """A hole in the middle of a square's slanted edge, 30 mm from it; its box is farther away."""
    tank = "DIAMOND"
    along = 30 / 2**0.5
    holes = f"hole: {{panel: bottom, left: {150 + along}, front: {150 + along}, bulkhead: 1/2 in thin}}"
    (finding,) = check(RULE, tank=tank, holes=holes)
    assert finding.measured == pytest.approx(0.030 - 0.0225 - 0.006)
    assert finding.severity == "fault"


@dataclass(frozen=True)
class Seam:
    """A seam so far from the middle of the hole, with the next pane at an angle to it."""

    name: str
    away: float
    angle: float = math.pi / 2

    def distance(self, centre):
        return self.away


def judged(monkeypatch, *seams, flange="inside", silicone=0.006, bulkhead="a"):
    """Run the rule over a bulkhead with a flange of 50 mm and a nut of 40 that is 10 mm thick."""
    hole = SimpleNamespace(
        name="hole",
        at=(0.1, 0.2, 0.3),
        centre=(0.0, 0.0),
        bulkhead=bulkhead,
        flange=flange,
        flange_diameter=0.05,
        nut_diameter=0.04,
    )
    monkeypatch.setattr(module, "holes", lambda model: [(hole, SimpleNamespace(seams=seams))])
    model = made_model(bulkhead_to_seam=0.010, bulkhead_to_seam_least=0.005, nut_to_corner=0.025)
    model.tank.silicone = silicone
    model.scene.catalog.bulkhead = lambda name: SimpleNamespace(nut_thickness=0.010)
    return list(module.bulkheads_to_seams.find(model))


@pytest.mark.parametrize(
    ("away", "severity", "left"),
    [(0.041, None, None), (0.0409, "warning", 0.0099), (0.036, "warning", 0.005), (0.0359, "fault", 0.0049)],
)
def test_a_flange_keeps_clear_of_the_nearest_bead(monkeypatch, away, severity, left):
    """25 mm of flange and 6 of silicone, and 10 mm beside them."""
    found = judged(monkeypatch, Seam("left", 0.2), Seam("bottom", away), Seam("right", 0.3))
    assert [(one.severity, one.measured) for one in found] == (
        [(severity, pytest.approx(left))] if severity else []
    )
    for one in found:
        assert (one.parts, one.at, one.limit) == (("hole", "tank.silicone"), (0.1, 0.2, 0.3), 0.010)
        assert one.message.startswith("the flange of hole is ")
        assert "from the silicone along bottom: " in one.message
    assert judged(monkeypatch, Seam("bottom", 0.0), bulkhead="") == []


def test_without_silicone_it_keeps_clear_of_the_pane(monkeypatch):
    (one,) = judged(monkeypatch, Seam("bottom", 0.024), silicone=0.0)
    assert (one.parts, one.measured) == (("hole", "tank.bottom"), pytest.approx(-0.001))
    assert one.message.startswith("the flange of hole lies 1 mm over tank.bottom: 11 mm short of 10 mm ")


def test_a_nut_inside_is_what_keeps_clear_there(monkeypatch):
    """20 mm of nut and 6 of silicone; 25 mm beside it to turn it are more than the bead asks for."""
    seam, room = judged(monkeypatch, Seam("bottom", 0.0355), Seam("left", 0.2), flange="outside")
    assert (seam.measured, room.measured) == pytest.approx((0.0095, 0.0155))
    assert seam.message.startswith("the nut of hole is 9.5 mm from ")
    assert (room.parts, room.severity, room.limit) == (("hole", "tank.bottom"), "warning", 0.025)
    assert judged(monkeypatch, Seam("bottom", 0.045), Seam("left", 0.2), flange="outside") == []
    (past,) = [
        one
        for one in judged(monkeypatch, Seam("bottom", 0.015), flange="outside")
        if "to turn it" in one.message
    ]
    assert (past.severity, past.measured) == ("fault", pytest.approx(-0.005))
    assert past.message.startswith("the nut of hole reaches 5 mm past tank.bottom: 30 mm short of 25 mm ")


def test_a_pane_that_leans_over_a_nut_leaves_it_less_room():
    """At 60 degrees: 50 mm beside it are 50 sin 60 less 10 cos 60; at a right angle all of it."""
    hole = SimpleNamespace(centre=None, nut_diameter=0.04)
    assert module._to_pane(Seam("a", 0.07), hole, 0.01) == pytest.approx(0.05)
    leaning = module._to_pane(Seam("a", 0.07, math.radians(60)), hole, 0.01)
    assert leaning == pytest.approx(0.05 * math.sin(math.radians(60)) - 0.005)
