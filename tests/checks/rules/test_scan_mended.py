"""Scans whose volume rests on their mending."""

import math
from types import SimpleNamespace

import pytest

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


def test_shares_past_the_whole_are_plain_figures():
    """Half a ball scanned, closed flat: were it round there, its volume would be once and a half off."""
    half = SimpleNamespace(outlined=False, hull=False, closed=0.996, bulge=1.43, lapped=1.0)
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
