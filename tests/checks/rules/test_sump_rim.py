"""Water over the baffles against the sump's rim."""

import pytest

RULE = "sump-rim"


@pytest.mark.parametrize(
    ("speed", "severity"), [("45 %", None), ("60 %", "warning"), ("70 %", "warning"), ("100 %", "fault")]
)
def test_either_side_of_the_rim(faulty, speed, severity):
    """20 mm from the baffle to the rim; 10 mm are to be left over the head at its high figure."""
    found = faulty(RULE, speed=speed)
    if severity is None:
        assert found == ()
    else:
        (finding,) = found
        assert (finding.severity, finding.parts) == (severity, ("sump.baffle_inlet",))
        assert finding.measured < finding.limit
