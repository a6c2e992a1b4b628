"""The gap between a heater's cap, 0.62 of its diameter about its middle, and plastic."""

import pytest

RULE = "heater-to-plastic"


@pytest.mark.parametrize(
    ("off", "severity"), [(23.4, "fault"), (23.8, "warning"), (38.4, "warning"), (38.8, None)]
)
def test_either_side_of_both_limits(faulty, off, severity):
    """A rod of 30 mm has a cap of 37.2 mm: 18.6 mm and the limits' 5 and 20 mm are 23.6 and 38.6 mm."""
    found = faulty(RULE, off=off)
    assert [finding.severity for finding in found] == [severity] * (severity is not None)
    for finding in found:
        assert (finding.parts, finding.limit) == (("heater", "wall.back"), 0.02)
        assert finding.measured == pytest.approx((off - 18.6) / 1000, abs=5e-5)


@pytest.mark.parametrize(
    ("tank", "count"), [("kind: tank, inside: [600, 400, 400], glass: 10, material: acrylic", 1), ("BOX", 0)]
)
def test_acrylic_counts_and_glass_does_not(check, tank, count):
    heater = "heater: {kind: heater, length: 150, at: {left: 300, back: 25, bottom: 20}, fixed_to: tank.back}"
    assert len(check(RULE, heater, tank=tank, waterline=300)) == count


def test_a_pipe_beside_it_counts(check):
    heater = "heater: {kind: heater, length: 150, at: [300, 200, 0]}"
    pipe = "pipe: {PIPE, start: [335, 200, 20], route: [{up: 200}, open]}"
    (finding,) = check(RULE, f"{heater}\n{pipe}", waterline=300)
    assert finding.measured == pytest.approx(0.035 - 0.0186 - 0.010, abs=1e-4)
