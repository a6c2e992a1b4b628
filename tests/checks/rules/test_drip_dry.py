"""Drip holes that give nothing."""

import pytest
from made_bars import bar, bars_judged, hole

from layout3d.checks.rules import drip_dry as module
from layout3d.flow.steady import Crest

RULE = "drip-dry"


def test_the_upper_holes_of_an_upright_pipe_fall_dry_one_by_one(faulty):
    counts = []
    for speed in (26, 28, 30, 45):
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


def judged(monkeypatch, *bars, **limits):
    return bars_judged(monkeypatch, module, module.dry_holes, *bars, **limits)


@pytest.fixture
def hold(monkeypatch):
    """Let a drop break off a hole at 30 mm of head for each millimetre less than 3 that it is wide."""
    monkeypatch.setattr(module, "water_of", lambda model: None)
    monkeypatch.setattr(module, "hold_head", lambda diameter, *, water: 30.0 * (0.003 - diameter))


DRY, STILL = (0.0, 0.0, 0.0), (0.0, 1e-7, 1e-6)


@pytest.mark.parametrize(
    ("state", "flow", "severity"),
    [
        ("dry", DRY, "fault"),
        ("holds", DRY, "fault"),
        ("runs", STILL, "warning"),
        ("runs", (1e-12, 1e-7, 1e-6), None),
    ],
)
def test_dry_at_likely_losses_is_a_fault_and_in_doubt_a_warning(monkeypatch, hold, state, flow, severity):
    found = judged(monkeypatch, bar(hole(1), hole(2, state=state, flow=flow)))
    assert [one.severity for one in found] == ([severity] if severity else [])
    for one in found:
        assert (one.parts, one.at) == (("bar", "bar.pipe_1"), (2, 0.0, 0.0))


def test_the_hole_that_lacks_least_is_told_in_full(monkeypatch, hold):
    """Hole 2 lacks 30 - 20 = 10 mm, hole 3 lacks 15 - 11 = 4 though it has less head."""
    dry = {"flow": DRY, "state": "dry"}
    holes = hole(1), hole(2, head=0.02, **dry), hole(3, head=0.011, diameter=0.0025, **dry)
    (one,) = judged(monkeypatch, bar(*holes))
    assert (one.measured, one.limit, one.at) == (0.011, pytest.approx(0.015), (3, 0.0, 0.0))
    assert one.message == (
        "2 of 3 drip holes of bar.pipe_1 give nothing; hole 3 has 11 mm of head and a drop breaks off at "
        "15 mm: 4 mm of head short"
    )
    doubt = hole(1), hole(2), hole(3, head=0.03, flow=STILL)
    (one,) = judged(monkeypatch, bar(*doubt))
    assert one.message == (
        "1 of 3 drip holes of bar.pipe_1 may give nothing; hole 3 has 30 mm of head at likely losses and a "
        "drop breaks off at 30 mm"
    )


def test_behind_a_top_all_holes_are_told_at_the_first(monkeypatch, hold):
    """The top lies at 450 mm, and the water comes up to 420."""
    top = Crest(node="t", height=0.45, level=0.42)
    (one,) = judged(monkeypatch, bar(hole(1, flow=DRY, state="dry"), hole(2), crest=top))
    assert (one.measured, one.limit, one.at) == (0.42, 0.45, (1, 0.0, 0.0))
    assert one.message.startswith("no water gets to the 2 drip holes of bar.pipe_1: it stands 30 mm below")
    assert "throttle other branches" in one.remedy
