"""Pumps that lift nothing, and branches that nothing comes out of."""

import re

import pytest

from layout3d.checks.rules import flow_operating_point as rules_of_flow
from layout3d.flow.result import Failure, RunningFlow, System

RULE = "flow-operating-point"
TWO = """
weak: {kind: pump, model: small 600, speed: SPEED, outlet: d20 pn 16, at: {left: 100, back: 120, bottom: 0}}
strong: {kind: pump, model: medium 2000, outlet: d20 pn 16, at: {left: 400, back: 120, bottom: 0}}
line:
  kind: run
  pipe: d20 pn 16
  start: weak.outlet
  route: [{up: 130}, {tee: right, name: t}, {up: 150}, open]
join:
  kind: run
  pipe: d20 pn 16
  start: strong.outlet
  route: [{until: up, reach: {from: line.t}}, {until: left, reach: {from: line.t}}, {join: line.t}]
"""


def test_either_side_of_the_lift_it_needs(faulty):
    """A small 600 has 1.00 m of shut-off head. The mouth lies at 65 + 20 + 200 mm less water at 150 mm:
    135 mm. Affinity: it just gets there at sqrt(0.135) = 36.7 % speed.
    """
    (found,) = faulty(RULE, speed="36.7 %")
    assert found.severity == "fault"
    assert found.measured == pytest.approx(0.367**2)
    assert found.limit == pytest.approx(0.135)
    assert found.parts == ("pump",)
    assert faulty(RULE, speed="36.8 %") == ()


def test_a_pump_that_another_one_overcomes_is_told_with_what_runs_back(check):
    """A small 600 at 35 % holds 0.35² m; what runs back by hand: 8 velocity heads of a stopped pump."""
    (found,) = check(RULE, TWO.replace("SPEED", "35 %"), waterline=150)
    assert found.severity == "fault"
    assert found.parts == ("weak",)
    assert found.measured == pytest.approx(0.35**2)
    assert found.limit > found.measured
    assert re.search(
        r"weak is pushed back: .* run back through it \(its rotor.*\); .* if it stalls", found.message
    )
    assert check(RULE, TWO.replace("SPEED", "100 %"), waterline=150) == ()


def test_a_flow_that_can_not_be_figured_is_a_fault(check, monkeypatch):
    """Whatever is at its root: a figure that rules need and can't have is no silence."""
    failure = Failure(kind="not figured", message="line: no loss is known", setting="high", parts=("pump",))
    flow = RunningFlow(systems=(System(failures=(failure,), pump_names=("pump",)),))
    monkeypatch.setattr(rules_of_flow, "running", lambda model: flow)
    parts = "pump: {kind: pump, model: small 1000, at: {left: 100, back: 120, bottom: 0}}"
    (found,) = check(RULE, parts, waterline=150)
    assert found.severity == "fault"
    assert found.message == "at high losses, flow could not be figured: line: no loss is known"


def test_a_mouth_above_the_grade_line_gives_nothing(check):
    """A wide branch low down takes all of the water: the upper mouth stays dry."""
    parts = """
pump: {kind: pump, model: small 600, outlet: d20 pn 16, at: {left: 100, back: 120, bottom: 0}}
line:
  kind: run
  pipe: d20 pn 16
  start: pump.outlet
  route: [{up: 80}, {tee: right, name: low}, {up: HEIGHT}, open]
branch: {kind: run, pipe: d20 pn 16, start: line.low, route: [{right: 80}, open]}
"""
    (found,) = check(RULE, parts.replace("HEIGHT", "250"), waterline=100)
    assert found.severity == "fault"
    assert found.parts == ("line",)
    assert "nothing comes out of the end of line" in found.message
    assert found.measured < found.limit
    assert check(RULE, parts.replace("HEIGHT", "60"), waterline=100) == ()
