"""Glass between two holes, and room between their bulkheads."""

from types import SimpleNamespace

import pytest
from made_outages import made_model

from layout3d.checks.rules import hole_to_hole as module

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


def judged(monkeypatch, apart, *, flanges=("inside", "inside"), panes=("back", "back"), bulkheads=("a", "a")):
    """Run the rule over two holes of 30 and 20 mm: flanges of 50 mm, nuts of 40 and 44, so far apart, "
    "[mm]."""
    holes = []
    for number, (name, diameter, nut) in enumerate((("one", 0.030, 0.040), ("two", 0.020, 0.044))):
        hole = SimpleNamespace(
            name=name,
            at=(0.1 + number * apart / 1000, 0.2, 0.3),
            diameter=diameter,
            bulkhead=bulkheads[number],
            flange=flanges[number],
            flange_diameter=0.050,
            nut_diameter=nut,
        )
        holes.append((hole, SimpleNamespace(name=panes[number], thickness=0.010)))
    monkeypatch.setattr(module, "holes", lambda model: holes)
    model = made_model(
        glass_hole_hole_diameters=1.0,
        glass_hole_hole_thicknesses=2.0,
        glass_hole_hole=0.025,
        bulkhead_to_bulkhead=0.006,
    )
    return list(module.hole_pairs.find(model))


@pytest.mark.parametrize(
    ("apart", "severity", "left"),
    [(55, None, None), (54.9, "warning", 0.0299), (45, "warning", 0.020), (44.9, "fault", 0.0199)],
)
def test_glass_between_two_holes(monkeypatch, apart, severity, left):
    """25 mm of radii; of the wider hole's 30 mm as much glass is wanted, and two thicknesses at the least."""
    found = judged(monkeypatch, apart, bulkheads=("", "a"))
    assert [(one.severity, one.measured) for one in found] == (
        [(severity, pytest.approx(left))] if severity else []
    )
    for one in found:
        assert (one.parts, one.limit) == (("one", "two"), pytest.approx(0.030))
        assert one.at == pytest.approx((0.1 + apart / 2000, 0.2, 0.3))


def test_holes_that_run_into_each_other_are_told_so(monkeypatch):
    (one,) = judged(monkeypatch, 20, bulkheads=("", ""))
    assert one.measured == pytest.approx(-0.005)
    assert one.message.startswith("one and two run 5 mm into each other: 35 mm short of 30 mm (limit ")
    assert judged(monkeypatch, 20, panes=("back", "left")) == []


@pytest.mark.parametrize(
    ("flanges", "needed"),
    [
        (("inside", "inside"), 50),  # two flanges inside; the nuts outside need 42
        (("inside", "outside"), 47),  # 50 and 44 inside, 40 and 50 outside
        (("outside", "inside"), 47),
    ],
)
def test_flanges_and_nuts_of_two_bulkheads_keep_apart(monkeypatch, flanges, needed):
    """6 mm are wanted, and none left is a fault."""
    for left, severity in ((6, None), (5.9, "warning"), (0, "warning"), (-0.1, "fault")):
        found = [one for one in judged(monkeypatch, needed + left, flanges=flanges) if one.limit == 0.006]
        assert [one.severity for one in found] == ([severity] if severity else []), left
        assert [one.measured for one in found] == pytest.approx([left / 1000] * len(found))


def test_bulkheads_too_near_are_told_in_full(monkeypatch):
    told = judged(monkeypatch, 52)[-1]
    assert told.parts == ("one", "two")
    assert told.message == (
        "the bulkheads in one and two are 2 mm apart: 4 mm short of 6 mm (limit bulkhead_to_bulkhead)"
    )
    assert told.remedy == "move the holes 4 mm further apart"
    assert "lie 3 mm over each other" in judged(monkeypatch, 47)[-1].message
