"""Beds that share out one floor: just either side of the limit, in scenes and by hand."""

from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest
from made_outages import made_model
from plain_scenes import build_plain

from layout3d.checks.examine import examine
from layout3d.checks.rules import bed_on_bed as module

TANK = {"kind": "tank", "inside": [600, 300, 300], "glass": 8, "silicone": 0}


def found(parts: dict[str, Any]) -> list[Any]:
    scene = {"format": 1, "units": "mm", "waterline": 150, "parts": {"tank": TANK, **parts}}
    return list(examine(build_plain(scene), only=("bed-on-bed",)))


@pytest.mark.parametrize(("upper", "faults"), [(46, 0), (44, 1)])
def test_a_layer_over_a_layer_just_either_side_of_its_limit(upper, faults):
    lower = {"kind": "substrate", "depth": 40}
    assert len(found({"sand": lower, "soil": {"kind": "substrate", "depth": upper}})) == faults


def test_ten_beds_on_one_floor_are_nine_too_many():
    beds = {
        f"bed_{seed}": {"kind": "substrate", "depth": 40, "roughness": 0.3, "seed": seed, "pitch": 100}
        for seed in range(10)
    }
    told = found(beds)
    assert sorted(finding.parts[0] for finding in told) == list(beds)[1:]


def test_beds_side_by_side_are_let_be():
    beds = {
        "sand": {"kind": "substrate", "depth": 40, "region": [0, 0, 300, 300]},
        "soil": {"kind": "substrate", "depth": 40, "region": [300, 0, 600, 300]},
    }
    assert not found(beds)


def bed(name, height, region=(0.0, 0.0, 0.6, 0.3)):
    """A bed over a region, so high at each place, [m]; 0 beside it."""
    left, front, right, back = region

    def surface(x, y):
        x, y = np.asarray(x), np.asarray(y)
        inside = (x >= left) & (x <= right) & (y >= front) & (y <= back)
        return np.where(inside, height(x) if callable(height) else height, 0.0)

    grid = (np.linspace(left, right, 7), np.linspace(front, back, 4), None)
    return SimpleNamespace(name=name, surface=lambda site: surface, grid=lambda site: grid)


def judged(monkeypatch, *laid, room=lambda points: np.ones(len(points))):
    monkeypatch.setattr(module, "TankOnly", lambda model: None)
    model = made_model(bed_layer=0.005)
    model.beds = laid
    model.tank.room = room
    return list(module.beds_on_beds.find(model))


@pytest.mark.parametrize(
    ("height", "layer"), [(0.045, None), (0.0449, 0.0049), (0.040, 0.0), (0.030, -0.010)]
)
def test_the_layer_on_the_highest_of_those_before_it_counts(monkeypatch, height, layer):
    """Beds of 40 and 20 mm before it; 5 mm over them are wanted. The second is judged on the first."""
    told = judged(monkeypatch, bed("low", 0.02), bed("sand", 0.04), bed("soil", height))
    assert [one.measured for one in told] == ([pytest.approx(layer)] if layer is not None else [])
    for one in told:
        assert (one.severity, one.parts, one.limit) == ("fault", ("soil", "low", "sand"), 0.005)
        assert one.at == pytest.approx((0.3, 0.15, height))
        assert one.message.startswith("soil lies where low and sand already lies, and ")


def test_the_middle_of_its_heights_over_others_counts_where_it_lies_on_them(monkeypatch):
    """On the left half it lies on bare floor; on the right it is 10 mm over for 60 % of its way."""
    under = bed("sand", 0.02, (0.3, 0.0, 0.6, 0.3))
    for reach, count in ((0.48, 0), (0.42, 1)):
        over = bed("soil", lambda x, reach=reach: np.where((x < 0.3) | (x > reach), 0.0201, 0.03))
        assert len(judged(monkeypatch, under, over)) == count


def test_a_bed_on_the_bare_floor_and_one_beside_another_are_let_be(monkeypatch):
    assert judged(monkeypatch, bed("sand", 0.001)) == []
    beside = bed("sand", 0.04, (0.0, 0.0, 0.3, 0.3)), bed("soil", 0.04, (0.3, 0.0, 0.6, 0.3))
    assert judged(monkeypatch, *beside) == []


def test_what_lies_past_the_glass_counts_for_nothing(monkeypatch):
    """A tank that ends at 200 mm; on what is within it the upper bed is 10 mm thick."""
    over = bed("soil", lambda x: np.where(x < 0.2, 0.03, 0.0201))
    assert len(judged(monkeypatch, bed("sand", 0.02), over)) == 1
    assert judged(monkeypatch, bed("sand", 0.02), over, room=lambda points: 0.2 - points[:, 0]) == []


def test_places_are_spread_evenly_between_the_ends_and_on_none():
    places = module._middles(np.array([0.2, 0.25, 0.6]))
    assert len(places) == 40
    assert places == pytest.approx(0.2 + 0.4 * (np.arange(40) + 0.5) / 40)
