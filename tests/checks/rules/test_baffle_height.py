"""Baffles and the rim of the sump."""

import pytest

RULE = "baffle-height"


@pytest.mark.parametrize(
    ("baffle", "severity", "measured"),
    [
        (280, None, None),
        (280.1, "warning", 0.0199),
        (299.9, "warning", 0.0001),
        (300, "fault", 0.0),
        (310, "fault", -0.01),
    ],
)
def test_either_side_of_each_limit(faulty, baffle, severity, measured):
    """The sump is 300 mm high, and 20 mm are to be left (limit baffle_to_rim)."""
    found = faulty(RULE, baffle=baffle)
    if severity is None:
        assert found == ()
    else:
        (finding,) = found
        assert finding.severity == severity
        assert finding.measured == pytest.approx(measured, abs=1e-6)


def test_a_baffle_that_is_open_below_may_reach_the_rim(check):
    sump = "sump: {{SUMP, at: {{left: 0, front: 0, bottom: -500}}, inside: [450, 300, 300], compartments: [\
{{name: a, length: 200, level: 250, baffle: {{height: {height}, gap: 50}}}}, {{name: b, level: 250}}]}}"
    assert check(RULE, sump.format(height=300)) == ()
    (finding,) = check(RULE, sump.format(height=301))
    assert finding.severity == "fault"
    assert finding.parts == ("sump.baffle_a",)
