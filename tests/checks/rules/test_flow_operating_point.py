"""Pumps that lift nothing, and branches that nothing comes out of."""

import re
from types import SimpleNamespace

import pytest
from made_outages import band

from layout3d.checks.rules import flow_operating_point as rules_of_flow
from layout3d.flow.result import Failure, GradePoint, RunningFlow, SiphonPoint, System, WayOut
from layout3d.flow.steady import Crest

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


@pytest.mark.parametrize(("top", "severities"), [(1095, []), (1105, ["fault"])])
def test_water_has_to_get_over_the_top_of_a_hose(check, top, severities):
    """A small 600 has 1.00 m of shut-off head over water at 100 mm; the hose ends at 300 mm."""
    over = f"{{until: up, reach: [0, 0, {top}]}}, {{right: 300}}, {{until: down, reach: [0, 0, 300]}}, open"
    pump = "pump: {PUMP, at: {left: 100, front: 200, bottom: 0}}"
    found = check(RULE, f"{pump}\nhose: {{TUBE, start: pump.outlet, route: [{over}]}}", waterline=100)
    told = [finding for finding in found if finding.severity != "note"]
    assert [finding.severity for finding in told] == severities
    for finding in told:
        assert f"its pipe has a top at {top / 1000:.3g} m" in finding.message
        assert finding.limit == pytest.approx(top / 1000, abs=1e-6)


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


PUMP = "pump: {kind: pump, model: small 1000, at: {left: 100, back: 120, bottom: 0}}"


def judged(check, monkeypatch, **system):
    """Run the rule over what is said to run in the pipework of a pump that stands alone."""
    made = {"pump_names": ("pump",), "pumps": (), **system}
    flow = RunningFlow(systems=(System(**made),))
    monkeypatch.setattr(rules_of_flow, "running", lambda model: flow)
    return check(RULE, PUMP, waterline=150)


def pump(flow, *, state="runs", head=(0.9, 1.1, 1.3)):
    return SimpleNamespace(
        pump="pump", state=state, flow=band(*flow), head=band(*head), curve=SimpleNamespace(shut_off_head=1.0)
    )


RUNS = pump((1e-4, 2e-4, 3e-4))


@pytest.mark.parametrize(
    ("kind", "setting", "severity", "start"),
    [
        ("no flow", "likely", "fault", "it lifts"),
        ("no flow", "high", "warning", "at high losses, it lifts"),
        ("beyond the curve", "low", "warning", "at low losses, it lifts"),
        ("not figured", "likely", "fault", "flow could not be figured: it lifts"),
    ],
)
def test_a_failure_at_likely_losses_or_without_a_figure_is_a_fault(
    check, monkeypatch, kind, setting, severity, start
):
    failure = Failure(
        kind=kind,
        message="it lifts",
        setting=setting,
        parts=("pump",),
        measured=0.5,
        limit=0.6,
        remedy="more",
    )
    (one,) = judged(check, monkeypatch, failures=(failure,))
    assert (one.severity, one.measured, one.limit, one.remedy) == (severity, 0.5, 0.6, "more")
    assert one.message.startswith(start)
    assert one.at is not None
    nowhere = Failure(kind=kind, message="it lifts", setting=setting)
    (one,) = judged(check, monkeypatch, failures=(nowhere,))
    assert (one.at, one.remedy) == (None, "give the scene figures that the tables know")


def test_a_dead_headed_pump_is_a_fault(check, monkeypatch):
    (one,) = judged(check, monkeypatch, pumps=(pump((0.0, 0.0, 0.0), state="dead-headed"),))
    assert (one.severity, one.parts, one.measured, one.limit) == ("fault", ("pump",), 1.0, 1.1)
    assert one.message == "pump is dead-headed: it lifts 1,000 mm at most, less than stands against it"


@pytest.mark.parametrize(
    ("low", "state", "severity", "limit"),
    [
        (-1e-9, "runs", None, None),
        (-1.1e-9, "runs", "warning", 1.3),
        (-1e-4, "pushed back", "fault", 1.1),
    ],
)
def test_what_may_run_back_through_a_pump_is_told(check, monkeypatch, low, state, severity, limit):
    """Up to 4 mL/h count as none. A stalled one lets 1e-4 to 2e-4 m³/s through."""
    stalled = SimpleNamespace(pumps=(pump((0, 0, 0)), pump((-2e-4, -2e-4, -1e-4))))
    stalled.pumps[0].pump = "other"
    monkeypatch.setattr(rules_of_flow, "running_with", lambda model, speeds: stalled)
    found = judged(check, monkeypatch, pumps=(pump((low, 0.0, 1e-4), state=state),))
    assert [one.severity for one in found] == ([severity] if severity else [])
    for one in found:
        assert (one.parts, one.measured, one.limit) == (("pump",), 1.0, limit)
        assert ("is pushed back" in one.message) == (severity == "fault")
        assert one.message.endswith("; 360 L/h to 720 L/h if it stalls")
        assert "others set 1,100 mm against it" in one.message


def out(**more):
    made = {"name": "n", "where": "end of line", "kind": "mouth", "part": "pump", "height": 0.3}
    return WayOut(**made | {"flow": band(0.0, 0.0, 1e-4)} | more)


def grade(head, node="n"):
    return GradePoint(node=node, elevation=0.3, head=band(head, head, head), velocity=0.0)


@pytest.mark.parametrize(("height", "count"), [(0.001, 0), (0.0011, 1)])
def test_a_mouth_over_the_water_in_its_pipe_gives_nothing(check, monkeypatch, height, count):
    """A millimetre is let be."""
    heads = (grade(0.5, "m"), grade(0.0))
    found = judged(check, monkeypatch, pumps=(RUNS,), outs=(out(height=height),), grade=heads)
    assert len(found) == count
    for one in found:
        assert (one.severity, one.measured, one.limit, one.parts) == ("fault", 0.0, height, ("pump",))
        assert one.message == (
            "nothing comes out of the end of line: the water stands 1.1 mm below it in the pipe"
        )
        assert one.remedy.startswith("lower it by more than 1.1 mm, throttle ")


def test_only_a_mouth_without_flow_whose_head_is_known_is_judged(check, monkeypatch):
    low = grade(0.1)
    for one in (
        out(flow=band(0.0, 1.1e-9, 1.0)),
        out(kind="water"),
        out(name="elsewhere"),
    ):
        assert judged(check, monkeypatch, pumps=(RUNS,), outs=(one,), grade=(low,)) == ()
    still = out(flow=band(0.0, 1e-9, 1.0))
    assert len(judged(check, monkeypatch, pumps=(RUNS,), outs=(still,), grade=(low,))) == 1
    nothing = GradePoint(node="n", elevation=0.3, head=None, velocity=0.0)
    assert judged(check, monkeypatch, pumps=(RUNS,), outs=(out(),), grade=(nothing,)) == ()


def test_behind_a_top_it_is_the_top_that_is_told(check, monkeypatch):
    """The top lies at 450 mm and the water comes up to 410."""
    top = Crest(node="t", height=0.45, level=0.41)
    (one,) = judged(check, monkeypatch, pumps=(RUNS,), outs=(out(crest=top),), grade=(grade(0.5),))
    assert (one.measured, one.limit) == (0.41, 0.45)
    assert "stands 40 mm below the top of the pipe" in one.message
    assert one.remedy == "lead the pipe 40 mm lower, throttle the lower ways out, or run the pump faster"


def test_the_deepest_siphon_of_a_run_is_a_note(check, monkeypatch):
    tops = tuple(SiphonPoint(node=f"pump.{name}.end", draw=draw) for name, draw in (("a", 0.2), ("b", 0.1)))
    (one,) = judged(check, monkeypatch, pumps=(RUNS,), siphons=tops)
    assert (one.severity, one.parts, one.measured, one.limit) == ("note", ("pump",), 0.2, 0.0)
    assert one.message.startswith("pump runs 200 mm below the air's pressure at pump.a: ")


def test_what_has_failed_at_one_end_alone_is_judged_for_the_rest(check, monkeypatch):
    """Without likely figures there is nothing else to judge."""
    failure = Failure(kind="no flow", message="it lifts", setting="high", parts=("pump",))
    outs, heads = (out(),), (grade(0.1),)
    found = judged(check, monkeypatch, pumps=(RUNS,), failures=(failure,), outs=outs, grade=heads)
    assert sorted(one.severity for one in found) == ["fault", "warning"]
    assert len(judged(check, monkeypatch, failures=(failure,), outs=outs, grade=heads)) == 1
