"""Holes behind braces and rim."""

import math
from types import SimpleNamespace

import pytest
from made_bodies import made_body, with_bodies
from made_outages import made_model

from layout3d.checks.rules import hole_under_brace as module

RULE = "hole-under-brace"


@pytest.mark.parametrize(
    ("height", "severity", "measured"),
    [
        (302.5, None, None),
        (302.6, "warning", 0.0099),
        (312.5, "warning", 0.0),
        (312.6, "fault", -0.0001),
        (347.5, "fault", -0.010000000000000002),
    ],
)
def test_either_side_of_each_limit(faulty, height, severity, measured):
    """A strip from 330 to 340 mm, a hole of 35 mm, 10 mm between (limit bulkhead_to_brace)."""
    found = faulty(RULE, height=height)
    if severity is None:
        assert found == ()
    else:
        (finding,) = found
        assert finding.severity == severity
        assert finding.measured == pytest.approx(measured, abs=1e-6)


@pytest.mark.parametrize(
    ("panel", "where"),
    [("front", "left: 300"), ("back", "right: 300"), ("left", "front: 200"), ("right", "back: 200")],
)
def test_a_perimeter_brace_runs_along_each_wall(check, panel, where):
    tank = "BOX, perimeter_brace: {width: 60, thickness: 10}"
    (finding,) = check(RULE, tank=tank, holes=f"hole: {{panel: {panel}, {where}, top: 30, diameter: 30}}")
    assert finding.measured == pytest.approx(0.005)


def test_the_flange_counts_where_there_is_one(check):
    """From the flange of 45 mm to the nearest corner of the strip, 25 mm across and 10 mm up."""
    tank = "BOX, cross_braces: [{at: 300, width: 100, thickness: 10}]"
    holes = "hole: {panel: back, left: 225, top: 20, bulkhead: 1/2 in thin}"
    (finding,) = check(RULE, tank=tank, holes=holes)
    assert finding.measured == pytest.approx(math.hypot(0.025, 0.010) - 0.0225)
    assert finding.parts == ("hole", "tank.cross_brace_1")


def test_a_rim_covers_the_outside_of_the_top(check):
    tank = "BOX, rim: {height: 40, thickness: 5}"
    (finding,) = check(RULE, tank=tank, holes="hole: {panel: back, left: 300, top: 60, diameter: 30}")
    assert finding.measured == pytest.approx(0.005)


def test_a_hole_in_the_bottom_is_far_from_any_brace(check):
    tank = "BOX, perimeter_brace: {width: 60, thickness: 10}"
    assert check(RULE, tank=tank, holes="hole: {panel: bottom, left: 300, back: 60, diameter: 35}") == ()


def judged(monkeypatch, *braces, bulkhead="a", sizes=(0.03, 0.05, 0.04)):
    """Run the rule over a hole at 300 and 200 mm on a pane at y 0 that looks along y."""
    diameter, flange, nut = sizes
    hole = SimpleNamespace(
        name="hole",
        centre=(0.3, 0.2),
        at=(0.3, 0.0, 0.2),
        bulkhead=bulkhead,
        diameter=diameter,
        flange_diameter=flange,
        nut_diameter=nut,
    )
    panel = SimpleNamespace(local=lambda points: points[:, [0, 2, 1]])
    monkeypatch.setattr(module, "holes", lambda model: [(hole, panel)])
    model = with_bodies(made_model(bulkhead_to_brace=0.010), *braces)
    return list(module.holes_under_braces.find(model))


def brace(low, high, kind="brace"):
    return made_body("tank.brace", low, high, group="glass", kind=kind)


@pytest.mark.parametrize(
    ("left", "severity"), [(10, None), (9.9, "warning"), (0, "warning"), (-0.1, "fault"), (-30, "fault")]
)
def test_a_flange_keeps_clear_of_braces_over_beside_and_askew(monkeypatch, left, severity):
    """Half a flange of 50 mm; of a corner the shortest way counts."""
    off = (25 + left) / 2**0.5
    for low, high in (
        ((200, 0, 225 + left), (400, 40, 300)),
        ((200, 0, 100), (400, 40, 175 - left)),
        ((325 + left, 0, 100), (500, 40, 300)),
        ((100, 0, 100), (275 - left, 40, 300)),
        *([((300 + off, 0, 200 + off), (500, 40, 300))] if left > -25 else []),
    ):
        found = judged(monkeypatch, brace(low, high))
        assert [one.severity for one in found] == ([severity] if severity else [])
        assert [one.measured for one in found] == pytest.approx(
            [max(left, -25) / 1000] * len(found), abs=1e-9
        )


def test_what_a_hole_and_its_brace_are_called(monkeypatch):
    (one,) = judged(monkeypatch, brace((200, 0, 230), (400, 40, 300)))
    assert (one.parts, one.at, one.limit) == (("hole", "tank.brace"), (0.3, 0.0, 0.2), 0.010)
    assert one.message.startswith("hole with its flange is 5 mm from tank.brace: 5 mm short of 10 mm")
    (bare,) = judged(
        monkeypatch, brace((200, 0, 210), (400, 40, 300), "rim"), bulkhead="", sizes=(0.03, 0, 0)
    )
    assert bare.message.startswith("hole reaches 5 mm under tank.brace: ")
    (nut,) = judged(monkeypatch, brace((200, 0, 235), (400, 40, 300)), sizes=(0.03, 0.05, 0.06))
    assert nut.measured == pytest.approx(0.005)


def test_a_brace_out_of_the_drill_s_reach_or_no_brace_is_let_be(monkeypatch):
    """50 mm from the pane, on either side."""
    assert judged(monkeypatch, brace((200, 51, 200), (400, 90, 300))) == []
    assert judged(monkeypatch, brace((200, -90, 200), (400, -51, 300))) == []
    assert len(judged(monkeypatch, brace((200, 49, 200), (400, 90, 300)))) == 1
    assert judged(monkeypatch, brace((200, 0, 200), (400, 40, 300), "panel")) == []
