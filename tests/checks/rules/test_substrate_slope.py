"""How steep beds are."""

import math

import pytest

RULE = "substrate-slope"


def bank(slope):
    """Return the depth at the back that makes this slope, [rad], from 20 mm at the front over 400 mm."""
    return f"{20 + 400 * math.tan(slope)!r}"


@pytest.mark.parametrize(
    ("slope", "severity"),
    [(0.436, None), (0.4361, "warning"), (0.611, "warning"), (0.6111, "fault")],
)
def test_either_side_of_each_limit(faulty, slope, severity):
    """25 degrees and 35 degrees (limits substrate_slope)."""
    found = faulty(RULE, back=bank(slope))
    assert [f.severity for f in found] == ([severity] if severity else [])
    assert [f.measured for f in found] == pytest.approx([slope] * len(found))


def test_the_place_is_where_it_is_steep(check):
    sand = "sand: {SAND, depths: [[0, 200, 20], [280, 200, 20], [320, 200, 100], [600, 200, 100]], pitch: 20}"
    (finding,) = check(RULE, sand)
    assert finding.at[0] == pytest.approx(0.3, abs=0.03)


def test_what_lies_outside_a_polygonal_tank_does_not_count(check):
    """The bank is steep in the corner of the box that the footprint cuts off."""
    tank = "DIAMOND"
    low = [[300, 300], [150, 150], [100, 100], [600, 600], [0, 600], [600, 0]]
    depths = [[0, 0, 200], *([x, y, 20] for x, y in low)]
    sand = f"sand: {{SAND, depths: {depths}, pitch: 20}}"
    assert check(RULE, sand, tank=tank) == ()
    assert len(check(RULE, sand)) == 1


REGION = "sand: {SAND, depth: DEPTH, region: [0, 0, 300, 400], pitch: 100}\n"


@pytest.mark.parametrize(("depth", "count"), [(10, 0), (10.1, 1)])
def test_the_free_edge_of_a_region_is_a_step(check, depth, count):
    found = check(RULE, REGION.replace("DEPTH", str(depth)))
    assert [f.severity for f in found] == ["fault"] * count
    for finding in found:
        assert finding.at[0] == pytest.approx(0.3, abs=1e-4)


def test_what_stands_along_the_edge_holds_it(check):
    wall = "wall: {kind: filter_basket, size: [20, 400, 100], at: {left: 311, front: FRONT, bottom: 0}}"
    sand = REGION.replace("DEPTH", "60")
    assert check(RULE, sand + wall.replace("FRONT", "200")) == ()
    assert len(check(RULE, sand + wall.replace("FRONT", "220"))) == 1  # 20 mm are left open


def test_two_beds_hold_each_other_as_far_as_they_are_high(check):
    sand = REGION.replace("DEPTH", "60")
    gravel = sand.replace("sand", "gravel").replace("[0, 0, 300, 400]", "[300, 0, 600, 400]")
    assert check(RULE, sand + gravel) == ()
    (finding,) = check(RULE, sand + gravel.replace("depth: 60", "depth: 20"))
    assert finding.parts == ("sand",)
