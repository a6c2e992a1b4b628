"""The report as text: order, wording, and that colour stays on the terminal."""

import io

from layout3d.checks.base import Finding, Rule
from layout3d.errors import LayoutError, Place, SceneMistake, SceneRefused
from layout3d.report.cautions import FLOOD, FLOOR, GLASS, cautions_of
from layout3d.report.figures import figure_lines, pressure_on_floor
from layout3d.report.text import check_lines, error_lines, place_of
from layout3d.report.volume import volume_lines
from layout3d.report.writing import Line, plain, write
from layout3d.units import shown_in
from layout3d.water.dipstick import dipstick
from layout3d.water.figures import figures


class Terminal(io.StringIO):
    def isatty(self) -> bool:
        return True


def rule(name: str, caution: str) -> Rule:
    return Rule(name=name, asks="nothing", caution=caution, find=lambda model: ())


def finding(name: str, severity: str = "fault") -> Finding:
    return Finding(
        rule=name,
        severity=severity,  # type: ignore[arg-type]
        parts=("tank.back", "drain"),
        measured=0.021,
        limit=0.035,
        unit="m",
        at=(0.4, 0.6, 0.43),
        message="drain is 21 mm from the edge: 14 mm short of 35 mm",
        remedy="lower it by 14 mm",
    )


def test_a_finding_has_number_rule_parts_message_remedy_and_place(model):
    told = plain(check_lines(model, [finding("hole-edge")], figures(model), rules_asked=1))
    assert (
        "1  fault  hole-edge  tank.back, drain\n"
        "   drain is 21 mm from the edge: 14 mm short of 35 mm\n"
        "   to mend it: lower it by 14 mm\n"
        "   at x 400 mm, y 600 mm, z 430 mm\n"
    ) in told
    assert "1 fault, 0 warnings, 0 notes, from 1 rule\n" in told


def test_a_caution_stands_once_and_only_where_its_rule_found_something(model):
    asked = {
        "a": rule("a", "glass breaks"),
        "b": rule("b", "glass breaks"),
        "c": rule("c", "floors give way"),
    }
    findings = [finding("a"), finding("b", "note")]
    cautions = cautions_of(findings, asked)
    told = plain(check_lines(model, findings, figures(model), rules_asked=3, cautions=cautions))
    assert told.count("glass breaks") == 1
    assert "floors" not in told


def test_the_usual_cautions_stand_under_every_report(model):
    told = plain(check_lines(model, [], figures(model), rules_asked=3, cautions=cautions_of([], {})))
    assert told.count("Caution\n") == 1
    for caution in (GLASS, FLOOR, FLOOD):
        assert caution in told


def test_figures_are_shown_in_the_scene_s_units_and_volumes_in_both(model):
    metric = plain(figure_lines(figures(model)))
    with shown_in("inch"):
        inch = plain(figure_lines(figures(model)))
    for told in (metric, inch):
        assert "202.50 L" in told
        assert "53.49 gal" in told
    assert "117.8 kg" in metric
    assert "kPa" in metric
    assert "lb" in inch
    assert "psf" in inch


def test_a_floor_load_in_psf():
    """IRC table R301.5 gives 40 psf; 1 psf is 47.880 Pa (NIST SP 811, appendix B.8)."""
    with shown_in("inch"):
        assert pressure_on_floor(40 * 47.88026) == "40 psf"


def test_no_report_says_safe(model):
    told = plain(check_lines(model, [], figures(model), rules_asked=3, cautions=cautions_of([], {})))
    told += plain(volume_lines(model, dipstick(model)))
    assert "safe" not in told.lower()


def test_colour_only_on_a_terminal():
    lines = [Line("a fault", 2, "fault")]
    pipe, terminal = io.StringIO(), Terminal()
    write(lines, pipe)
    write(lines, terminal)
    assert pipe.getvalue() == "  a fault\n"
    assert "\x1b[" in terminal.getvalue()


def test_square_brackets_are_no_markup():
    terminal = Terminal()
    write([Line("one of [red] and [/red]")], terminal)
    assert "[red] and [/red]" in terminal.getvalue()


def test_errors_tell_place_path_expected_and_remedy():
    place = Place("a.yaml", 4, 7)
    one = SceneMistake("'x' stands here", expected="a length", remedy="write 3 mm", path="at", place=place)
    assert plain(error_lines(SceneRefused([one]))) == (
        "a.yaml:4:7  at: 'x' stands here\n    expected a length\n    write 3 mm\n"
    )
    both = plain(error_lines(SceneRefused([one, LayoutError("and another")])))
    assert both.endswith("2 mistakes; nothing was computed\n")


def test_places_in_inches():
    with shown_in("inch"):
        assert place_of((0.0254, 0.0, 0.508)) == "x 1 in, y 0 in, z 20 in"


def test_what_building_told_stands_in_the_report(tmp_path):
    """A scan that was scaled on its way in says so, by the name the scene gives it."""
    from closed_solids import ball

    from layout3d.model.build import build_model
    from layout3d.report.json import check_json
    from layout3d.scene.reader import read_scene
    from layout3d.solid.mesh_file import save_mesh

    save_mesh(ball(0.1, n=40), tmp_path / "stone.stl", unit=0.001)
    text = """
format: 1
units: mm
waterline: 200
limits: {freeboard: 10, pipe_to_glass: 3 mm}
parts:
  tank: {kind: tank, inside: [600, 400, 400], glass: 8}
  stone: {kind: rock, mesh: stone.stl, longest: 150, at: {left: 300, front: 200, bottom: 0}}
"""
    model = build_model(read_scene(tmp_path / "scan.yaml", text=text))
    told = check_json(model, [], {})["notes"]
    assert told[0].startswith("stone: stone.stl: ")
    # one that is as shipped (the second) is no limit of the scene's own
    assert told[1].startswith("no stand is in the scene")
    assert told[2:] == ["limit freeboard of the scene's own: 10 mm; as shipped 25 mm"]
    lines = check_lines(model, [], figures(model), rules_asked=0)
    assert told[0] in [line.text for line in lines]
