"""Drip holes and what is left between them."""

import math
from types import SimpleNamespace

import pytest
from made_outages import made_model

from layout3d.checks.rules import drip_hole_spacing as module

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


@pytest.mark.parametrize(
    ("pitch", "severity"), [(9.0, None), (8.99, "warning"), (6.0, "warning"), (5.99, "fault")]
)
def test_the_nearest_two_are_judged_by_the_wider_of_them(monkeypatch, pitch, severity):
    """Holes of 2, 3, 1 and 1 mm; three diameters wanted and two at the least, of the second and third."""
    at = (0.0, 40.0, 40.0 + pitch, 80.0)
    holes = tuple(
        SimpleNamespace(at=(x / 1000, 0.2, 0.3), diameter=size)
        for x, size in zip(at, (0.002, 0.003, 0.001, 0.001), strict=True)
    )
    alone = SimpleNamespace(holes=holes[:1], body="bar.one")
    run = SimpleNamespace(elements=(alone, SimpleNamespace(holes=holes, body="bar.pipe_1")))
    monkeypatch.setattr(module, "runs", lambda model: [("bar", run)])
    model = made_model(drip_hole_spacing_diameters=3.0, drip_hole_spacing_least=2.0)
    found = list(module.drip_hole_spacing.find(model))
    assert [one.severity for one in found] == ([severity] if severity else [])
    for one in found:
        assert (one.parts, one.limit) == (("bar.pipe_1",), pytest.approx(0.009))
        assert one.measured == pytest.approx(pitch / 1000)
        assert one.at == pytest.approx((0.040 + pitch / 2000, 0.2, 0.3))
