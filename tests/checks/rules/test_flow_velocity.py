"""Water that runs too fast through pipe."""

from types import SimpleNamespace

import pytest
from made_outages import band, made_model

from layout3d.checks.rules import flow_velocity as module
from layout3d.flow.result import RunningFlow, System

RULE = "flow-velocity"


def test_the_speed_is_the_flow_over_the_bores_area(faulty):
    (found,) = faulty(RULE)
    assert found.severity == "fault"
    assert (found.limit, found.unit) == (3.0, "m/s")
    assert "riser" in found.parts


@pytest.mark.parametrize(("speed", "severity"), [("40 %", None), ("60 %", "warning"), ("100 %", "fault")])
def test_slower_pumps_are_judged_by_the_lower_limit(faulty, speed, severity):
    found = faulty(RULE, speed=speed)
    assert [one.severity for one in found] == ([severity] if severity else [])


def test_either_side_of_the_limit(check):
    """The limit is set to just over and just under what was found."""
    parts = """
pump: {kind: pump, model: small 1000, outlet: d20 pn 16, at: {left: 100, back: 120, bottom: 0}}
line: {kind: run, pipe: d20 pn 16, start: pump.outlet, route: [{up: 150}, {right: 150}, open]}
"""
    (found,) = check(RULE, parts, more="limits: {velocity_supply: 0.1 m/s}\n")
    for share, count in ((1.0001, 0), (0.9999, 1)):
        limit = f"limits: {{velocity_supply: {share * found.measured:.9f} m/s}}\n"
        assert len(check(RULE, parts, more=limit)) == count


def test_each_run_is_judged_by_itself_and_a_fitting_as_well_as_pipe(check):
    """The first run keeps below the limit; in the second a bush is as fast as the narrow pipe behind it.

    Its bore is 17.0 mm, 20 less twice 1.5 (DIN 8062); pipe that is wider by the root of the speeds' ratio has
    the area for the limit.
    """
    parts = """
slow_pump:
  {kind: pump, model: small 600, speed: 50 %, outlet: d25 pn 10, at: {left: 100, back: 120, bottom: 0}}
slow: {kind: run, pipe: d25 pn 10, start: slow_pump.outlet, route: [{up: 150}, {right: 150}, open]}
pump: {kind: pump, model: small 1000, outlet: d25 pn 10, at: {left: 300, back: 120, bottom: 0}}
line:
  {kind: run, pipe: d25 pn 10, start: pump.outlet, route: [{up: 150}, {reduce: d20 pn 16}, {up: 150}, open]}
"""
    model_limits = "limits: {velocity_supply: LIMIT m/s, velocity_mouth: 9 m/s}\n"
    everything = check(RULE, parts, more=model_limits.replace("LIMIT", "0.01"))
    speeds = {finding.parts[0]: finding.measured for finding in everything}
    between = 0.5 * (speeds["slow"] + speeds["line"])
    assert speeds["slow"] < between < speeds["line"]
    (found,) = check(RULE, parts, more=model_limits.replace("LIMIT", f"{between:.6f}"))
    assert found.parts == ("line", "line.reducing_bush_1")
    wide = 0.0170 * (found.measured / between) ** 0.5
    assert f"use pipe of {1000 * wide:.1f} mm bore" in found.remedy


def test_a_mouth_is_judged_by_its_own_limit_unless_its_run_is_told(check):
    """A nozzle of 0.6 of the bore throws 2.8 times as fast as the pipe before it runs."""
    parts = """
pump: {kind: pump, model: small 1000, outlet: d20 pn 16, at: {left: 100, back: 120, bottom: 0}}
line: {kind: run, pipe: d20 pn 16, start: pump.outlet, route: [{up: 150}, {right: 150}, nozzle]}
"""
    (jet,) = check(RULE, parts, more="limits: {velocity_mouth: 0.1 m/s, velocity_supply: 9 m/s}\n")
    (pipe,) = check(RULE, parts, more="limits: {velocity_mouth: 0.1 m/s, velocity_supply: 0.1 m/s}\n")
    assert jet.severity == "warning"
    assert (jet.limit, jet.unit, jet.parts) == (0.1, "m/s", ("line",))
    assert jet.measured == pytest.approx(pipe.measured / 0.6**2, rel=1e-6)
    assert "velocity_mouth" in jet.message
    assert pipe.parts[0] == "line"
    over = f"limits: {{velocity_mouth: {jet.measured * 1.0001:.9f} m/s, velocity_supply: 9 m/s}}\n"
    assert check(RULE, parts, more=over) == ()


LIMITS = {"velocity_supply": 1.5, "velocity_most": 3.0, "velocity_mouth": 2.0}


def stretch(body, speed, *, part="line", kind="pipe", start="a", end="b", length=1.0):
    link = SimpleNamespace(body=body, part=part, kind=kind, start=start, end=end, length=length, bore=0.020)
    return SimpleNamespace(
        link=link,
        velocity=band(speed - 0.5, speed, speed + 0.5),
    )


def judged(monkeypatch, *stretches, outs=()):
    flow = RunningFlow(systems=(System(stretches=stretches, outs=outs),))
    monkeypatch.setattr(module, "running", lambda model: flow)
    monkeypatch.setattr(module, "middle_of", lambda model, name: (name, 0.0, 0.0))
    return list(module.velocities.find(made_model(**LIMITS)))


@pytest.mark.parametrize(
    ("speed", "severity", "limit"),
    [(1.5, None, None), (1.501, "warning", 1.5), (3.0, "warning", 1.5), (3.001, "fault", 3.0)],
)
def test_either_side_of_both_speeds(monkeypatch, speed, severity, limit):
    found = judged(monkeypatch, stretch("line.pipe_1", speed))
    assert [(one.severity, one.limit) for one in found] == ([(severity, limit)] if severity else [])


def test_the_fastest_piece_of_each_run_is_told_in_full(monkeypatch):
    """At 2.4 m/s against 1.5 the bore has to be wider by the root of 1.6: 25.3 mm for 20."""
    slow, fast, between = (stretch(f"line.{name}", speed) for name, speed in (("a", 2), ("b", 2.4), ("c", 1)))
    (one,) = judged(monkeypatch, slow, fast, between)
    assert (one.parts, one.measured, one.at) == (("line", "line.b"), 2.4, ("line.b", 0.0, 0.0))
    assert one.message == (
        "water runs at 2.4 m/s (1.9 m/s to 2.9 m/s) through line.b: 0.9 m/s over 1.5 m/s (limit "
        "velocity_supply)"
    )
    assert one.remedy.startswith("use pipe of 25.3 mm bore or more for line, ")
    (whole,) = judged(monkeypatch, stretch("line", 2))
    assert whole.parts == ("line",)


def test_a_mouth_and_the_nozzle_before_it_are_judged_as_jets(monkeypatch):
    """What has a length and ends at a mouth is pipe, and so is a fitting that ends elsewhere."""
    mouth = stretch("line.mouth", 9, kind="mouth", start="m", end="out")
    nozzle = stretch("line.nozzle", 9, end="m", length=0.0)
    assert judged(monkeypatch, mouth, nozzle) == []
    for pipe in (stretch("line.end", 9, end="m"), stretch("line.elbow", 9, end="n", length=0.0)):
        (one,) = judged(monkeypatch, mouth, pipe)
        assert one.parts == ("line", pipe.link.body)


def out(part, speed):
    return SimpleNamespace(where=f"end of {part}", part=part, velocity=speed and band(speed, speed, speed))


@pytest.mark.parametrize(("speed", "count"), [(2.0, 0), (2.001, 1)])
def test_either_side_of_the_speed_of_a_jet(monkeypatch, speed, count):
    """Other ways out, as holes without a speed, come first."""
    outs = (out("holes", None), out("slow", 1.0), out("line", speed))
    found = judged(monkeypatch, stretch("line.pipe_1", 1.5), outs=outs)
    assert [(one.severity, one.parts, one.limit) for one in found] == [("warning", ("line",), 2.0)] * count
    for one in found:
        assert (one.measured, one.unit, one.at) == (2.001, "m/s", ("line", 0.0, 0.0))


def test_a_jet_of_a_run_that_is_told_already_is_not_told_again(monkeypatch):
    found = judged(monkeypatch, stretch("line.pipe_1", 2.0), outs=(out("line", 5.0), out("other", 3.0)))
    assert [one.parts for one in found] == [("other",), ("line", "line.pipe_1")]
    assert found[0].message.startswith("water leaves the end of other at 3 m/s (3 m/s), over 2 m/s (limit ")
