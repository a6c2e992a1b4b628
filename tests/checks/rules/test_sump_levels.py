"""Levels of a sump beside each other."""

import pytest

RULE = "sump-levels"


@pytest.mark.parametrize(
    ("level", "severity", "measured"),
    [
        (200, None, None),
        (200.1, "fault", 0.0001),
        (250, "fault", 0.05),
    ],
)
def test_either_side_of_each_limit(faulty, level, severity, measured):
    """No higher than the compartment before."""
    found = faulty(RULE, level=level)
    if severity is None:
        assert found == ()
    else:
        (finding,) = found
        assert finding.severity == severity
        assert finding.measured == pytest.approx(measured, abs=1e-6)


SUMP = "sump: {SUMP, at: [0, 0, -500], inside: [450, 300, 300], compartments: [\
{name: a, length: 100, level: 200, baffle: {height: 250, gap: 50}}, {name: b, level: LEVEL}]}"


@pytest.mark.parametrize(("level", "count"), [(200, 0), (202, 0), (202.1, 1), (198, 0), (197.9, 1)])
def test_under_a_baffle_both_sides_are_level(check, level, count):
    found = check(RULE, SUMP.replace("LEVEL", str(level)))
    assert [f.severity for f in found] == ["fault"] * count
