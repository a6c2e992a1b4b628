"""What the pumps bring against what the drains carry open."""

from types import SimpleNamespace

import pytest
from made_outages import band, made_circuit, made_drain, made_model

from layout3d.checks.rules import drain_capacity as module

RULE = "drain-capacity"


@pytest.mark.parametrize(
    ("speed", "severity"), [("67 %", None), ("68 %", "warning"), ("71 %", "warning"), ("72 %", "fault")]
)
def test_either_side_of_what_it_carries(faulty, speed, severity):
    """The leg through the glass is level, 256 mm long, 21.2 mm at its narrowest, and ends over an upright.

    Gradually varied flow from critical depth there, integrated with scipy: half full at n 0.013 it carries
    92.9 L/h, three quarters full at n 0.010 236.9 L/h.
    """
    found = tuple(finding for finding in faulty(RULE, speed=speed) if finding.rule == RULE)
    if severity is None:
        assert found == ()
        return
    (finding,) = found
    assert finding.severity == severity
    assert finding.measured > finding.limit
    assert "the drain 'overflow'" in finding.message
    assert (" at most" in finding.message) == (severity == "warning")
    carried = 236.9 if severity == "fault" else 92.9
    assert finding.limit * 3.6e6 == pytest.approx(carried, rel=0.005)


RETURN = """
sump:
  {kind: sump, at: [50, 50, -500], inside: [400, 300, 300], compartments: [{name: chamber, level: 200}]}
pump:
  {kind: pump, model: medium 2000, outlet: d20 pn 16,
  at: {in: sump.chamber, left: 100, front: 150, bottom: 0}}
riser: {kind: run, pipe: d20 pn 16, start: pump.outlet, route: [{up: 950}, {right: 100}, open]}"""


def test_a_return_without_a_drain_is_a_fault(check):
    (finding,) = check(RULE, RETURN)
    assert (finding.severity, finding.parts, finding.limit) == ("fault", ("pump",), 0.0)
    assert finding.measured > 0
    assert "no drain leads back" in finding.message


def test_a_scene_without_pumps_says_nothing(check):
    sump = RETURN.partition("pump:")[0]
    assert check(RULE, sump) == ()
    assert check(RULE) == ()


LITRES = 1e-3 / 3600.0  # an hour, [m³/s]


def drain(name, carries, *, crest=0.29, limits=1, box=""):
    """A drain of one stretch that carries so much open, [L/h]."""
    made = band(*(flow * LITRES for flow in carries), note="half full")
    at = (0.1, 0.2, -0.1 if name == "a" else -0.2)
    stretch = SimpleNamespace(flow=made, words=f"the leg of {name}", at=at, to=(name, 0.0, 0.0))
    stretch.to = (0.3 if name == "a" else 0.4, 0.0, 0.0)
    intake = SimpleNamespace(stages=(SimpleNamespace(crest=crest),))
    found = made_drain(name, crest=crest, parts=(name,), limits=(stretch,) * limits, open_flow=made, box=box)
    found.intake, found.narrowest = intake, lambda setting: stretch
    return found


def judged(monkeypatch, *drains, flow, **more):
    made = made_circuit(drains=drains, flow=flow and band(*(one * LITRES for one in flow)), **more)
    monkeypatch.setattr(module, "circuit", lambda model: made)
    return list(module.drain_capacity.find(made_model()))


ONE = (100, 200, 300)


@pytest.mark.parametrize(
    ("flow", "severity", "measured", "limit"),
    [
        ((80, 90, 100), None, None, None),
        ((80, 90, 101), "warning", 101, 100),
        ((150, 200, 250), "warning", 250, 100),
        ((150, 201, 250), "fault", 201, 200),
    ],
)
def test_the_ranges_meet_or_the_likely_flow_is_over(monkeypatch, flow, severity, measured, limit):
    found = judged(monkeypatch, drain("a", ONE), flow=flow)
    assert [one.severity for one in found] == ([severity] if severity else [])
    for one in found:
        assert (one.measured / LITRES, one.limit / LITRES) == pytest.approx((measured, limit))
        assert (one.parts, one.unit, one.at) == (("a",), "m³/s", (0.1, 0.2, -0.1))


def test_what_is_too_much_is_told_in_full(monkeypatch):
    (one,) = judged(monkeypatch, drain("a", (200, 200, 200)), flow=(250, 250, 250))
    assert one.message == (
        "250 L/h run to the drain 'a', open carrying 200 L/h (the leg of a: half full); running full it "
        "gulps, swings and stops without warning"
    )
    assert one.remedy == "pump 50 L/h less, use a wider drain, or add a second one"


def test_two_drains_carry_together_and_the_one_that_carries_less_is_named(monkeypatch):
    """100 and 150 L/h at the low figure; which is narrower turns round at the likely one, 200 and 160."""
    drains = drain("a", ONE), drain("b", (150, 160, 170))
    assert judged(monkeypatch, *drains, flow=(100, 200, 250)) == []
    (narrow,) = judged(monkeypatch, *drains, flow=(100, 200, 251))
    assert (narrow.severity, narrow.parts, narrow.at[2]) == ("warning", ("a", "b"), -0.1)
    assert " run to the drains a, b, open carrying " in narrow.message
    assert "(the leg of a: " in narrow.message
    (likely,) = judged(monkeypatch, *drains, flow=(100, 361, 400))
    assert (likely.severity, likely.limit / LITRES, likely.at[2]) == ("fault", pytest.approx(360), -0.2)


def test_a_drain_over_the_water_carries_only_once_the_tank_runs_over(monkeypatch):
    """The level is 300 mm; a crest at it takes nothing."""
    drains = drain("a", ONE), drain("b", ONE, crest=0.3)
    flow = (100, 150, 190)
    (one,) = judged(monkeypatch, *drains, flow=flow)
    assert one.parts == ("a",)
    assert judged(monkeypatch, *drains, flow=flow, overflows=True) == []
    assert judged(monkeypatch, drain("b", ONE, crest=0.3), flow=flow) == []
    assert judged(monkeypatch, drain("a", ONE, limits=0), flow=flow) == []


def test_of_two_in_a_box_the_lower_one_carries(monkeypatch):
    drains = drain("a", ONE, box="box"), drain("b", ONE, crest=0.28, box="box")
    (one,) = judged(monkeypatch, *drains, flow=(100, 150, 190))
    assert one.parts == ("b",)


def test_pumps_without_a_drain_are_named_with_what_they_bring(monkeypatch):
    pumps = (SimpleNamespace(name="p"), SimpleNamespace(name="q"))
    (one,) = judged(monkeypatch, flow=(100, 150, 190), pumps=pumps)
    assert (one.parts, one.measured / LITRES, one.limit) == (("p", "q"), pytest.approx(150), 0.0)
    assert one.message == "p, q brings 150 L/h from sump to tank, and no drain leads back"
    assert one.at == pytest.approx((0.4, 0.2, 0.3))  # over the middle of the tank, at its level
    assert judged(monkeypatch, flow=None, pumps=pumps) == []
    assert judged(monkeypatch, flow=(0, 0, 190), pumps=pumps) == []
