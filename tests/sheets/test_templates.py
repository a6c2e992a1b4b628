"""Templates as printed: measured in the PDF's own coordinates, and in the DXF read back."""

import io
import itertools
import math

import numpy as np
import pytest
from drawings import texts_of

from layout3d.sheets.drawing import PAPERS
from layout3d.sheets.templates.collect import bench_files, templates_of
from layout3d.sheets.templates.strips import wrapped_holes
from layout3d.sheets.templates.tiles import tiled

SMALL = "kind: tank, inside: [200, 150, 140], glass: 6, holes: {{{}}}"
TWO = (
    "feed: {panel: back, left: 50, bottom: 90, diameter: 20}, "
    "drain: {panel: back, left: 120, bottom: 60, diameter: 34}"
)


@pytest.fixture(scope="module")
def drilled(scene):
    def build(holes=TWO, **more):
        return scene("", tank=SMALL.format(holes), waterline=50, **more)

    return build


def test_every_sheet_has_control_lines_both_ways(drilled, pages):
    for paper in PAPERS:
        files = bench_files(drilled(), paper=paper)
        for name in filter(lambda name: name.endswith(".pdf"), files):
            sheets = pages(files[name])[1:]
            assert sheets
            for sheet in sheets:
                assert len(sheet.lines(100.0, upright=False, give=0.001)) == 1
                assert len(sheet.lines(100.0, upright=True, give=0.001)) == 1
                assert sorted(sheet.size) == pytest.approx(sorted(PAPERS[paper]), abs=0.01)


def test_in_inches_the_control_lines_are_four_inches_on_letter(scene, pages):
    model = scene(
        "",
        tank="kind: tank, inside: [8, 6, 5], glass: 1/4, "
        "holes: {a: {panel: back, left: 2, bottom: 2, diameter: 1}}",
        units="in",
        waterline=2,
    )
    (sheet,) = pages(bench_files(model)["templates/tank-back.pdf"])[1:]
    assert sorted(sheet.size) == pytest.approx(sorted(PAPERS["letter"]), abs=0.01)
    assert len(sheet.lines(101.6, upright=False, give=0.001)) == 1
    assert sheet.circles[0][2] == pytest.approx(25.4, abs=0.01)
    # from the glass's edge, which lies a quarter inch past the inside
    assert "2 1/4" in [words for _, _, words in sheet.texts]


def holes_of(sheet):
    """Return the middles of a printed sheet's holes by diameter, [mm]."""
    return {round(diameter): (x, y) for x, y, diameter in sheet.circles}


def test_holes_are_where_the_drill_goes_seen_from_outside(drilled, pages):
    """Outside of the back, left and right change places: what is left in the tank is right on the paper.

    The pane reaches 6 mm past the inside at both ends. A template that is printed mirrored fails here.
    """
    (sheet,) = pages(bench_files(drilled())["templates/tank-back.pdf"])[1:]
    holes = holes_of(sheet)
    pitch = np.subtract(holes[34], holes[20])
    assert pitch == pytest.approx((-70.0, -30.0), abs=0.1)
    (right,) = sheet.lines(140.0, upright=True)[-1:]
    edges = [line[0, 0] for line in sheet.lines(140.0, upright=True)]
    assert max(edges) - holes[20][0] == pytest.approx(50.0 + 6.0, abs=0.1)
    assert holes[20][0] - min(edges) == pytest.approx(150.0 + 6.0, abs=0.1)
    assert holes[20][1] - right[0, 1] == pytest.approx(90.0, abs=0.1)
    assert sheet.text("feed")[0] > sheet.text("drain")[0]


def test_holes_drilled_from_inside_are_seen_from_inside(drilled, pages):
    inside = TWO.replace("panel: back,", "panel: back, drilled_from: inside,")
    (sheet,) = pages(bench_files(drilled(inside))["templates/tank-back.pdf"])[1:]
    holes = holes_of(sheet)
    assert np.subtract(holes[34], holes[20]) == pytest.approx((70.0, -30.0), abs=0.1)
    assert "inside" in {words.split(":")[0].rpartition(" ")[2] for _, _, words in sheet.texts}


def test_a_pane_drilled_from_both_sides_has_a_template_of_each(drilled):
    mixed = TWO.replace("panel: back,", "panel: back, drilled_from: inside,", 1)
    assert {name for name in bench_files(drilled(mixed)) if name.startswith("templates/")} == {
        "templates/tank-back-from-inside.pdf",
        "templates/tank-back-from-outside.pdf",
    }


def test_of_the_bottom_front_and_back_stay_and_left_and_right_change_places(drilled, pages):
    hole = "a: {panel: bottom, left: 60, front: 100, diameter: 20}"
    (sheet,) = pages(bench_files(drilled(hole))["templates/tank-bottom.pdf"])[1:]
    (x, y, _), edges = sheet.circles[0], sheet.lines(162.0, upright=True)
    assert max(line[0, 0] for line in edges) - x == pytest.approx(66.0, abs=0.1)
    assert y - edges[0][0, 1] == pytest.approx(106.0, abs=0.1)


def test_sheets_join_on_their_crosses(scene, pages):
    """Laid cross on cross, sheet after sheet, hole and edge are as far apart as in the glass."""
    tank = (
        "kind: tank, inside: [900, 300, 130], glass: 8, "
        "holes: {a: {panel: back, right: 430, bottom: 70, diameter: 30}}"
    )
    sheets = pages(bench_files(scene("", tank=tank, waterline=50))["templates/tank-back.pdf"])[1:]
    assert len(sheets) >= 2
    shift, last, edges, holes = np.zeros(2), None, [], []
    for sheet in sheets:
        crosses = sorted(tuple(line.mean(axis=0)) for line in sheet.lines(6.0, upright=False, give=0.01))
        if last is not None:  # the two rightmost of the sheet before lie on the two leftmost of this one
            steps = np.subtract(last, crosses[:2])
            assert steps[0] == pytest.approx(steps[1], abs=1e-3)
            shift = shift + steps[0]
        last = crosses[-2:]
        edges += [line[0] + shift for line in sheet.lines(130.0, upright=True, give=0.01)]
        holes += [np.array((x, y)) + shift for x, y, _ in sheet.circles]
    assert holes
    for hole in holes:  # seen from outside, the right edge lies at the left
        assert hole - min(edges, key=lambda edge: edge[0]) == pytest.approx((438.0, 70.0), abs=0.1)


def test_a_round_wall_is_unrolled_at_the_face_that_is_drilled(scene):
    """A quarter turn of a 10 mm wall round 300 mm is pi/2 x 310 mm outside, from the line at the front."""
    tank = (
        "kind: cylinder_tank, inside_diameter: 600, height: 400, wall: 10, floor: 10, "
        "holes: {a: {panel: wall, angle: 90 deg, top: 100, diameter: 40}}"
    )
    (template,) = templates_of(scene("", tank=tank, waterline=100))
    (rim,) = [element for element in template.elements if element.layer == "holes"]
    ring = np.array(rim.points)
    middle = (ring.max(axis=0) + ring.min(axis=0)) / 2
    # seen from outside a turn to the right, as seen from the front, stays one to the right
    assert middle == pytest.approx((math.pi / 2 * 310.0, 300.0), abs=0.05)
    # a core drill of 40 mm leaves a rim a little longer around than up: 2 x 310 asin(20/310)
    assert np.ptp(ring, axis=0) == pytest.approx((2 * 310.0 * math.asin(20.0 / 310.0), 40.0), abs=0.01)
    assert template.seen.startswith("Unrolled at its outside face")


def test_the_strip_is_as_wide_as_the_pipe_is_round(bar_scene, pages):
    model = bar_scene()
    (name,) = [name for name in bench_files(model) if name.endswith("-holes.pdf")]
    sheets = pages(bench_files(model)[name])[1:]
    girth = math.pi * 25.0  # ISO 161-1: a d25 pipe is 25 mm outside
    assert sheets[0].lines(girth, upright=True)
    for sheet in sheets:
        along = sorted(x for x, _, diameter in sheet.circles if abs(diameter - 2.5) < 0.01)
        assert np.diff(along) == pytest.approx(25.0, abs=0.1)


@pytest.mark.parametrize(("angle", "turned"), [(0, 180.0), (20, None), (90, None), (180, 0.0)])
def test_a_strip_laid_round_the_pipe_puts_each_hole_where_it_is(bar_scene, angle, turned):
    """The strip is rolled up in three dimensions and its holes compared with the model's own."""
    model = bar_scene(angles=f"[{angle} deg]")
    piece = next(p for run in model.runs for p in run.data.elements if p.holes)
    side, holes = wrapped_holes(piece)
    assert side == "top"
    begin, end = np.array(piece.path[0]), np.array(piece.path[-1])
    axis = (end - begin) / np.linalg.norm(end - begin)
    up = np.array((0.0, 0.0, 1.0))
    left_of_the_flow = np.cross(up, axis)
    for (along, turn, diameter), hole in zip(holes, piece.holes, strict=True):
        way = math.cos(turn) * up + math.sin(turn) * left_of_the_flow
        assert begin + along * axis + piece.outside / 2 * way == pytest.approx(np.array(hole.at), abs=1e-9)
        assert diameter == hole.diameter
        if turned is not None:
            assert abs(math.degrees(turn)) == pytest.approx(turned, abs=1e-6)


def test_the_strip_shows_the_turn_that_the_pipe_has(bar_scene):
    model = bar_scene(angles="[20 deg]")
    (strip,) = [template for template in templates_of(model) if template.name.endswith("-holes")]
    mark = next(e for e in strip.elements if e.layer == "marks" and e.points[0][0] == 0.0)
    holes = [e for e in strip.elements if e.layer == "holes"]
    piece = next(p for run in model.runs for p in run.data.elements if p.holes)
    (turn,) = {round(turn, 9) for _, turn, _ in wrapped_holes(piece)[1]}
    # towards the front of the tank, which for this pipe's flow to the right is the right hand: down the sheet
    assert math.degrees(turn) == pytest.approx(-160.0)
    away = {round(hole.centre[1] - mark.points[0][1], 6) for hole in holes}
    girth = math.pi * 25.0
    (away,) = away
    assert (away / girth * 360.0 + 180.0) % 360.0 - 180.0 == pytest.approx(-160.0)


def dxf_of(content):
    import ezdxf

    return ezdxf.read(io.StringIO(content.decode("utf-8")))


def test_the_shop_gets_each_hole_at_its_place(drilled):
    document = dxf_of(bench_files(drilled())["panels/tank-back.dxf"])
    assert document.header["$INSUNITS"] == 4  # millimetres: DXF reference, header section
    assert {"outline", "holes", "dimensions", "notes"} <= {layer.dxf.name for layer in document.layers}
    holes = {
        round(2 * circle.dxf.radius, 6): tuple(circle.dxf.center)[:2]
        for circle in document.modelspace().query("CIRCLE[layer=='holes']")
    }
    # from outside, from the glass's left edge as it lies here: 212 mm less 56, 126
    assert holes == {20.0: pytest.approx((156.0, 90.0)), 34.0: pytest.approx((86.0, 60.0))}
    (outline,) = document.modelspace().query("LWPOLYLINE[layer=='outline']")
    assert outline.closed
    corners = np.array([point[:2] for point in outline])
    assert np.ptp(corners, axis=0) == pytest.approx((212.0, 140.0))


def test_dimensions_for_the_shop_measure_what_they_say(drilled):
    document = dxf_of(bench_files(drilled())["panels/tank-back.dxf"])
    told = {d.dxf.text: d.get_measurement() for d in document.modelspace().query("DIMENSION")}
    assert told == {text: pytest.approx(float(text), abs=0.051) for text in told}
    # each from the edge that the scene measures it from, on the glass itself
    assert {"56", "126", "90", "60", "212", "140"} == set(told)


def test_a_baffle_and_a_comb_come_out_in_their_outline(scene):
    model = scene(
        "box:\n  {kind: overflow_box, panel: back, right: 0, width: 200, depth: 120, top: 300, level: 200,"
        " glass: 6, weir: {depth: 25, slot: 6, tooth: 4}}",
        waterline=280,
    )
    outline = next(iter(dxf_of(bench_files(model)["panels/box-front.dxf"]).modelspace().query("LWPOLYLINE")))
    corners = np.array([point[:2] for point in outline])
    onward = np.roll(corners, -1, axis=0)
    area = abs(float((corners[:, 0] * onward[:, 1] - onward[:, 0] * corners[:, 1]).sum()) / 2)
    slots = (194 - 4) // 10  # the pane's inside beside the corner, slots of 6 mm between teeth of 4
    assert area == pytest.approx(200 * 300 - slots * 6 * 25, rel=1e-6)


def test_a_baffle_is_cut_two_glue_joints_narrower_than_the_sump(shipped):
    """The sump of the scene weir is 340 mm deep inside; silicone between panes is 1.5 mm thick."""
    document = dxf_of(bench_files(shipped("weir"))["panels/sump-baffle_inlet.dxf"])
    corners = np.array([point[:2] for point in next(iter(document.modelspace().query("LWPOLYLINE")))])
    assert np.ptp(corners, axis=0) == pytest.approx([337.0, 200.0])
    assert any("glue joints" in text.dxf.text for text in document.modelspace().query("TEXT"))


def test_a_slab_is_told_to_leave_a_whole_overflow_box_free(scene):
    """The box stands in the corner, 200 x 300 mm on the back: not only the edges of its panes are cut out."""
    model = scene(
        "box:\n  {kind: overflow_box, panel: back, left: 0, width: 200, depth: 120, top: 300, level: 200,"
        " glass: 6, weir: {depth: 25, slot: 6, tooth: 4}}\n"
        "wall:\n  {kind: background, panels: [back], thickness: 40, relief: {form: flat}, embeds: [box]}",
        waterline=280,
    )
    (wall,) = [template for template in templates_of(model) if template.name == "wall"]
    (told,) = [note for note in wall.notes if note.startswith("box: ")]
    assert told.startswith("box: 200 mm × 300 mm, its left end 0 mm from the slab's left edge")


def test_files_are_the_same_each_time(drilled):
    assert bench_files(drilled()) == bench_files(drilled())


@pytest.mark.parametrize("name", ["gorge", "weir", "column", "ledge", "bow", "drains"])
def test_no_two_texts_of_a_template_overlap(shipped, name):
    import shapely

    for template in templates_of(shipped(name)):
        for elements in (template.elements, template.cut, tiled(template)[0].elements):
            texts = texts_of(elements)
            for one, other in itertools.combinations(texts, 2):
                apart = not shapely.Polygon(one.corners).intersects(shapely.Polygon(other.corners))
                assert apart, (template.name, one.text, other.text)


def test_the_strip_for_baffles_counts_from_the_inlet(shipped):
    """In the sump of the scene weir water goes from right to left: an inlet of 250 mm, then a baffle of 6."""
    model = shipped("weir")
    (strip,) = [template for template in templates_of(model) if template.name == "sump-baffles"]
    faces = sorted(e.points[0][0] for e in strip.elements if getattr(e, "line", "") == "outline")
    thickness = model.sumps[0].part.compartments[0].baffle.thickness * 1000.0
    assert faces[-2:] == pytest.approx([250.0, 250.0 + thickness])
    names = {text.text: text.at[0] for text in texts_of(strip.elements)}
    assert names["inlet"] < 250.0 < names["return"]


@pytest.mark.parametrize("name", ["gorge", "weir", "column", "bow", "drains"])
def test_each_hole_is_named_on_its_template_with_its_diameter(shipped, name):
    model = shipped(name)
    texts = [text.text for t in templates_of(model) for text in texts_of((*t.elements, *t.cut))]
    for hole in model.tank.holes.values():
        named = [text for text in texts if text.startswith(f"{hole.name} ") and "⌀" in text]
        assert len(named) == 2, hole.name  # on paper, and for the shop
        for text in named:
            assert f"{round(hole.diameter * 1000.0, 1):g} mm" in text


def test_a_template_says_that_it_is_no_check_and_how_to_print_it(drilled, pages):
    (first, *_) = pages(bench_files(drilled())["templates/tank-back.pdf"])
    words = " ".join(text for _, _, text in first.texts)
    assert "layout3d check" in words
    assert "Print at 100 %" in words
    assert "Glass breaks" in words
