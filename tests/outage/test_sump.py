"""Levels and volumes in a sump: against sums of boxes."""

import math
from types import SimpleNamespace

import numpy as np
import pytest

from layout3d.band import Band
from layout3d.outage.sump import baffle_head, running_levels, sump_water_of

FLOOR = -0.694
FLOW = Band(low=1e-4, likely=2e-4, high=3e-4)


def water_of(model):
    return sump_water_of(model, model.built["sump"])


def test_over_a_baffle_by_hand(sump_scene):
    """Between a broad and a sharp crest, handbooks 1.5 to 1.84: h = (Q / (C b))^(2/3), b 0.4 m."""
    model = sump_scene()
    sump = water_of(model)
    head = baffle_head(sump.data, 0, FLOW)
    assert head.likely == pytest.approx((2e-4 / (1.67 * 0.4)) ** (2 / 3), rel=0.01)
    inlet, chamber = running_levels(model, sump, FLOW)
    assert inlet.level.likely == pytest.approx(FLOOR + 0.25 + head.likely)
    assert inlet.level.low < inlet.level.likely < inlet.level.high
    assert chamber.level.likely == pytest.approx(FLOOR + 0.18)
    assert chamber.head.likely == 0.0


def test_under_a_baffle_by_hand(sump_scene):
    """Orifice, coefficient 0.60: the loss is (Q / (0.60 A))^2 / 2g; both sides nearly level."""
    model = sump_scene(gap=30, baffle=350, inlet=", level: 180 mm")
    sump = water_of(model)
    inlet, chamber = running_levels(model, sump, FLOW)
    loss = (2e-4 / (0.60 * 0.4 * 0.03)) ** 2 / (2 * 9.80665)
    assert inlet.level.likely - chamber.level.likely == pytest.approx(loss)
    assert sump.crests == (None,)


def test_a_baffle_is_as_wide_as_the_sump_is_deep():
    """A gap of 20 mm in a sump 300 mm deep: 0.006 m²; by hand (Q / (0.60 A))² / 2g."""
    bounds = np.array([[0.0, 0.0, 0.0], [0.8, 0.3, 0.45]])
    data = SimpleNamespace(
        interior=SimpleNamespace(shape=SimpleNamespace(bounds=bounds)),
        compartments=(SimpleNamespace(baffle_gap=0.02),),
    )
    head = (2e-4 / (0.60 * 0.3 * 0.02)) ** 2 / (2 * 9.80665)
    assert baffle_head(data, 0, FLOW).likely == pytest.approx(head)


def test_a_drowned_baffle_does_not_rule(sump_scene):
    model = sump_scene(level=300, baffle=250, inlet=", level: 300 mm")
    inlet, chamber = running_levels(model, water_of(model), FLOW)
    assert inlet.level.likely == chamber.level.likely


def test_media_are_told(sump_scene):
    media = ", media: {bottom: 50 mm, top: 150 mm, material: lava rock}"
    model = sump_scene(inlet=media)
    inlet, _ = running_levels(model, water_of(model), FLOW)
    assert inlet.media == pytest.approx(0.298 * 0.398 * 0.1)  # 1 mm clear of the walls


def test_all_water_at_rest_is_a_sum_of_boxes(sump_scene):
    """Inlet 300 mm, baffle 6 mm, chamber 494 mm, all 400 mm deep; pump and pipe displace 1 L."""
    sump = water_of(sump_scene())
    for height in (0.18, 0.25, 0.30, 0.40):
        before = max(height, 0.25)
        over = max(0.0, height - 0.25)
        boxes = 0.4 * (0.300 * before + 0.494 * height + 0.006 * over)
        assert boxes - sump.whole.volume(FLOOR + height) == pytest.approx(1.0e-3, abs=2e-4)


def test_at_rest_all_water_in_compartments_is_the_whole(sump_scene):
    sump = water_of(sump_scene())
    for height in (0.05, 0.18, 0.25, 0.333, 0.4):
        level = FLOOR + height
        assert sump.held(sump.resting(level)) == pytest.approx(sump.whole.volume(level), rel=1e-9)


def test_water_over_a_drowned_baffle_counts(sump_scene):
    """Two compartments of 300 and 150 mm before the chamber, a baffle of 6 mm and 200 mm between them.

    From 200 to 250 mm both gain 50 mm, and so does the water over the baffle: 0.4 m x 456 mm x 50 mm.
    """
    middle = "}\n    - {name: middle, length: 150 mm, baffle: {height: 250 mm, thickness: 6 mm}"
    sump = water_of(sump_scene(baffle=200, inlet=middle))
    low, high = (sump.held([FLOOR + height] * 2 + [FLOOR + 0.18]) for height in (0.20, 0.25))
    assert high - low == pytest.approx(0.4 * 0.456 * 0.050, rel=0.003)  # a pipe's end takes 0.1 %
    assert sump.resting(FLOOR + 0.18) == pytest.approx((FLOOR + 0.25, FLOOR + 0.25, FLOOR + 0.18))


def test_under_baffles_all_compartments_are_level(sump_scene):
    sump = water_of(sump_scene(gap=30, baffle=350, inlet=", level: 180 mm"))
    assert sump.resting(-0.6) == (-0.6, -0.6)
    # the gap below the baffle holds water too
    boxes = 0.4 * (0.8 * 0.03 + 0.794 * (0.20 - 0.03))
    assert boxes - sump.whole.volume(FLOOR + 0.20) == pytest.approx(1.0e-3, abs=2e-4)


def test_the_chamber_ends_where_it_flows_back(sump_scene):
    assert water_of(sump_scene()).chamber_top == pytest.approx(FLOOR + 0.25)
    assert water_of(sump_scene(gap=30, baffle=350, inlet=", level: 180 mm")).chamber_top == pytest.approx(
        FLOOR + 0.4
    )


def test_what_is_open_to_the_chamber_below_falls_with_it(sump_scene):
    """300 and 494 mm by 400 mm side by side; behind a baffle that water runs over, the chamber alone."""
    joined, alone = water_of(sump_scene(gap=30, baffle=350, inlet=", level: 180 mm")), water_of(sump_scene())
    assert joined.chamber_names == ("sump.inlet", "sump.chamber")
    assert alone.chamber_names == ("sump.chamber",)
    for sump, length in ((joined, 0.794), (alone, 0.494)):
        rise = sump.chamber.volume(FLOOR + 0.20) - sump.chamber.volume(FLOOR + 0.15)
        assert rise == pytest.approx(0.4 * length * 0.05, rel=0.01)  # the pump's pipe takes a little


def test_no_flow_no_head(sump_scene):
    model = sump_scene()
    inlet, _ = running_levels(model, water_of(model), Band.exact(0.0))
    assert inlet.level.likely == pytest.approx(FLOOR + 0.25)
    assert math.isclose(inlet.head.high, 0.0)
