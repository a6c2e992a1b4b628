"""What fills a tank: just either side of each limit."""

from typing import Any

import pytest
import yaml

from layout3d.checks.examine import examine
from layout3d.model.build import build_model
from layout3d.scene.reader import read_scene

TANK = {"kind": "tank", "inside": [600, 300, 300], "glass": 8, "silicone": 0}


def found(rule: str, parts: dict[str, Any], waterline: float = 150) -> list[Any]:
    scene = {"format": 1, "units": "mm", "waterline": waterline, "parts": {"tank": TANK, **parts}}
    model = build_model(read_scene("room.yaml", text=yaml.safe_dump(scene, sort_keys=False)))
    return [finding for finding in examine(model) if finding.rule == rule]


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
