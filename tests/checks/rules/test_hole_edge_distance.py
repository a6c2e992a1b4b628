"""Drilled holes and the edges and corners of their panes."""

import pytest

RULE = "hole-edge-distance"


@pytest.mark.parametrize(
    ("left", "severity", "measured"),
    [
        (42.5, None, None),
        (42.4, "warning", 0.0349),
        (27.5, "warning", 0.02),
        (27.4, "fault", 0.0199),
        (19.5, "fault", 0.012),
    ],
)
def test_either_side_of_each_limit(faulty, left, severity, measured):
    """A hole of 35 mm in glass of 10 mm: its own diameter for the warning, two thicknesses for the fault.

    The back pane covers the end of the left one: its edge lies 10 mm beyond the inside.
    """
    found = faulty(RULE, left=left)
    if severity is None:
        assert found == ()
    else:
        (finding,) = found
        assert finding.severity == severity
        assert finding.measured == pytest.approx(measured, abs=1e-6)


EDGES = {
    "back": ("left: {covering}, bottom: 200", "right: {covering}, bottom: 200", "left: 300, bottom: {plain}"),
    "front": ("left: {covering}, bottom: 200", "right: {covering}, bottom: 200", "left: 300, top: {plain}"),
    "left": ("front: {plain}, bottom: 200", "back: {plain}, bottom: 200", "front: 200, top: {plain}"),
    "right": ("front: {plain}, bottom: 200", "back: {plain}, bottom: 200", "back: 200, bottom: {plain}"),
    "bottom": ("left: {covering}, front: 200", "right: {covering}, back: 200", "left: 300, back: {covering}"),
}


@pytest.mark.parametrize(
    ("panel", "where"), [(panel, where) for panel, all in EDGES.items() for where in all]
)
def test_each_edge_of_each_pane_counts(check, panel, where):
    """The middle 47.5 mm from the edge of the glass: 30 mm of glass beside a hole of 35 mm."""
    place = where.format(plain=47.5, covering=37.5)
    (finding,) = check(RULE, holes=f"hole: {{panel: {panel}, {place}, diameter: 35}}")
    assert finding.measured == pytest.approx(0.030)
    assert finding.parts == (f"tank.{panel}", "hole")


@pytest.mark.parametrize(("near", "count"), [(67.53, 0), (67.52, 1)])
def test_the_corner_counts_by_itself(check, near, count):
    """60 mm from the corner to a hole of 71 mm: 95.5 mm along the diagonal, 67.53 mm from both edges."""
    diagonal = (60 + 35.5) / 2**0.5
    assert near == pytest.approx(diagonal, abs=0.01)
    own = "limits: {glass_hole_edge_diameters: 0}\n"
    holes = f"hole: {{panel: left, front: {near}, top: {near}, diameter: 71}}"
    found = check(RULE, holes=holes, more=own)
    assert [f.severity for f in found] == ["fault"] * count


def test_a_warning_at_the_edge_does_not_hide_a_fault_at_the_corner(check):
    found = check(RULE, holes="hole: {panel: left, front: 50, top: 50, diameter: 35}")
    assert [(f.severity, f.message.split("from ")[1][:13]) for f in found] == [
        ("fault", "the nearest c"),
        ("warning", "the bottom ed" if False else found[1].message.split("from ")[1][:13]),
    ]


def test_a_mitred_pane_is_measured_on_its_inner_face(check):
    """A square on its corner: each pane's inner face is 424.3 mm long, its outer one longer."""
    tank = "DIAMOND"
    (finding,) = check(RULE, tank=tank, holes="hole: {panel: side_1, start: 40, bottom: 200, diameter: 35}")
    assert finding.measured == pytest.approx(0.040 - 0.0175)
    assert "the start edge of tank.side_1" in finding.message


def test_a_polygonal_floor_names_the_wall_it_is_near(check):
    """10 mm of glass lie beyond the inside: 30 mm from the inside of the wall are 40 to the edge."""
    tank = "DIAMOND"
    along = 150 + 30 / 2**0.5
    holes = f"hole: {{panel: bottom, right: {along}, front: {along}, diameter: 35}}"
    (finding,) = check(RULE, tank=tank, holes=holes)
    assert finding.measured == pytest.approx(0.040 - 0.0175)
    assert "the side_1 edge of tank.bottom" in finding.message
