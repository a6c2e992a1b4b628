"""Weight on the bare glass is m g of all that lies there; a mat or deep sand takes it."""

import math
from types import SimpleNamespace

import pytest
from made_bodies import made_body, with_bodies
from made_outages import made_model

from layout3d.checks.rules import glass_point_load as module

RULE = "glass-point-load"
WEIGHT = 0.24 * 0.16 * 0.08 * 2700 * 9.80665  # of a stone 240 mm long, [N]


def long_of(newtons):
    return 240 * (newtons / WEIGHT) ** (1 / 3)


@pytest.mark.parametrize(
    ("newtons", "severity"), [(9.9, None), (10.1, "warning"), (99.0, "warning"), (101.0, "fault")]
)
def test_either_side_of_both_limits(faulty, newtons, severity):
    found = faulty(RULE, long=long_of(newtons))
    assert [(f.severity, pytest.approx(newtons, rel=1e-4)) for f in found] == [
        (f.severity, f.measured) for f in found
    ]
    assert [f.severity for f in found] == ([severity] if severity else [])


STONE = "stone: {kind: rock, mesh: block.obj, longest: 240, at: {left: 300, front: 200, ground: 0}}"


@pytest.mark.parametrize(
    ("under", "count"), [("", 1), ("mat: {kind: mat, thickness: 6}\n", 0), ("bed: {SAND, depth: 30}\n", 0)]
)
def test_a_mat_or_sand_takes_it(check, under, count):
    assert len(check(RULE, under + STONE)) == count


def test_all_that_lies_on_it_counts(check):
    """Two stones of 81 N each on one: more than the hundred that is a fault."""
    above = "above: {kind: rock, mesh: block.obj, longest: 240, at: {left: 300, front: 200, bottom: 80}}"
    (finding,) = check(RULE, f"{STONE}\n{above}")
    assert finding.measured == pytest.approx(2 * WEIGHT, rel=1e-4)
    assert finding.severity == "fault"


@pytest.mark.parametrize(
    ("long", "sunk", "mat", "severity"),
    [
        (270, 11, "", "warning"),
        (270, 9, "", None),
        (240, 11, "", None),
        (270, 11, "mat: {kind: mat, thickness: 6}\n", None),
    ],
)
def test_little_sand_under_a_heavy_rock_is_warned_of(check, long, sunk, mat, severity):
    """Of 30 mm of sand 19 or 21 mm are left under the stone; one of 240 mm presses with less than 100 N."""
    at = f"{{left: 300, front: 200, ground: -{sunk}}}"
    stone = f"stone: {{kind: rock, mesh: block.obj, longest: {long}, at: {at}}}"
    found = check(RULE, f"{mat}bed: {{SAND, depth: 30}}\n{stone}")
    assert [finding.severity for finding in found] == [severity] * (severity is not None)
    for finding in found:
        assert (finding.measured, finding.limit, finding.unit) == (pytest.approx(0.019), 0.02, "m")


@pytest.mark.parametrize(
    ("long", "over", "severity"),
    [(240, 30, None), (240, 31, "warning"), (440, 35, "warning"), (470, 35, "fault")],
)
def test_a_stone_that_leans_on_a_pane_presses_as_one_on_the_bottom_does(check, long, over, severity):
    """On end on a mat, its top over to the right: weight x (tan a / 2 - 1 / 6), a ladder without rubbing."""
    lean, weight = math.radians(over), WEIGHT * (long / 240) ** 3
    left = 600 - long * (math.sin(lean) / 2 + math.cos(lean) / 3)
    at = f"at: {{left: {left}, front: 200, ground: 0}}, turn: {{tip_right: {90 + over} deg}}"
    stone = f"leans: {{kind: rock, mesh: block.obj, longest: {long}, {at}}}"
    found = check(RULE, f"mat: {{kind: mat, thickness: 6}}\n{stone}")
    assert [finding.severity for finding in found] == [severity] * (severity is not None)
    for finding in found:
        assert finding.parts == ("leans", "tank.right")
        assert finding.measured == pytest.approx(weight * (math.tan(lean) / 2 - 1 / 6), rel=1e-3)


def test_a_stone_on_the_bare_glass_of_a_sump_counts_too(check):
    """That it stands outside the tank is another rule's."""
    sump = (
        "sump: {kind: sump, at: [700, 0, 0], inside: [400, 300, 99], compartments: [{name: one, level: 90}]}"
    )
    stone = STONE.replace(
        "left: 300, front: 200, ground: 0", "in: sump.one, left: 200, front: 150, bottom: 0"
    )
    (finding,) = check(RULE, f"{sump}\n{stone}")
    assert finding.severity == "warning"
    assert finding.measured == pytest.approx(WEIGHT, rel=1e-4)


def judged(monkeypatch, *, newtons=50.0, area=0.002, group="rock"):
    body = made_body("stone", (0, 0, 0), (100, 100, 100), group=group)
    hold = SimpleNamespace(
        parts=("stone",),
        part="stone",
        on_glass=newtons,
        glass_area=area,
        at=(1.0, 2.0, 3.0),
        loads={},
        leans={},
    )
    monkeypatch.setattr(module, "holds", lambda model: (hold,))
    model = with_bodies(made_model(glass_point_load=10.0, glass_point_load_most=100.0), body)
    return list(module.glass_point_load.find(model))


def test_what_presses_is_told_with_its_area_and_its_mean_pressure(monkeypatch):
    """50 N over 20 cm² are 25 kPa; less than a square millimetre is a point."""
    (one,) = judged(monkeypatch)
    assert (one.severity, one.measured, one.limit, one.unit) == ("warning", 50.0, 10.0, "N")
    assert (one.parts, one.at) == (("stone",), (1.0, 2.0, 3.0))
    assert one.message.startswith(
        "stone presses on the bare glass with 50 N over 2,000 mm² at most, 25 kPa on "
    )
    for area, point in ((0.0, True), (9.9e-7, True), (1e-6, False)):
        (one,) = judged(monkeypatch, area=area)
        assert ("with 50 N on a point" in one.message) == point
    assert judged(monkeypatch, newtons=10.0) == []
    assert judged(monkeypatch, newtons=0.0) == []
    assert judged(monkeypatch, group="wood") == []
