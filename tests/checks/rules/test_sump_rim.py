"""Water over the baffles against the sump's rim."""

from types import SimpleNamespace

import pytest
from made_outages import band, made_circuit, made_model, made_room

from layout3d.checks.rules import sump_rim as module

RULE = "sump-rim"


@pytest.mark.parametrize(("speed", "severity"), [("45 %", None), ("60 %", "warning"), ("100 %", "fault")])
def test_either_side_of_the_rim(faulty, speed, severity):
    """20 mm from the baffle to the rim; 10 mm are to be left over the head at its high figure."""
    found = faulty(RULE, speed=speed)
    if severity is None:
        assert found == ()
    else:
        (finding,) = found
        assert (finding.severity, finding.parts) == (severity, ("sump.baffle_inlet",))
        assert finding.measured < finding.limit


def judged(monkeypatch, *, crest, head=(0.004, 0.005, 0.006), level=(-0.3, -0.3, -0.3), **more):
    """Run the rule over two compartments of a sump whose rim lies at -200 mm: the last has no baffle."""
    inlet = SimpleNamespace(name="inlet", level=band(*level), head=band(*head, note="a weir"))
    made = made_circuit(compartments=(inlet, SimpleNamespace(name="return")), **more)
    made.sump.crests = (crest,)
    monkeypatch.setattr(module, "circuit", lambda model: made)
    return list(module.sump_rim.find(made_model(compartment_to_rim=0.010)))


@pytest.mark.parametrize(
    ("crest", "severity", "measured"),
    [
        (-0.216, None, None),
        (-0.2159, "warning", 0.0099),
        (-0.2051, "warning", -0.0009),
        (-0.205, "fault", 0.0),
        (-0.2, "fault", -0.005),
    ],
)
def test_crest_and_head_against_the_rim(monkeypatch, crest, severity, measured):
    """The high head of 6 mm warns, the likely one of 5 mm is the fault: each told with its own figure."""
    found = judged(monkeypatch, crest=crest)
    assert [(one.severity, one.measured) for one in found] == (
        [(severity, pytest.approx(measured, abs=1e-9))] if severity else []
    )
    for one in found:
        assert one.limit == (0.0 if severity == "fault" else 0.010)
        assert one.parts == ("sump.baffle_inlet",)
        assert one.at == pytest.approx((0.25, 0.25, -0.2))  # the middle of the compartment, at the rim


def test_what_stands_at_the_rim_is_told_in_full(monkeypatch):
    (near,) = judged(monkeypatch, crest=-0.21)
    assert near.message == (
        "the water of sump.inlet, 5 mm over its baffle at the running flow, leaves 4 mm at the high figure "
        "to the rim of sump (limit compartment_to_rim, 10 mm; a weir)"
    )
    assert near.remedy == "make the baffle 6 mm lower, or the sump higher"
    (over,) = judged(monkeypatch, crest=-0.202)
    assert "at the running flow, would have to rise 3 mm over the rim of sump (limit" in over.message
    assert over.remedy == "make the baffle 13 mm lower, or the sump higher"
    (at,) = judged(monkeypatch, crest=None, level=(-0.2, -0.2, -0.2))
    assert (at.severity, at.measured) == ("fault", 0.0)
    assert "at the running flow, stands at the rim of sump" in at.message


def test_water_that_stands_higher_than_crest_and_head_counts(monkeypatch):
    """Backed up from behind, or under a baffle without a crest: -207 mm at the high figure, 7 mm left."""
    for crest in (-0.4, None):
        (one,) = judged(monkeypatch, crest=crest, level=(-0.212, -0.211, -0.207))
        assert (one.severity, one.measured) == ("warning", pytest.approx(0.007))


def test_without_a_flow_it_says_nothing(monkeypatch):
    assert judged(monkeypatch, crest=-0.2, flow=None) == []


def test_each_compartment_but_the_last_is_judged_by_its_own_baffle(monkeypatch):
    """The first ends 50 mm under the rim, the second 15 mm with 6 mm of head over it: 9 mm left."""
    low, high, last = (
        SimpleNamespace(name=name, level=band(-0.4, -0.4, -0.4), head=band(0.004, 0.005, 0.006, "a weir"))
        for name in ("low", "high", "return")
    )
    made = made_circuit(compartments=(low, high, last))
    made.sump.crests = (-0.25, -0.215)
    made.sump.data.compartments = tuple(
        made_room((x, 0.1, -0.5), (x + 0.1, 0.3, -0.2)) for x in (0.0, 0.2, 0.4)
    )
    monkeypatch.setattr(module, "circuit", lambda model: made)
    (one,) = module.sump_rim.find(made_model(compartment_to_rim=0.010))
    assert (one.parts, one.measured) == (("sump.baffle_high",), pytest.approx(0.009))
    assert one.at == pytest.approx((0.25, 0.2, -0.2))
