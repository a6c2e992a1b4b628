"""A blocked drain against the room in the tank."""

from types import SimpleNamespace

import pytest
from made_outages import made_circuit, made_drain, made_event, made_model, made_outages

from layout3d.checks.rules import drain_blocked as module

RULE = "drain-blocked"


@pytest.mark.parametrize(("waterline", "severity"), [(375, None), (380, "warning"), (405, "fault")])
def test_either_side_of_the_room(faulty, waterline, severity):
    """Some 16.5 L come up; over 0.32 m² that is 51 mm of the 450 mm, and 25 mm are to be left (freeboard)."""
    found = faulty(RULE, waterline=waterline)
    if severity is None:
        assert found == ()
    else:
        (finding,) = found
        assert (finding.severity, finding.parts) == (severity, ("standpipe", "down"))
        assert finding.unit == ("m³" if severity == "fault" else "m")


def test_what_spills_is_told(faulty):
    """152 mm of chamber, 344 by 300 mm less the pump, and 0.6 L besides: 16.1 L into 36 mm of 0.32 m²."""
    (finding,) = faulty(RULE)
    assert finding.measured - finding.limit == pytest.approx(0.0046, abs=4e-4)
    assert "run over the rim of tank" in finding.message


SECOND = """
  spare: {kind: run, pipe: d40 pn 10, start: second.inside,
    route: [{front: 140}, {up: waterline - 110}, open]}
  spare_down: {kind: run, pipe: d40 pn 10, start: second.outside,
    route: [{back: 60}, {down: 300}, {front: 350}, {down: 250}, open],
    supports: [{at: [500], against: stand.top}]}
  nozzle:"""
HOLE = (
    "      supply:",
    "      second: {panel: back, left: 480, bottom: 100, bulkhead: d40}\n      supply:",
)
TEE = """
  spare: {kind: run, pipe: d40 pn 10, start: standpipe.t, route: [{left: 80}, {up: waterline - 110}, open]}
  nozzle:"""
TEED = (
    "[{front: 140}, {up: waterline - 119}",
    "[{front: 70}, {tee: left, name: t}, {front: 100}, {up: waterline - 119}",
)


def test_a_second_drain_takes_the_flow(faulty_text):
    """It holds the level however much the chamber has: a fill line that asks for less is no fault either."""
    pieces = HOLE, ("\n  nozzle:", SECOND)
    (finding,) = faulty_text(RULE, *pieces)
    assert finding.severity == "note"
    assert finding.message.startswith("with all drains blocked at once")
    assert faulty_text("fill-line", *pieces, scene=RULE) == ()
    # the first has a strainer: with one on the second too, the same leaves stop both
    (finding,) = faulty_text(RULE, HOLE, ("\n  nozzle:", SECOND.replace("110}, open", "110}, strainer")))
    assert finding.severity == "warning"
    assert finding.message.endswith(
        "nothing does, and each has a strainer or holes that the same leaves stop"
    )


def test_a_second_mouth_over_the_same_bulkhead_takes_none(faulty_text):
    """One stop in the pipe that both share is as with one drain: the same water, less what the tee holds."""
    (finding,), (alone,) = faulty_text(RULE, TEED, ("\n  nozzle:", TEE)), faulty_text(RULE)
    assert finding.severity == "fault"
    assert finding.message.startswith("with the pipe of standpipe and spare blocked the pumps bring up")
    assert finding.measured == pytest.approx(alone.measured, rel=0.02)


def judged(monkeypatch, *events, drains=1, running=(0.10, 0.18), overflows=False):
    names = ("a", "b")[:drains]
    circuit = made_circuit(
        drains=tuple(made_drain(one, parts=(f"{one}_in", f"{one}_out")) for one in names),
        overflows=overflows,
    )
    found = made_outages(circuit, blocked=events, mark=SimpleNamespace(running=running))
    monkeypatch.setattr(module, "outages", lambda model: found)
    return list(module.drain_blocked.find(made_model(freeboard=0.025)))


def event(subject, spilled=0.0, high=0.45):
    return made_event(
        subject, moves=(0.014, 0.016, 0.016), floor=(0.0, 0.0, spilled), tank=(high - 0.02, high - 0.01, high)
    )


@pytest.mark.parametrize(("high", "severity"), [(0.475, None), (0.4751, "warning"), (0.5, "warning")])
def test_what_is_left_under_the_rim_at_the_high_figure(monkeypatch, high, severity):
    """The rim at 500 mm, 25 to be left; what reaches it without spilling is no fault yet."""
    found = judged(monkeypatch, event("a", high=high))
    assert [one.severity for one in found] == ([severity] if severity else [])
    for one in found:
        assert (one.parts, one.limit) == (("a_in", "a_out"), 0.025)
        assert one.measured == pytest.approx(0.5 - high)
        assert one.at == pytest.approx((0.7, 0.35, high))


def test_what_spills_at_the_high_figure_is_told_in_full(monkeypatch):
    (one,) = judged(monkeypatch, event("a", 0.004))
    assert (one.severity, one.parts, one.unit) == ("fault", ("a_in", "a_out"), "m³")
    assert (one.measured, one.limit) == pytest.approx((0.016, 0.012))
    assert one.at == pytest.approx((0.7, 0.35, 0.5))
    assert one.message == (
        "with the drain 'a' blocked the pumps bring up 16 L before they run dry, and the tank has room for "
        "12 L: 4 L run over the rim of tank"
    )
    assert one.remedy == (
        "add a second drain, with pipe of its own, that carries the whole flow alone, or fill the return "
        "chamber to 100 mm to 180 mm over the sump's floor with the pumps running"
    )
    (one,) = judged(monkeypatch, event("a", 0.004), running=None)
    assert one.remedy.endswith("alone, or leave 4 L less above the pump's inlet")


def test_of_two_drains_the_worse_one_blocked_alone_is_told(monkeypatch):
    """What spills most comes first, then what rises highest; all of them blocked at once is only a note."""
    every = event("all drains", 0.02)
    (one,) = judged(monkeypatch, event("a", 0.001), event("b", 0.004, 0.42), every, drains=2)
    assert (one.severity, one.limit) == ("fault", pytest.approx(0.012))
    assert one.message.startswith("with b blocked the pumps bring up 16 L")
    assert one.parts == ("a_in", "a_out", "b_in", "b_out")
    (one,) = judged(monkeypatch, event("a", high=0.49), event("b", high=0.48), every, drains=2)
    assert one.message.startswith(
        "with a blocked the pumps bring up 16 L, and the tank rises to 10 mm below "
    )
    (one,) = judged(monkeypatch, event("a"), event("b"), every, drains=2)
    assert (one.severity, one.measured, one.limit, one.unit) == ("note", 0.02, 0.0, "m³")
    assert "with all drains blocked at once 20 L end up on the floor; with any one" in one.message
    assert one.at == pytest.approx((0.7, 0.35, 0.5))
    assert judged(monkeypatch, event("a"), event("b"), event("all drains"), drains=2) == []


def test_no_drain_and_a_tank_that_runs_over_anyway_are_told_elsewhere(monkeypatch):
    assert judged(monkeypatch, event("a", 0.004), drains=0) == []
    assert judged(monkeypatch, event("a", 0.004), overflows=True) == []
