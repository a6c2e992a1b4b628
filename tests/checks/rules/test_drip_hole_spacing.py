"""Drip holes and what is left between them."""

import math

import pytest

RULE = "drip-hole-spacing"


@pytest.mark.parametrize(
    ("apart", "severity"),
    [(9.01, None), (8.99, "warning"), (4.51, "warning"), (4.49, "fault"), (4.0, "fault")],
)
def test_either_side_of_each_limit(faulty, apart, severity):
    """Holes of 3 mm on a pipe of 20 mm: 3 diameters along the chord from row to row, or 1.5 at least."""
    turn = 2 * math.degrees(math.asin(apart / 20))
    found = faulty(RULE, between=f"{turn!r} deg")
    assert [f.severity for f in found] == ([severity] if severity else [])
    assert [f.measured for f in found] == pytest.approx([apart / 1000] * len(found))


@pytest.mark.parametrize(("pitch", "count"), [(9, 0), (8.9, 1)])
def test_along_the_pipe_the_pitch_counts(check, pitch, count):
    run = f"bar: {{PIPE, start: [200, 200, 300], route: [{{right: 200, \
drip: {{diameter: 3, pitch: {pitch}}}}}, cap]}}"
    found = check(RULE, run)
    assert [f.measured for f in found] == pytest.approx([pitch / 1000] * count)


def test_rows_count_too(check):
    """Two rows 30 degrees apart on a pipe of 20 mm: a chord of 2 x 10 x sin 15 degrees = 5.18 mm."""
    run = "bar: {PIPE, start: [200, 200, 300], route: [{right: 200, \
drip: {diameter: 3, pitch: 40, angles: [0 deg, 30 deg]}}, cap]}"
    (finding,) = check(RULE, run)
    assert finding.measured == pytest.approx(0.020 * 0.2588190451, abs=1e-9)


@pytest.mark.parametrize(("count", "told"), [(1, 0), (2, 1), (3, 1)])
def test_two_holes_are_enough(check, count, told):
    run = f"bar: {{PIPE, start: [200, 200, 300], route: [{{right: 200, \
drip: {{diameter: 3, pitch: 5, count: {count}}}}}, cap]}}"
    found = check(RULE, run)
    assert [f.measured for f in found] == pytest.approx([0.005] * told)
