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


BRINK = """
pump: {{kind: pump, model: small 600, speed: {} %, outlet: d20 pn 16, at: {{left: 80, back: 60, bottom: 0}}}}
bar:
  kind: run
  pipe: d20 pn 16
  start: pump.outlet
  route:
    - {{until: up, reach: [0, 0, 400]}}
    - right: 500
      drip: {{diameter: 2 mm, pitch: 30, margin: 40, angles: [0]}}
    - cap
"""


def test_a_faster_pump_never_puts_more_holes_in_doubt(check):
    """Where at high losses nothing flows, all holes may be dry: the likely figure does not stand in for it.

    Holes of 2 mm, 290 mm over the water; a drop breaks off at 4 \u03c3/(\u03c1 g d) = 14.7 mm.
    """
    doubtful, grades = [], []
    for speed in (56, 57, 58, 58.5, 59, 60, 61):
        found = check(RULE, BRINK.format(speed))
        doubtful.append(sum(int(one.message.split()[0]) for one in found))
        grades.append(sum(2 if one.severity == "fault" else 1 for one in found))
    warned = doubtful[grades.index(1) :]
    assert warned == sorted(warned, reverse=True)
    assert warned[0] == max(doubtful) > 10
    assert grades == sorted(grades, reverse=True)
    assert (grades[0], grades[-1]) == (2, 0)
