"""Rubber couplings on a pump's pipework: a warning where they hold, a fault where the pump presses more."""

from pathlib import Path
from types import SimpleNamespace

import pytest
from made_bodies import made_body, with_bodies
from made_outages import made_model

from layout3d.checks.rules import drain_only as module
from layout3d.checks.rules.drain_only import drain_only
from layout3d.model.build import build_model
from layout3d.scene.reader import read_scene

FAULTY = Path(__file__).parents[3] / "scenes" / "faulty" / "drain-only.yaml"


def found(*, limit="", **values):
    text = FAULTY.read_text(encoding="utf-8") + (f"limits: {{drain_only_head: {limit}}}\n" if limit else "")
    return list(drain_only.find(build_model(read_scene(FAULTY, text=text, overrides=values))))


def test_the_head_is_what_the_pump_presses_with_its_end_shut():
    """Shut-off head 3.6 m over 300 mm of water, less the coupling's height; head goes with speed²."""
    (full,) = found()
    (slow,) = found(pump_speed="50 %")
    assert full.severity == "fault"
    assert slow.severity == "warning"
    assert full.measured - slow.measured == pytest.approx(3.6 * (1 - 0.5**2), abs=1e-9)
    height = full.at[2]
    assert full.measured == pytest.approx(3.6 + 0.3 - height, abs=0.01)


@pytest.mark.parametrize(("more", "severity"), [(0.001, "warning"), (-0.001, "fault")])
def test_just_either_side_of_what_it_holds(more, severity):
    (once,) = found()
    (finding,) = found(limit=f"{1000 * (once.measured + more)} mm")
    assert finding.severity == severity


def test_on_a_drain_it_is_at_home():
    scene = FAULTY.parents[1] / "drains.yaml"
    assert list(drain_only.find(build_model(read_scene(scene)))) == []


def pressed(monkeypatch, *pumps, water=0.1, speed=1.0, kinds=("pipe", "rubber"), most=3.0):
    """Run the rule over a rubber coupling from 200 to 300 mm that pumps of 2 m and more may press on."""
    fittings = {"rubber": SimpleNamespace(drain_only=True), "elbow": SimpleNamespace(drain_only=False)}
    monkeypatch.setattr(module, "fittings", lambda: fittings)
    found = None if water is None else ("sump.return", water)
    monkeypatch.setattr(module, "water_at_point", lambda model, point: found)
    edges = [
        SimpleNamespace(kind=kind, body=f"run.{kind}", points=((0.0, 0.0, 0.3), (0.0, 0.0, 0.2)))
        for kind in kinds
    ]
    ports = [SimpleNamespace(name=name, inlet=(0.0, 0.0, -0.5), air=name.startswith("air")) for name in pumps]
    part = SimpleNamespace(pumps=ports, edges=edges)
    monkeypatch.setattr(module, "pipework", lambda model: SimpleNamespace(parts=(part,)))
    bodies = [made_body(f"run.{kind}", (0, 0, 200), (100, 100, 300)) for kind in kinds]
    model = with_bodies(made_model(drain_only_head=most), *bodies)
    model.pumps = [
        SimpleNamespace(part=SimpleNamespace(name=name, model=name, speed=speed)) for name in pumps
    ]
    heads = {"small": 2.0, "large": 2.5}
    model.scene.catalog.pump = lambda name: SimpleNamespace(shut_off_head=heads[name])
    return list(drain_only.find(model))


def test_the_pump_that_presses_most_is_told(monkeypatch):
    """Water at 100 mm and 2.5 m of head, less the coupling's lowest point at 200: 2.4 m."""
    (one,) = pressed(monkeypatch, "small", "large")
    assert (one.severity, one.parts, one.limit) == ("warning", ("run.rubber", "large"), 3.0)
    assert one.measured == pytest.approx(2.4)
    assert one.at == pytest.approx((0.05, 0.05, 0.25))
    assert "large can press 2,400 mm of water on it (held to 3,000 mm, limit drain_only_head)" in one.message
    (over,) = pressed(monkeypatch, "small", "large", most=2.3)
    assert over.severity == "fault"
    assert "(100 mm over 2,300 mm, limit drain_only_head)" in over.message


def test_head_goes_with_the_square_of_the_speed_from_the_water_or_the_inlet(monkeypatch):
    """Half speed gives a quarter of 2 m; in no water it counts from the inlet at -500 mm."""
    (slow,) = pressed(monkeypatch, "small", speed=0.5)
    assert slow.measured == pytest.approx(0.1 + 0.5 - 0.2)
    (dry,) = pressed(monkeypatch, "small", water=None)
    assert dry.measured == pytest.approx(-0.5 + 2.0 - 0.2)


def test_without_a_water_pump_or_such_a_fitting_nothing_is_told(monkeypatch):
    assert pressed(monkeypatch) == []
    assert pressed(monkeypatch, "air") == []
    assert pressed(monkeypatch, "small", kinds=("pipe", "elbow")) == []
    assert len(pressed(monkeypatch, "air", "small")) == 1
    assert len(pressed(monkeypatch, "small", kinds=("rubber", "pipe", "elbow"))) == 1
