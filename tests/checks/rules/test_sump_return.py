"""Sumps that fill and are not pumped back: the faulty scene, and what leads to a sump in other ways."""

from pathlib import Path

import pytest

from layout3d.checks.rules.sump_return import sump_return
from layout3d.model.build import build_model
from layout3d.outage.outages import outages
from layout3d.scene.reader import read_scene

FAULTY = Path(__file__).resolve().parents[3] / "scenes" / "faulty"


def model_of(*pieces, more="", name="sump-return"):
    text = (FAULTY / f"{name}.yaml").read_text(encoding="utf-8")
    for old, new in pieces:
        assert old in text
        text = text.replace(old, new)
    return build_model(read_scene("scene.yaml", text=text + more))


def found(*pieces, **given):
    return list(sump_return.find(model_of(*pieces, **given)))


def test_the_room_that_is_left_is_told():
    (finding,) = found()
    assert (finding.severity, finding.parts) == ("fault", ("catch", "standpipe", "down"))
    assert finding.limit == pytest.approx(0.25 * 0.30 * 0.25, rel=0.01)  # 100 mm of 350 are full
    assert "nothing leads it on" in finding.message


def test_a_drain_that_ends_over_the_sump_of_the_pump_is_none():
    assert found(name="sump-drain-back") == []


def test_a_drain_without_a_pump_that_fills_the_tank_brings_nothing():
    assert found(("join: supply.outside", "cap")) == []


def test_a_pump_that_leads_on_does_not_bring_it_back():
    on = """
  on: {kind: pump, model: small 1000, outlet: d20 pn 16,
    at: {in: catch.inlet, left: 100, front: 100, bottom: 0}}
  over: {kind: run, pipe: d20 pn 16, start: on.outlet, route: [{up: 500}, {left: 300}, {down: 200}, open]}
"""
    (finding,) = found(more=on)
    assert finding.parts == ("catch", "standpipe", "down")
    assert "on lead it on, by no figure here" in finding.message


def test_a_second_sump_with_a_return_pump_is_a_fault():
    second = """
  other: {kind: pump, model: small 1000, outlet: d20 pn 16,
    at: {in: catch.inlet, left: 100, front: 150, bottom: 0}}
  other_up: {kind: run, pipe: d20 pn 16, start: other.outlet,
    route: [{up: 400}, {front: 250}, {up: 950}, {back: 250}, {down: 60}, open]}
"""
    (finding,) = found(more=second)
    assert finding.parts == ("below", "catch")
    assert "no level is figured for below" in finding.message


def test_a_pump_before_the_last_compartment_is_a_fault():
    two = "[{name: first, length: 180, level: 200, baffle: {height: 300}}, {name: return, level: 200}]"
    there = (
        ("compartments: [{name: return, level: 200}]", f"compartments: {two}"),
        ("below.return", "below.first"),
    )
    _, drawn = found(*there)
    assert (drawn.severity, drawn.parts) == ("fault", ("pump", "below.first"))
    assert "as far as below.return" in drawn.message


def test_a_pump_that_draws_the_tank_down_is_a_fault():
    drawing = """
  drawing: {kind: pump, model: small 1000, outlet: d20 pn 16, at: {left: 520, front: 200, bottom: 0}}
  over: {kind: run, pipe: d20 pn 16, start: drawing.outlet,
    route: [{up: 500}, {front: 260}, {down: 900}, {back: 260}, open]}
"""
    drawn, filled = found(more=drawing)
    assert (drawn.severity, drawn.parts) == ("fault", ("drawing", "catch"))
    assert filled.parts == ("catch", "standpipe", "down")
    model = model_of(more=drawing)
    (still,) = (event for event in outages(model).stopped if event.subject == "drawing")
    assert "not figured" in still.notes[0]


@pytest.mark.parametrize(("height", "floods"), [(200, True), (800, False)])
def test_what_the_other_sump_takes_up_is_not_on_the_floor(height, floods):
    model = model_of(
        ("inside: [250, 300, 350]", f"inside: [250, 300, {height}]"), ("height: 800}", "height: 1000}")
    )
    (event,) = outages(model).beside
    assert "no pump returns what runs to catch" in event.notes[0]
    assert (event.floor.likely > 0.0) is floods
    room = 0.25 * 0.30 * (height - 100) / 1000
    before, after = event.before, event.after
    lost = before.tank[1] - after.tank[1] + before.pipes[1] - after.pipes[1] + event.moved.likely
    assert event.floor.likely == pytest.approx(max(0.0, lost - room), abs=3e-5)
