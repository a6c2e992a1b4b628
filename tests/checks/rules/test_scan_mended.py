"""Scans whose volume rests on their mending."""

import math
from types import SimpleNamespace

import pytest
from made_bodies import made_body, with_bodies
from made_outages import made_model

from layout3d.checks.rules import scan_mended as module
from layout3d.checks.rules.scan_mended import _told
from layout3d.model.build import build_model
from layout3d.scene.reader import read_scene

RULE = "scan-mended"
TOP = (
    "format: 1\nunits: mm\nwaterline: 100\nparts:\n  tank: {kind: tank, inside: [600, 400, 400], glass: 10}\n"
)


def cube_with_a_hole(side, hole):
    """A cube as OBJ, [mm]; its top has a square hole of this side."""
    s, a, b = side, (side - hole) / 2, (side + hole) / 2
    points = [(x, y, z) for z in (0, s) for x, y in ((0, 0), (s, 0), (s, s), (0, s))]
    points += [(a, a, s), (b, a, s), (b, b, s), (a, b, s)]
    faces = [(4, 3, 2, 1), *((k, k % 4 + 1, k % 4 + 5, k + 4) for k in range(1, 5))]
    faces += [(k + 4, k % 4 + 5, k % 4 + 9, k + 8) for k in range(1, 5)]
    rows = ["v " + " ".join(map(str, p)) for p in points] + ["f " + " ".join(map(str, f)) for f in faces]
    return "\n".join(rows)


def found(tmp_path, text, more=""):
    from layout3d.checks.examine import examine

    (tmp_path / "m.obj").write_text(text)
    stone = f"  stone: {{kind: rock, mesh: m.obj, file_unit: mm, at: [300, 200, 0]{more}}}\n"
    model = build_model(read_scene(tmp_path / "scene.yaml", text=TOP + stone))
    return examine(model, only=(RULE,))


@pytest.mark.parametrize(("hole", "told"), [(23.0, False), (24.0, True), (60.0, True)])
def test_a_closed_hole_is_told_from_a_half_ball_of_half_a_percent_on(tmp_path, hole, told):
    """A half ball on a square of side h: 2/3 pi r³ with pi r² = h²; 0.5 % of a 100 mm cube at h = 23.7 mm."""
    findings = found(tmp_path, cube_with_a_hole(100.0, hole))
    assert bool(findings) == told
    if told:
        (finding,) = findings
        assert finding.severity == "warning"
        radius = hole / math.sqrt(math.pi)
        assert finding.measured == pytest.approx(2 / 3 * math.pi * radius**3 / 100.0**3, rel=1e-6)
        assert f"{100 * hole**2 / 60_000:.2g} % of the surface" in finding.message


@pytest.mark.parametrize(("side", "told"), [(16.0, False), (18.0, True)])
def test_pieces_that_do_not_touch_are_told_from_half_a_percent_of_the_volume_on(tmp_path, side, told):
    """A cube of 100 mm, and another beside it: 0.5 % at a side of 17.1 mm."""
    far = [line.split() for line in cube_with_a_hole(side, side / 2).splitlines()]
    rows = [f"v {float(row[1]) + 200} {row[2]} {row[3]}" for row in far if row[0] == "v"]
    rows += ["f " + " ".join(str(int(k) + 12) for k in row[1:]) for row in far if row[0] == "f"]
    findings = found(tmp_path, cube_with_a_hole(100.0, 1.0) + "\n" + "\n".join(rows))
    assert ["stands apart" in finding.message for finding in findings] == [True] * told


def test_shares_past_the_whole_are_plain_figures():
    """Half a ball scanned, closed flat: were it round there, its volume would be once and a half off."""
    half = SimpleNamespace(outlined=False, hull=False, closed=0.996, bulge=1.43, lapped=1.0, loose=0.0)
    (told,) = _told("stone", half)
    assert "100 % of the surface" in told[1]
    assert "140 % of its volume" in told[1]


def test_a_hull_is_told_with_its_factor(faulty):
    """The fork's profile is 100 x 10 + 2 x 10 x 110 mm², that of its hull 100 x 120; a bit for the fin."""
    (finding,) = faulty(RULE)
    assert finding.severity == "fault"
    assert finding.measured == pytest.approx(12_000 / 3_200 - 1, rel=0.1)
    assert "convex hull" in finding.message


def test_a_hull_little_larger_than_the_piece_is_a_warning(tmp_path):
    cube = cube_with_a_hole(100.0, 0.5) + "\nv 100 -10 0\nv 0 -10 0\nf 1 2 13 14\n"
    (finding,) = found(tmp_path, cube, ", hull: true")
    assert finding.severity == "warning"
    assert 0.005 < finding.measured < 1.0


def test_a_sound_scan_is_not_spoken_of(tmp_path):
    assert found(tmp_path, cube_with_a_hole(100.0, 0.5)) == ()


def test_a_piece_of_two_outlines_is_told_as_the_most_that_it_can_be(tmp_path):
    from PIL import Image, ImageDraw

    from layout3d.checks.examine import examine

    picture = Image.new("L", (60, 60), 255)
    ImageDraw.Draw(picture).rectangle((10, 10, 49, 49), fill=0)
    picture.save(tmp_path / "o.png")
    stone = "  stone: {kind: rock, outlines: {front: o.png, side: o.png}, longest: 90, at: [300, 200, 0]}\n"
    model = build_model(read_scene(tmp_path / "scene.yaml", text=TOP + stone))
    (finding,) = examine(model, only=(RULE,))
    assert finding.severity == "warning"
    assert "at most its volume and mass" in finding.message


def judged(**more):
    """Run the rule over a scan of 0.2 m that was mended so, beside a part that is no scan."""
    made = {
        "hull": False,
        "hull_factor": None,
        "closed": 0.0,
        "bulge": 0.0,
        "lapped": 1.0,
        "loose": 0.0,
        "outlined": False,
    }
    scan = SimpleNamespace(**made | {"file": "m.obj", "reason": "open edges"} | more)
    stone = made_body("stone", (100, 100, 0), (300, 300, 200))
    model = with_bodies(made_model(scan_unsure=0.005, scan_unsure_most=0.05), stone, made_body("pump", *PUMP))
    model.built["stone"].scan, model.built["pump"].scan = scan, None
    return list(module.scan_mended.find(model))


PUMP = (0, 0, 0), (10, 10, 10)


@pytest.mark.parametrize(
    ("factor", "severity", "limit"),
    [
        (1.005, None, None),
        (1.0051, "warning", 0.005),
        (1.0499, "warning", 0.005),
        (1.051, "fault", 0.05),
        (0.9, "fault", 0.05),
        (None, "fault", None),
    ],
)
def test_a_hull_is_judged_by_how_far_off_it_is(factor, severity, limit):
    found = judged(hull=True, hull_factor=factor)
    assert [(one.severity, one.limit) for one in found] == ([(severity, limit)] if severity else [])
    for one in found:
        assert (one.parts, one.at) == (("stone",), pytest.approx((0.2, 0.2, 0.1)))
        assert one.measured == (None if factor is None else pytest.approx(abs(factor - 1.0)))
        assert one.unit == ("" if factor is None else "-")
        how = (
            "how much larger than the piece isn't known" if factor is None else f"about {factor:.2g} times it"
        )
        assert f"convex hull of m.obj, {how}: all its volume" in one.message


@pytest.mark.parametrize(("bulge", "count"), [(0.005, 0), (0.006, 1), (0.5, 1)])
def test_what_was_closed_flat_is_a_warning_however_much(bulge, count):
    found = judged(closed=0.12, bulge=bulge)
    assert [(one.severity, one.measured, one.limit) for one in found] == [("warning", bulge, 0.005)] * count
    for one in found:
        assert one.message.startswith(
            "12 % of the surface of stone was not scanned but closed flat: were the "
        )
        assert f"{100 * bulge:.2g} % of its volume would be wrong" in one.message
    assert judged(closed=0.0, bulge=bulge) == []


@pytest.mark.parametrize(("lapped", "count"), [(1.0, 0), (1.004, 0), (1.2, 1)])
def test_what_ran_through_itself_is_told(lapped, count):
    found = judged(lapped=lapped)
    assert [(one.severity, one.measured) for one in found] == [("warning", pytest.approx(0.2))] * count
    assert all("as read it is 20 % too large" in one.message for one in found)


def test_a_shape_from_outlines_is_a_warning_without_a_figure():
    (one,) = judged(outlined=True)
    assert (one.severity, one.measured, one.limit, one.unit) == ("warning", None, None, "")
