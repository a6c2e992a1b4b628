"""Flanges and nuts beside silicone seams and panes."""

import pytest

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


def test_a_seam_of_a_polygonal_floor_is_its_own_edge(check):
    """A hole in the middle of a square's slanted edge, 30 mm from it; its box is farther away."""
    tank = "DIAMOND"
    along = 30 / 2**0.5
    holes = f"hole: {{panel: bottom, left: {150 + along}, front: {150 + along}, bulkhead: 1/2 in thin}}"
    (finding,) = check(RULE, tank=tank, holes=holes)
    assert finding.measured == pytest.approx(0.030 - 0.0225 - 0.006)
    assert finding.severity == "fault"
