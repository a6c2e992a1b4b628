"""Rock and wood with ``rest: true``: where it comes to lie in a scene, and that it then stands."""

from pathlib import Path

import pytest

from layout3d.checks.examine import examine
from layout3d.errors import SceneRefused
from layout3d.model.build import build_model
from layout3d.scene.reader import read_scene
from layout3d.solid.distance import gap, overlap

FAULTY = Path(__file__).resolve().parents[2] / "scenes" / "faulty"
BLOCK = "kind: rock, mesh: block.obj, longest: 240"  # 240 x 160 x 80 mm


def build(*parts):
    lines = "".join(f"  {part}\n" for part in parts).replace("BLOCK", BLOCK)
    tank = "  tank: {kind: tank, inside: [800, 400, 400], glass: 10}\n"
    text = f"format: 1\nunits: mm\nwaterline: 300\nparts:\n{tank}{lines}"
    return build_model(read_scene(FAULTY / "made.yaml", text=text))


SAND = "sand: {kind: substrate, depth: 40, pitch: 50}"
LET_GO = "stone: {BLOCK, at: {left: 400, front: 200, bottom: 150}, turn: {tip_right: 20 deg}, rest: true%s}"


@pytest.mark.parametrize(("sink", "depth"), [("", 5), (", sink: 12", 12), (", sink: 0", 0)])
def test_on_a_bed_it_sinks_in_as_far_as_is_said(sink, depth):
    model = build(SAND, LET_GO % sink)
    low, high = model.body("stone").solid.bounds[:, 2]
    assert float(low) == pytest.approx(0.040 - depth / 1000, abs=2e-4)
    assert float(high - low) == pytest.approx(0.080, abs=2e-4)  # flat on its broad face
    assert overlap(model.body("stone").solid, model.body("sand").solid) is None


def test_it_lies_on_glass_mats_and_what_stands_before_it_in_the_file():
    assert float(build(LET_GO % "").body("stone").solid.bounds[0, 2]) == pytest.approx(0.0, abs=1e-4)
    mat = build("mat: {kind: mat, thickness: 6}", LET_GO % "")
    assert float(mat.body("stone").solid.bounds[0, 2]) == pytest.approx(0.006, abs=1e-4)
    base = "base: {BLOCK, at: {left: 400, front: 200, bottom: 6}}"
    stack = build("mat: {kind: mat, thickness: 6}", base, LET_GO % "")
    stone, under = stack.body("stone").solid, stack.body("base").solid
    assert float(stone.bounds[0, 2]) == pytest.approx(0.086, abs=2e-4)
    assert gap(stone, under).distance < 1e-4
    assert examine(stack, only=("stands", "overlap", "held-up")) == ()


def test_a_grown_boulder_stands_once_it_has_come_to_rest():
    boulder = "stone: {kind: rock, seed: 3, size: [200, 150, 120], at: {left: 400, front: 200, bottom: 6}%s}"
    mat = "mat: {kind: mat, thickness: 6}"
    assert [f.severity for f in examine(build(mat, boulder % ""), only=("stands",))] == ["fault"]
    rested = build(mat, boulder % ", rest: true")
    assert [f.severity for f in examine(rested, only=("stands", "overlap", "held-up"))] in ([], ["warning"])


def test_a_piece_that_rests_does_not_wait_for_those_after_it():
    other = "other: {BLOCK, at: {left: 400, front: 200, bottom: 300}, rest: true}"
    both = build(SAND, LET_GO % "", other)
    alone = build(SAND, LET_GO % "")
    assert both.body("stone").solid == alone.body("stone").solid
    assert float(both.body("other").solid.bounds[0, 2]) > 0.1


@pytest.mark.parametrize(
    ("given", "told"),
    [
        (LET_GO % ", fixed_to: tank.bottom", "fixed, and to come to rest"),
        ((LET_GO % "").replace("left: 400", "left: 1500"), "nothing under it"),
    ],
)
def test_what_cannot_come_to_rest_is_refused_with_its_line(given, told):
    with pytest.raises(SceneRefused, match=told) as refused:
        build(given)
    assert refused.value.mistakes[0].place.line == 6
