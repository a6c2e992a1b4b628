"""Drip holes that clog."""

import pytest

RULE = "drip-clog"


@pytest.mark.parametrize(
    ("diameter", "severity", "limit"),
    [(2.0, None, None), (1.99, "warning", 0.002), (1.0, "warning", 0.002), (0.99, "fault", 0.001)],
)
def test_either_side_of_each_limit(faulty, diameter, severity, limit):
    found = faulty(RULE, diameter=diameter)
    if severity is None:
        assert found == ()
    else:
        (finding,) = found
        assert (finding.severity, finding.limit) == (severity, limit)
        assert finding.measured == pytest.approx(diameter / 1000)
        assert "10 of 10 drip holes" in finding.message
