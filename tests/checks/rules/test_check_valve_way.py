"""Check valves in drains, against the water and along with it; what a drain behind one is counted for."""

from pathlib import Path

from layout3d.checks.rules.check_valve_way import check_valve_way
from layout3d.flow.overflow import gravity_drains
from layout3d.model.build import build_model
from layout3d.scene.reader import read_scene

FAULTY = Path(__file__).resolve().parents[3] / "scenes" / "faulty"
BARE = "{down: 300}, {front: 350}"


def model_of(name="check-valve-way", old="", new=""):
    text = (FAULTY / f"{name}.yaml").read_text(encoding="utf-8")
    assert old in text
    return build_model(read_scene("scene.yaml", text=text.replace(old, new) if old else text))


def test_against_the_water_it_is_a_fault_and_the_drain_carries_nothing():
    model = model_of()
    (finding,) = check_valve_way.find(model)
    assert (finding.severity, finding.parts) == ("fault", ("second_up.check_valve_1",))
    assert [drain.name for drain in gravity_drains(model)] == ["overflow"]
    open_model = model_of(old="check_valve, {up: 110}", new="{up: 110}")
    assert {drain.name for drain in gravity_drains(open_model)} == {"overflow", "second"}
    assert not list(check_valve_way.find(open_model))


def test_along_with_the_water_it_is_a_warning():
    model = model_of("sump-drain-back", BARE, "{down: 150}, check_valve, {down: 150}, {front: 350}")
    (finding,) = check_valve_way.find(model)
    assert (finding.severity, finding.parts) == ("warning", ("down.check_valve_1",))
    assert len(gravity_drains(model)) == 1


def test_one_in_a_return_is_none_of_its_business():
    assert not list(
        check_valve_way.find(model_of("sump-drain-back", "up: 400,", "up: 200, check_valve, up: 200,"))
    )
