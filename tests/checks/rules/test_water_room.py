"""What fills a tank: just either side of each limit."""

from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest
from made_outages import made_model
from plain_scenes import build_plain

from layout3d.checks.examine import examine
from layout3d.checks.rules import water_room as module

TANK = {"kind": "tank", "inside": [600, 300, 300], "glass": 8, "silicone": 0}


def found(rule: str, parts: dict[str, Any], waterline: float = 150) -> list[Any]:
    scene = {"format": 1, "units": "mm", "waterline": waterline, "parts": {"tank": TANK, **parts}}
    return list(examine(build_plain(scene), only=(rule,)))


def slab(thickness: float, **more: Any) -> dict[str, Any]:
    flat = {"form": "flat", "depth": 0}
    return {
        "wall": {"kind": "background", "panels": ["back"], "thickness": thickness, "relief": flat, **more}
    }


@pytest.mark.parametrize(("thickness", "gap", "over"), [(300, 0, 0.0), (280, 30, 0.010)])
def test_a_slab_with_its_gap_through_the_tank_is_a_fault_with_its_measure(thickness, gap, over):
    (finding,) = found("water-room", slab(thickness, gap=gap))
    assert finding.severity == "fault"
    assert finding.measured - finding.limit == pytest.approx(over)


def test_a_relief_through_the_tank_is_a_fault():
    deep = {"wall": {"kind": "background", "panels": ["back"], "thickness": 200, "relief": {"depth": 200}}}
    assert found("water-room", deep)


@pytest.mark.parametrize(("thickness", "faults"), [(284, 0), (286, 1)])
def test_the_water_left_just_either_side_of_its_limit(thickness, faults):
    """A flat slab leaves the rest of 300 mm: a twentieth is 15 mm."""
    assert len(found("water-room", slab(thickness))) == faults


def test_a_dry_tank_wants_no_room_for_water():
    assert not found("water-room", slab(290), waterline=0)


def test_sand_up_to_the_waterline_leaves_its_pores():
    assert not found("water-room", {"sand": {"kind": "substrate", "depth": 160}})


def judged(monkeypatch, *, net=0.005, gross=0.1, fronts=(), boxes=0.0):
    """Run the rule over a tank of 800 by 400 mm with slabs on its back pane, at y 400, facing the front."""
    panel = SimpleNamespace(
        name="back",
        body="tank.back",
        length=0.8,
        height=0.5,
        local=lambda points: np.column_stack([points[:, 0], points[:, 2], 0.4 - points[:, 1]]),
        at=lambda u, v: (u, 0.4, v),
    )
    slabs = tuple(
        SimpleNamespace(front=np.array([[0.0, front], [np.nan, 0.1]]), panel=panel) for front in fronts
    )
    monkeypatch.setattr(module, "volume_below", lambda solid, levels: np.array([gross]))
    monkeypatch.setattr(module, "tank_cavity", lambda model: SimpleNamespace(net=lambda z: np.array([net])))
    monkeypatch.setattr(module, "overflow_box_water", lambda model: boxes)
    taken = {"sand": 0.01, "wall": 0.03, "stone": 0.02}
    monkeypatch.setattr(module, "displaced", lambda model: SimpleNamespace(parts=taken))
    model = made_model(water_left=0.05)
    model.tank.plan = ((0.0, 0.0), (0.8, 0.0), (0.8, 0.4), (0.0, 0.4))
    model.tank.interior = None
    model.backgrounds = (
        SimpleNamespace(part=SimpleNamespace(name="wall"), data=SimpleNamespace(slabs=slabs)),
    )
    return list(module.water_room.find(model))


@pytest.mark.parametrize(
    ("net", "boxes", "gross", "share"),
    [(0.005, 0.0, 0.1, None), (0.0049, 0.0, 0.1, 0.049), (0.004, 0.001, 0.1, None), (0.0, 0.0, 0.0, None)],
)
def test_the_share_of_the_space_that_is_water(monkeypatch, net, boxes, gross, share):
    """A twentieth of 100 L; what stands in overflow boxes counts, and an empty tank wants none."""
    found = judged(monkeypatch, net=net, boxes=boxes, gross=gross)
    assert [one.measured for one in found] == ([pytest.approx(share)] if share else [])
    for one in found:
        assert (one.severity, one.parts, one.limit, one.unit) == ("fault", ("wall",), 0.05, "1")
        assert one.at == pytest.approx((0.4, 0.2, 0.3))
        assert one.message == (
            "the parts leave 4.9 L of water below the waterline, 5% of the space: less than 5% (limit "
            "water_left); wall takes most"
        )


def test_a_slab_through_the_tank_is_told_in_the_water_s_stead(monkeypatch):
    """400 mm deep: to just there it reaches the other pane."""
    assert judged(monkeypatch, fronts=(0.3999,)) == []
    (one,) = judged(monkeypatch, fronts=(0.2, 0.41), net=0.0)
    assert (one.parts, one.measured, one.limit) == (("wall", "tank.back"), 0.41, pytest.approx(0.4))
    assert one.at == (0.4, 0.4, 0.25)
    assert "stands 410 mm out of the glass where the tank is 400 mm deep: 10 mm too far" in one.message
    assert len(judged(monkeypatch, fronts=(0.4,))) == 1
