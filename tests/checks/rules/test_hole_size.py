"""Sizes of drilled holes."""

import pytest

RULE = "hole-size"


@pytest.mark.parametrize(
    ("diameter", "severity", "measured"),
    [
        (10, None, None),
        (9.99, "fault", 0.00999),
    ],
)
def test_either_side_of_each_limit(faulty, diameter, severity, measured):
    """One thickness of the glass at least (limit glass_hole_least_thicknesses)."""
    found = faulty(RULE, diameter=diameter)
    if severity is None:
        assert found == ()
    else:
        (finding,) = found
        assert finding.severity == severity
        assert finding.measured == pytest.approx(measured, abs=1e-6)


@pytest.mark.parametrize(("diameter", "count"), [(133.3, 0), (133.4, 1)])
def test_a_third_of_the_narrow_side_at_most(check, diameter, count):
    found = check(RULE, holes=f"hole: {{panel: back, left: 300, bottom: 200, diameter: {diameter}}}")
    assert [f.severity for f in found] == ["warning"] * count


def test_a_floor_on_its_corner_is_as_wide_as_its_sides_are_apart(check):
    """A square of 424.3 mm sides within a box of 600 mm, glass 10 mm outside of each: 444.3 mm across."""
    tank = "DIAMOND"
    (finding,) = check(RULE, tank=tank, holes="hole: {panel: bottom, left: 300, front: 300, diameter: 149}")
    assert finding.limit == pytest.approx(0.3333 * (0.3 * 2**0.5 + 0.020))


@pytest.mark.parametrize(("diameter", "measured"), [(28.1, []), (28.05, [0.00095])])
def test_a_bulkhead_wants_slack_around_its_thread(check, diameter, measured):
    """A thread of 27.1 mm and 1 mm around it (limit bulkhead_hole_slack)."""
    holes = f"hole: {{panel: back, left: 300, bottom: 200, bulkhead: 1/2 in thin, diameter: {diameter}}}"
    found = check(RULE, holes=holes)
    assert [f.measured for f in found] == pytest.approx(measured)


@pytest.mark.parametrize(("diameter", "measured"), [(36, []), (36.1, [0.00395]), (44.2, [-0.0001])])
def test_flange_and_nut_cover_the_glass_around_the_hole(check, diameter, measured):
    """The nut of 44 mm is the smaller one; 4 mm all round (limit bulkhead_cover)."""
    holes = f"hole: {{panel: back, left: 300, bottom: 200, bulkhead: 1/2 in thin, diameter: {diameter}}}"
    found = check(RULE, holes=holes)
    assert [f.measured for f in found] == pytest.approx(measured)


@pytest.mark.parametrize(("glass", "count"), [(30, 0), (31, 1)])
def test_the_thread_grips_glass_of_a_stated_range(check, glass, count):
    """5 to 30 mm, as long as the thread is long enough (catalogue of bulkheads)."""
    tank = f"kind: tank, inside: [900, 600, 400], glass: {glass}"
    holes = "hole: {panel: back, left: 300, bottom: 200, bulkhead: 3 in heavy}"
    found = check(RULE, tank=tank, holes=holes)
    assert [f.measured for f in found] == pytest.approx([glass / 1000] * count)
