"""Figures told as shares of others, and names and beginnings of parts that are added."""

import math
from pathlib import Path

import pytest

from layout3d.checks.examine import examine
from layout3d.errors import LayoutError
from layout3d.model.build import build_model
from layout3d.parts.registry import is_tank, kinds
from layout3d.scene.reader import read_scene
from layout3d.scene.write_back import changed
from layout3d.view.edits import free_name, pipes, raised, riders, starter, times, times_of, turned, with_part


@pytest.mark.parametrize(
    ("text", "share", "expected"),
    [
        ("120", 1.1, "132"),
        ("2 3/4 in", 0.5, "1 3/8 in"),
        ("9 in", 1.5, "13 1/2 in"),
        ("70 %", 0.5, "35 %"),
        ("30 deg", 1.5, "45 deg"),
        ("depth - 1", 0.5, "depth - 1"),
        ("inch", 0.5, "inch"),
        ("1/0", 0.5, "1/0"),
    ],
)
def test_a_figure_times_a_share_is_written_as_it_was(text, share, expected):
    assert times(text, share, units="mm") == expected


@pytest.mark.parametrize(
    ("text", "first", "expected"),
    [
        ("60", "120", 0.5),
        ("1 1/2 in", "3 in", 0.5),
        ("50 mm", "10 cm", 0.5),
        ("5", "0", None),
        ("a", "5", None),
    ],
)
def test_what_share_a_figure_is_of_another(text, first, expected):
    assert times_of(text, first) == (expected if expected is None else pytest.approx(expected))


def test_a_part_that_is_added_has_a_free_name_and_stands_where_it_is_looked_at(tmp_path):
    file = tmp_path / "a.yaml"
    text = (
        "format: 1\nunits: in\nwaterline: 5\nparts:\n  tank: {kind: tank, inside: [36, 18, 20], glass: 3/8}\n"
    )
    file.write_text(text)
    scene = read_scene(file)
    begun = starter(scene, "rock", (0.255, 0.133, 0.3))
    assert begun == {"at": "{left: 10, front: 5 1/4, ground: 0}", "seed": "1", "size": "[6, 4 3/4, 4]"}
    new = with_part(text, free_name(scene, "rock"), "rock", begun)
    assert (
        new.removeprefix(text)
        == f"  rock_1: {{kind: rock, at: {begun['at']}, seed: 1, size: {begun['size']}}}\n"
    )
    assert free_name(read_scene(file, text=new), "rock_1") == "rock_2"
    with pytest.raises(LayoutError, match="can't be a name"):
        with_part(text, "a rock", "rock", begun)


def test_what_is_fixed_to_a_part_goes_with_it(tmp_path):
    rock = "{kind: rock, size: [50, 50, 40], at: {left: 50, front: 50, bottom: 0}, fixed_to: %s}"
    file = tmp_path / "a.yaml"
    file.write_text(
        "format: 1\nunits: mm\nwaterline: 50\nparts:\n"
        "  tank: {kind: tank, inside: [200, 200, 200], glass: 6}\n"
        f"  base: {rock % 'tank'}\n  top: {rock % 'base'}\n  tip: {rock % 'top'}\n  loose: {rock % 'tank'}\n"
    )
    scene = read_scene(file)
    assert riders(scene, "base") == {"top": False, "tip": False}
    assert riders(scene, "tip") == {}


@pytest.mark.parametrize(
    ("stands", "how", "by", "then"),
    [
        (", turn: 10", "tip_right", 5, ", turn: {about_up: 10, tip_right: 5}"),
        (", turn: 10 deg", "tip_back", -5, ", turn: {about_up: 10 deg, tip_front: 5 deg}"),
        (", turn: lie + 5", "tip_right", -5, ", turn: {about_up: lie + 5, tip_left: 5}"),
        (", turn: {tip_right: 2}", "tip_right", -5, ", turn: {tip_right: 0, tip_left: 3 deg}"),
        ("", "tip_back", 5, ", turn: {tip_back: 5 deg}"),
        ("", "about_up", 5, ", turn: 5 deg"),
    ],
)
def test_what_leans_keeps_its_plain_turn_about_the_upright(tmp_path, stands, how, by, then):
    file = tmp_path / "a.yaml"
    rock = "{kind: rock, size: [50, 50, 40], at: {left: 50, front: 50, bottom: 0}%s}"
    text = (
        "format: 1\nunits: mm\nvalues: {lie: 20}\nwaterline: 50\nparts:\n"
        f"  tank: {{kind: tank, inside: [200, 200, 200], glass: 6}}\n  stone: {rock}\n"
    )
    scene = read_scene(file, text=text % stands)
    new = changed(text % stands, turned(file, text % stands, scene, "stone", how, math.radians(by)))
    assert new == text % then
    before, after = (one.part("stone").turn for one in (scene, read_scene(file, text=new)))
    assert getattr(after, how) == pytest.approx(getattr(before, how) + math.radians(by))


@pytest.mark.parametrize(
    ("stands", "how", "by", "then"),
    [
        ("30° + 5°", "about_up", 5, "30° + 10°"),
        ("lie + 5", "about_up", -15, "lie - 10"),
        ("-lie * 2", "about_up", 5, "-lie * 2 + 5 deg"),
        ("lie + 159", "about_up", 5, "lie - 196"),
        ("{about_up: 3, tip_left: lie - 5}", "tip_right", 5, "{about_up: 3, tip_left: lie - 10}"),
        ("{tip_left: lie - 18}", "tip_right", 5, "{tip_left: lie - 20, tip_right: 3 deg}"),
    ],
)
def test_an_angle_that_is_arithmetic_stays_so_or_becomes_a_figure(tmp_path, stands, how, by, then):
    file = tmp_path / "a.yaml"
    text = (
        "format: 1\nunits: mm\nvalues: {lie: 20}\nwaterline: 50\nparts:\n"
        "  tank: {kind: tank, inside: [200, 200, 200], glass: 6}\n"
        f"  stone: {{kind: rock, size: [50, 50, 40], at: [50, 50, 0], turn: {stands}}}\n"
    )
    scene = read_scene(file, text=text)
    with pytest.raises(LayoutError, match="arithmetic"):
        changed(text, turned(file, text, scene, "stone", how, math.radians(by)))
    for figures in (False, True):
        fields = turned(file, text, scene, "stone", how, math.radians(by), figures=figures)
        new = changed(text, fields, here=True)
        assert figures or new == text.replace(stands, then)
        assert "lie" not in new.split("turn:")[1] or not figures
        before, after = (getattr(one.part("stone").turn, how) for one in (scene, read_scene(file, text=new)))
        assert math.remainder(after - before - math.radians(by), math.tau) == pytest.approx(0.0, abs=1e-9)


@pytest.mark.parametrize(
    ("before", "by", "units", "after"),
    [
        ("gap + 10", 0.00635, "in", "gap + 10 1/4"),
        ("gap - 3/4 in", 0.00635, "in", "gap - 1/2 in"),
        ("gap - 3", 0.005, "mm", "gap + 2"),
        ("gap - 1", 0.001, "mm", "gap + 0"),
        ("2 * gap", -0.005, "mm", "2 * gap - 5"),
        ("gap * -3", 0.002, "mm", "gap * -3 + 2"),
        ("gap / (gap + 3)", 0.002, "mm", "gap / (gap + 3) + 2"),
        ("gap + 3 * 2", 0.002, "mm", "gap + 3 * 2 + 2"),
        ("max(gap, gap - 3)", 0.002, "mm", "max(gap, gap - 3) + 2"),
    ],
)
def test_an_expression_that_is_raised_comes_out_so_much_greater(before, by, units, after):
    assert raised(before, by, units=units) == after

    def left(expression):
        text = (
            f"format: 1\nunits: {units}\nwaterline: gap\nvalues: {{gap: 7}}\nparts:\n"
            "  tank: {kind: tank, inside: [400 mm, 250 mm, 250 mm], glass: 6 mm}\n"
            f"  stone: {{kind: rock, seed: 1, size: [50 mm, 50 mm, 50 mm], at: ['{expression}', 1, 0]}}\n"
        )
        return read_scene(Path("a.yaml"), text=text).part("stone").at.x.distance

    assert left(after) - left(before) == pytest.approx(by)


def test_what_is_counted_from_a_part_goes_with_it_by_itself(tmp_path):
    file = tmp_path / "a.yaml"
    file.write_text(
        "format: 1\nunits: mm\nwaterline: 50\nparts:\n"
        "  tank: {kind: tank, inside: [200, 200, 200], glass: 6}\n"
        "  sump: {kind: sump, at: {left: 10, front: 10, bottom: -400}, inside: [300, 200, 200],\n"
        "    compartments: [{name: inlet, length: 100, baffle: {height: 90}}, {name: chamber, level: 80}]}\n"
        "  sock: {kind: filter_basket, size: [50, 50, 90], fixed_to: sump.box,\n"
        "    at: {in: sump.inlet, left: 9, front: 9, bottom: 9}}\n"
    )
    scene = read_scene(file)
    assert riders(scene, "sump") == {"sock": True}  # to write it anew would move it twice as far
    assert riders(scene, "sock") == {}


def test_pipes_go_with_what_they_start_from_along_the_axes_that_no_step_holds(tmp_path):
    file = tmp_path / "a.yaml"
    pump = "{kind: pump, model: small 1000, outlet: d20 pn 16, at: [60, 60, 0]}"
    file.write_text(
        "format: 1\nunits: mm\nwaterline: 50\nparts:\n"
        "  tank: {kind: tank, inside: [500, 400, 300], glass: 6}\n"
        f"  pump: {pump}\n  other: {pump}\n"
        "  riser: {kind: run, pipe: d20 pn 16, start: pump.outlet,\n"
        "    route: [{until: up, reach: [0, 0, 200]}, {tee: right, name: split}, {right: 60}, cap]}\n"
        "  branch: {kind: run, pipe: d20 pn 16, start: riser.split,\n"
        "    route: [{until: back, reach: [0, 300, 0]}, cap]}\n"
        "  end: {kind: run, pipe: d20 pn 16, start: other.outlet,\n"
        "    route: [{up: 99}, {to: [250, 60, 150]}, open]}\n"
        "  free: {kind: run, pipe: d20 pn 16, start: [9, 9, 9], route: [{up: 99}, cap]}\n"
    )
    scene = read_scene(file)
    assert pipes(scene, ["pump"]) == {"riser": (True, True, False), "branch": (True, False, False)}
    assert pipes(scene, ["other"]) == {"end": (False, False, False)}
    assert pipes(scene, ["tank"]) == {}


@pytest.mark.parametrize("units", ["mm", "in"])
def test_each_kind_begins_with_all_that_it_needs(units):
    depth, size, glass = ("150", "900, 450, 500", "10") if units == "mm" else ("6", "36, 18, 20", "3/8")
    tank = f"{{kind: tank, inside: [{size}], glass: {glass}}}"
    text = f"format: 1\nunits: {units}\nwaterline: {depth}\nparts:\n  tank: {tank}\n"
    path = Path("a.yaml")
    scene = read_scene(path, text=text)
    for kind in kinds():
        if not is_tank(kind):
            new = with_part(text, "new", kind, starter(scene, kind, (0.4, 0.2, 0.2)))
            assert read_scene(path, text=new).part("new").kind == kind
            if kind in ("light", "run", "sump", "overflow_box"):
                model = build_model(read_scene(path, text=new))
                assert [
                    each.message for each in examine(model, only=("stays-dry", "overlap", "outside"))
                ] == []
