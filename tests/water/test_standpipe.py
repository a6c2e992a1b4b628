"""The bores of standpipes, in an overflow box or in the tank, hold no standing water: it runs off."""

import math
from pathlib import Path
from types import SimpleNamespace

import pytest

from layout3d.model.build import build_model
from layout3d.scene.reader import read_scene
from layout3d.water.cavity import tank_cavity
from layout3d.water.figures import figures
from layout3d.water.standpipe import _bores, drained_bores
from layout3d.water.sump import overflow_boxes

SCENES = Path(__file__).parents[2] / "scenes"
WEIR = SCENES / "weir.yaml"
DRAINS = SCENES / "drains.yaml"
BORE = math.pi / 4 * 0.0362**2  # 40 mm less twice 1.9, DIN 8062


def built(path, *pieces):
    text = path.read_text(encoding="utf-8")
    for old, new in pieces:
        assert old in text
        text = text.replace(old, new)
    return build_model(read_scene(path, text=text))


def box(*pieces):
    return overflow_boxes(built(WEIR, *pieces))[0]


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


# by hand: each runs 100 mm level and then up from 270 to the waterline at 330 mm, d40 of 36.2 mm bore
SKIMMED = 2 * BORE * (0.100 + 0.060)


def test_what_is_in_the_drains_of_the_tank_itself_runs_off():
    """Bends are wider than their pipe: a few mL more than the hand's figure, and no sealed pocket."""
    model = built(DRAINS)
    found = figures(model)
    assert found["overflow_box_air"] == pytest.approx(SKIMMED, rel=0.05)
    assert found["overflow_box_air"] > SKIMMED
    assert found["sealed_pockets"] == 0.0
    assert tank_cavity(model).pockets == ()


def test_a_drain_deeper_than_its_bore_stands_full():
    """270 mm and 75 mm up: the spare's top lies at 345 mm, the other's 2 mm lower; the bore is 36.2 mm."""
    for level, held in ((379.0, 2), (380.0, 1), (382.0, 0)):
        raised = f"waterline: {level} mm"
        bores = drained_bores(built(DRAINS, ("waterline: water_depth", raised)))
        assert len({body.split(".")[0] for body in bores.bodies}) == held


def piece(*path, kind="pipe"):
    return SimpleNamespace(kind=kind, body=kind, path=path, bore=0.030, outside=0.040)


def length_of(*pieces):
    """Length of the bores, by their volume over the area between bore and outside: a radius of 17.5 mm."""
    found = list(_bores(pieces, (0.0, 0.0, 0.0)))
    return sum(solid.volume for _, solid in found) / (math.pi * 0.0175**2)


LOW = ((0.0, 0.0, 0.05), (0.0, 0.0, 0.20))
BEND = ((0.0, 0.0, 0.20), (0.0, 0.0, 0.25), (0.05, 0.0, 0.25))
LEVEL = ((0.05, 0.0, 0.25), (0.15, 0.0, 0.25))


def test_pieces_are_followed_from_the_hole_whichever_way_they_were_laid():
    """From the hole 50 mm up to the first piece, 150 on, round a bend of 50 and 50, and 100 mm level."""
    for low in (LOW, LOW[::-1]):
        for bend in (BEND, BEND[::-1]):
            for level in (LEVEL, LEVEL[::-1]):
                laid = length_of(piece(*low), piece(*bend, kind="elbow_90"), piece(*level))
                assert laid == pytest.approx(0.05 + 0.15 + 0.10 + 0.10, rel=1e-6)


def test_they_end_at_a_strainer_and_where_the_pipe_leads_down():
    down = piece((0.05, 0.0, 0.25), (0.05, 0.0, 0.10))
    assert length_of(piece(*LOW), piece(*BEND), down, piece(*LEVEL)) == pytest.approx(0.30)
    assert length_of(piece(*LOW), piece(*BEND, kind="strainer")) == pytest.approx(0.20)
    # a slope of 3 in 5 leads down, one of 2 in 5 not yet
    for fall, on in ((0.06, 0.0), (0.04, 0.10)):
        slope = piece((0.0, 0.0, 0.20), (math.sqrt(0.1**2 - fall**2), 0.0, 0.20 - fall))
        assert length_of(piece(*LOW), slope) == pytest.approx(0.20 + on)
