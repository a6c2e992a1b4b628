"""A clogged sock against the water over the return pump's inlet."""

import pytest

RULE = "pump-dry"


@pytest.mark.parametrize(
    ("length", "severity", "cover"),
    [(220, None, None), (230, "warning", 0.0056), (250, "fault", -0.0044), (300, "fault", -0.0293)],
)
def test_either_side_of_the_inlet(faulty, length, severity, cover):
    """97.4 mm of rise over a sock of 224 mm by its length, out of a chamber of 174 by 300 mm."""
    found = faulty(RULE, length=length)
    if severity is None:
        assert found == ()
    else:
        (finding,) = found
        assert (finding.severity, finding.parts) == (severity, ("pump", "sock"))
        assert finding.measured == pytest.approx(cover, abs=1e-3)
        assert finding.limit == 0.010


def test_without_a_sock_nothing_is_told(check):
    assert check(RULE) == ()
