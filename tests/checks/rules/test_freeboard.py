"""The waterline under the top of the glass."""

import pytest

RULE = "freeboard"


@pytest.mark.parametrize(
    ("level", "severity", "measured"),
    [
        ("381.4 mm", None, None),
        ("381.5 mm", "warning", 0.0249),
        ("406.3 mm", "warning", 0.0001),
        ("406.4 mm", "fault", 0.0),
    ],
)
def test_either_side_of_each_limit(faulty, level, severity, measured):
    """A tank 16 in (406.4 mm) high, 25 mm to be left (limit freeboard)."""
    found = faulty(RULE, level=level)
    if severity is None:
        assert found == ()
    else:
        (finding,) = found
        assert finding.severity == severity
        assert finding.measured == pytest.approx(measured, abs=1e-6)


@pytest.mark.parametrize(("waterline", "count"), [(300, 0), (300.1, 1)])
def test_water_at_the_brace_is_a_warning(check, waterline, count):
    tank = "BOX, perimeter_brace: {width: 50, thickness: 10, below_top: 90}"
    found = check(RULE, tank=tank, waterline=waterline)
    assert [f.severity for f in found] == ["warning"] * count
    assert [f.measured for f in found] == pytest.approx([-0.0001] * count)
