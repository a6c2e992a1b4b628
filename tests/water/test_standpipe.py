"""The bores of standpipes in an overflow box hold no standing water: it runs off."""

import math
from pathlib import Path

import pytest

from layout3d.model.build import build_model
from layout3d.scene.reader import read_scene
from layout3d.water.sump import overflow_boxes

WEIR = Path(__file__).parents[2] / "scenes" / "weir.yaml"
BORE = math.pi / 4 * 0.0362**2  # 40 mm less twice 1.9, DIN 8062


def box(*pieces):
    text = WEIR.read_text(encoding="utf-8")
    for old, new in pieces:
        assert old in text
        text = text.replace(old, new)
    model = build_model(read_scene(WEIR, text=text))
    return overflow_boxes(model)[0]


def missing(found):
    """Space below the level that is neither water nor a body, [m³]."""
    taken = sum(share.below([found.level])[0] for share in found.cavity.shares)
    return found.gross - float(taken) - found.net


def test_the_bores_of_two_standpipes_are_no_water():
    """By hand: the main one's rim stands 8 mm under the 330 mm of water, the other's over it."""
    assert missing(box()) == pytest.approx(BORE * (0.322 + 0.330), rel=0.01)


def test_a_pipe_that_a_pump_fills_is_water():
    """The emergency's hole fed by a pump of its own instead: its bore stands full."""
    pump = """
  spare: {kind: pump, model: medium 2000, outlet: d40 pn 10, at: {left: 712, back: 75, bottom: -480}}
"""
    down = "    start: emergency.outside\n    route: [{down: 470}, open]\n"
    way = "[{until: up, reach: emergency.outside}, join: emergency.outside]"
    up = f"    start: spare.outlet\n    route: {way}\n"
    found = box((down, up), ("  safety_down:\n", f"{pump}  safety_down:\n"))
    assert missing(found) == pytest.approx(BORE * 0.322, rel=0.01)


def test_pipe_that_leads_down_again_holds_the_water_around_it():
    """A standpipe that turns over and hangs back into the water: only its upright is empty."""
    over = "route: [{until: up, reach: [0, 0, crest - 20]}, {front: 96}, {down: 120}, open]"
    found = box(("depth: 160", "depth: 220"), ("route: [{until: up, reach: [0, 0, crest - 20]}, open]", over))
    assert missing(found) == pytest.approx(BORE * (0.322 + 0.330), rel=0.01)
