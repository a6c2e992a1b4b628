"""Drip holes that give nothing."""

import pytest

RULE = "drip-dry"


def test_the_upper_holes_of_an_upright_pipe_fall_dry_one_by_one(faulty):
    counts = []
    for speed in (26, 28, 30, 40):
        found = [one for one in faulty(RULE, speed=f"{speed} %") if one.severity == "fault"]
        counts.append(int(found[0].message.split()[0]) if found else 0)
    assert counts == sorted(counts, reverse=True)
    assert counts[0] > counts[-1] == 0


def test_the_finding_tells_the_hole_that_lacks_least(faulty):
    """A drop of 25 °C water breaks off a 2.5 mm hole at 4 σ/(ρ g d) = 11.8 mm, σ 0.072 N/m."""
    (found,) = faulty(RULE)
    assert found.severity == "fault"
    assert found.parts == ("bar", "bar.pipe_1")
    assert found.limit == pytest.approx(4 * 0.0721 / (997.3 * 9.80665 * 0.0025), rel=0.005)
    assert found.measured < found.limit


def test_a_bar_that_no_pump_feeds_is_not_judged(check):
    run = "bar: {kind: run, pipe: d20 pn 16, start: [200, 200, 300], route: [{right: 200, \
drip: {diameter: 3, pitch: 40}}, cap]}"
    assert check(RULE, run) == ()
