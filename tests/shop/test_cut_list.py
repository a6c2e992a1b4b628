"""Cut lengths against a calculation by hand from the tables of standards, marks, and how runs fit."""

import json
import re
from pathlib import Path

import pytest
from schemas import fits

from layout3d.cli import main
from layout3d.model.build import build_model
from layout3d.report.make import cut_text
from layout3d.scene.reader import read_scene
from layout3d.shop.cut_list import cut_list
from layout3d.shop.shop import shop
from layout3d.units import shown_in

LOOP = """\
format: 1
units: in
waterline: 10
parts:
  tank: {kind: tank, inside: [60, 30, 30], glass: 1/2}
  riser:
    kind: run
    pipe: 1 in sch 40
    start: [10, 15, 5]
    route: [{up: 20}, {right: 30}, {tee: up, name: branch}, {right: 10}, {coupling: null}, {right: 8}, cap]
  side: {kind: run, pipe: 1 in sch 40, start: riser.branch, route: [{up: 4}, cap]}
""".replace("{coupling: null}", "coupling")


def model_of(text, **values):
    return build_model(read_scene("scene.yaml", text=text, overrides=values))


def test_cut_lengths_are_those_of_a_calculation_by_hand():
    """Centre to centre less the take-offs. 1 in Schedule 40: elbow and tee 18 mm (take-out of ASTM D2467,
    11/16 in, and half a millimetre for a moulded one), coupling 3/32 in between socket bottoms: 20 in - 18;
    30 in - 2 x 18; 10 in - 18 - 3/64 in; 8 in - 3/64 in less nothing at the cap, whose place is its socket's
    bottom. The branch is told from the face of its hub: 4 in and the socket of 0.875 in (ASTM D2466)."""
    inch, half_gap = 25.4, 25.4 * 3 / 64
    cuts = cut_list(model_of(LOOP))
    found = sorted(piece.length * 1e3 for piece in cuts.pieces)
    by_hand = [4.875 * inch, 8 * inch - half_gap, 10 * inch - 18 - half_gap, 20 * inch - 18, 30 * inch - 36]
    assert found == pytest.approx(by_hand, abs=1e-6)


def test_marks_run_from_long_to_short_and_alike_pieces_share_a_letter():
    text = LOOP.replace("{right: 10}", "{right: 30}").replace(
        "{tee: up, name: branch}", "{tee: up, name: branch}"
    )
    cuts = cut_list(model_of(text.replace("coupling, {right: 8}", "{tee: up, name: other}, {right: 8}")))
    marks = [(piece.mark, round(piece.length * 1e3)) for piece in cuts.pieces]
    assert marks == [("A1", 726), ("A2", 726), ("B", 490), ("C", 185), ("D", 124)]


def test_a_dry_fit_stands_out_by_a_third_to_two_thirds_of_each_socket():
    """By hand: the riser's pipes end in sockets of 0.875 in (ASTM D2466) but for the very first end: 7."""
    fit = next(fit for fit in cut_list(model_of(LOOP)).fits if fit.part == "riser")
    depth = 7 * 0.875 * 0.0254
    assert fit.joints == 7
    assert fit.stands_out == pytest.approx((depth / 3, 2 * depth / 3))


def test_each_cut_off_by_a_millimetre_moves_the_end_along_its_pipe():
    """One upright pipe and three level ones: 1 mm up; 3 mm to the right at worst, the root of 3 by chance."""
    fit = next(fit for fit in cut_list(model_of(LOOP)).fits if fit.part == "riser")
    assert fit.worst == pytest.approx((0.003, 0.0, 0.001))
    assert fit.likely == pytest.approx((0.001 * 3**0.5, 0.0, 0.001))


def test_a_pipe_longer_than_its_bars_is_a_fault():
    text = LOOP + "shop: {stocks: [{pipe: 1 in sch 40, length: 28}]}\n"
    made = shop(model_of(text))
    assert [fault.parts for fault in made.faults] == [("riser.pipe_2",)]
    assert "A (riser.pipe_2) is 28.58 in long, and bars of 1 in sch 40 are 28 in" in made.faults[0].message


def test_lengths_are_told_as_they_are_set_on_the_saw():
    """46 15/32 in is 1180.3 mm, 46 1/2 in 1181.1: 1180.4 lies nearer to the first, which the sheets print."""
    with shown_in("inch"):
        assert cut_text(1.1804) == "46 15/32 in (1180.4 mm)"
        assert cut_text(0.0005) == "1/32 in (0.5 mm)"
        assert cut_text(0.0127) == "1/2 in (12.7 mm)"


def test_make_writes_what_fits_its_schemas(tmp_path, capsys, monkeypatch):
    monkeypatch.chdir(tmp_path)
    (tmp_path / "scene.yaml").write_text(LOOP, encoding="utf-8")
    assert main(["make", "scene.yaml", "--to", "out", "--no-faults"]) == 0
    assert re.search(r"(?m)^  A +1 x +28 19/32 in \(726\.0 mm\) ", capsys.readouterr().out)
    for name in ("parts", "cuts"):
        facts = json.loads((tmp_path / "out" / f"{name}.json").read_text(encoding="utf-8"))
        fits(facts, name)


def test_a_second_make_needs_replace_and_leaves_what_is_not_its_own(tmp_path, capsys, monkeypatch):
    monkeypatch.chdir(tmp_path)
    (tmp_path / "scene.yaml").write_text(LOOP, encoding="utf-8")
    assert main(["make", "scene.yaml", "--to", "out", "--no-faults"]) == 0
    assert main(["make", "scene.yaml", "--to", "out", "--no-faults"]) == 2
    assert "the folder holds an earlier make" in capsys.readouterr().err
    assert main(["make", "scene.yaml", "--to", "out", "--no-faults", "--replace"]) == 0
    (tmp_path / "out" / "notes.txt").write_text("mine", encoding="utf-8")
    assert main(["make", "scene.yaml", "--to", "out", "--no-faults", "--replace"]) == 2
    assert (tmp_path / "out" / "notes.txt").read_text(encoding="utf-8") == "mine"


@pytest.mark.parametrize(
    ("section", "said"),
    [
        ("{kerf: 1 kg}", "scene.yaml:12:14"),
        ("{saw: 2}", "saw"),
        ("{packs: [{item: silicone, price: 3}]}", "exactly one of count, length, area, volume, mass"),
        ("{packs: [{item: silicon, volume: 310 ml}]}", "no item of the parts list is called 'silicon'"),
        (
            "{packs: [{item: pipe, size: d32, length: 1 m}]}",
            "no size of pipe of the parts list is called 'd32'",
        ),
        ("{packs: [{item: silicone, mass: 1 kg}]}", "a pack of silicone is told by mass"),
    ],
)
def test_a_mistake_in_the_shop_section_is_told_with_its_line(tmp_path, capsys, monkeypatch, section, said):
    monkeypatch.chdir(tmp_path)
    (tmp_path / "scene.yaml").write_text(f"{LOOP}shop: {section}\n", encoding="utf-8")
    assert main(["make", "scene.yaml", "--to", "out", "--no-faults"]) == 2
    told = capsys.readouterr().err
    assert "scene.yaml:12" in told
    assert said in told
    assert not (tmp_path / "out").exists()


def test_make_tells_the_faults_that_check_finds(tmp_path, capsys, monkeypatch):
    """What is drilled from a faulty scene is lost: its templates don't come without a word."""
    monkeypatch.chdir(tmp_path)
    scene = Path(__file__).resolve().parents[2] / "scenes" / "faulty" / "hole-edge-distance.yaml"
    (tmp_path / "scene.yaml").write_text(scene.read_text(encoding="utf-8"), encoding="utf-8")
    assert main(["make", "scene.yaml", "--to", "out"]) == 1
    assert "fault    hole-edge-distance: " in capsys.readouterr().out
    (told,) = json.loads((tmp_path / "out" / "files.json").read_text(encoding="utf-8"))["faults"]
    assert told.startswith("hole-edge-distance: ")
    assert main(["make", "scene.yaml", "--to", "other", "--no-faults"]) == 0
