"""Glass between two holes, and room between their bulkheads."""

import pytest

RULE = "hole-to-hole"


@pytest.mark.parametrize(
    ("apart", "severity", "measured"),
    [
        (70, None, None),
        (69.9, "warning", 0.0349),
        (55, "warning", 0.02),
        (54.9, "fault", 0.0199),
        (30, "fault", -0.005),
    ],
)
def test_either_side_of_each_limit(faulty, apart, severity, measured):
    """Holes of 35 mm in glass of 10 mm: one diameter for the warning, two thicknesses for the fault."""
    found = faulty(RULE, apart=apart)
    if severity is None:
        assert found == ()
    else:
        (finding,) = found
        assert finding.severity == severity
        assert finding.measured == pytest.approx(measured, abs=1e-6)


@pytest.mark.parametrize("panel", ["front", "back", "left", "right", "bottom"])
def test_holes_count_in_one_pane_only(check, panel):
    across, up = {
        "front": ("left", "bottom"),
        "back": ("right", "top"),
        "left": ("front", "bottom"),
        "right": ("back", "top"),
        "bottom": ("left", "front"),
    }[panel]
    one = f"one: {{panel: {panel}, {across}: 200, {up}: 200, diameter: 35}}"
    other = f"other: {{panel: {panel}, {across}: 230, {up}: 240, diameter: 35}}"
    (finding,) = check(RULE, holes=f"{one}, {other}")
    assert finding.measured == pytest.approx(0.015)  # 30, 40, 50: a right triangle
    elsewhere = "other: {panel: right, front: 200, bottom: 200, diameter: 35}"
    if panel != "right":
        assert check(RULE, holes=f"{one}, {elsewhere}") == ()


@pytest.mark.parametrize(
    ("apart", "severity"), [(55, None), (54.9, "warning"), (45, "warning"), (44.9, "fault")]
)
def test_flanges_of_neighbours_keep_apart(check, apart, severity):
    """Flanges of 45 mm and 10 mm between them (limit bulkhead_to_bulkhead), in thin glass."""
    holes = f"one: {{panel: back, left: 200, bottom: 200, bulkhead: 1/2 in thin, diameter: 28.2}}, \
two: {{panel: back, left: {200 + apart}, bottom: 200, bulkhead: 1/2 in thin, diameter: 28.2}}"
    own = "limits: {glass_hole_hole: 0, glass_hole_hole_diameters: 0, glass_hole_hole_thicknesses: 0}\n"
    found = check(RULE, holes=holes, more=own)
    assert [f.severity for f in found] == ([severity] if severity else [])


def test_a_nut_beside_a_flange_is_narrower(check):
    """Turned the other way, each side has a flange of 45 mm beside a nut of 44 mm."""
    holes = "one: {panel: back, left: 200, bottom: 200, bulkhead: 1/2 in thin, diameter: 28.2}, \
two: {panel: back, left: 250, bottom: 200, bulkhead: 1/2 in thin, diameter: 28.2, flange: outside}"
    own = "limits: {glass_hole_hole: 0, glass_hole_hole_diameters: 0, glass_hole_hole_thicknesses: 0}\n"
    (finding,) = check(RULE, holes=holes, more=own)
    assert finding.measured == pytest.approx(0.050 - (0.045 + 0.044) / 2)
