"""Sheets: each printed dimension against the geometry, texts apart, and what files hold when read back."""

import io
import itertools
import json
import math
import xml.etree.ElementTree as ElementTree
from dataclasses import replace
from fractions import Fraction
from functools import cache
from pathlib import Path

import numpy as np
import pytest
import shapely
from drawings import texts_of
from schemas import fits

from layout3d.checks.examine import examine
from layout3d.cli import main
from layout3d.errors import OutOfRange, UnknownName
from layout3d.model.build import build_model
from layout3d.outage.outages import outages
from layout3d.scene.reader import read_scene
from layout3d.sheets.drawing import Area, Circle, Text
from layout3d.sheets.dxf import dxf
from layout3d.sheets.figure import drawn_figure, sheet_kinds
from layout3d.sheets.items import numbers_of
from layout3d.sheets.measures import fill_line_note
from layout3d.sheets.pdf import pdf
from layout3d.sheets.projection import VIEWS
from layout3d.sheets.sheet import Style, compose
from layout3d.sheets.sheets_of import sheets_of, style_of
from layout3d.sheets.svg import svg
from layout3d.sheets.templates.collect import templates_of
from layout3d.shop.shop import shop

SCENES = ["gorge", "ledge", "weir", "column", "bow", "drains"]
ROOT = Path(__file__).resolve().parents[2]


@pytest.fixture(scope="module")
def set_of(shipped):
    @cache
    def sheets(name):
        model = shipped(name)
        return sheets_of(model, style_of(model, paper="A3"))

    return sheets


def read(text, system):
    """Return a printed length in metres."""
    if system == "metric":
        return float(text) / 1000.0
    return float(sum(Fraction(part) for part in text.split())) * 0.0254


@pytest.mark.parametrize("name", SCENES)
def test_each_printed_dimension_is_true(shipped, set_of, name):
    """Figure, places in the tank and lengths on paper agree, to what is printed (0.05 mm or 1/64 in)."""
    model = shipped(name)
    system = "inch" if model.scene.units == "in" else "metric"
    give = 0.0254 / 64 if system == "inch" else 0.00005
    count = 0
    for sheet in set_of(name):
        for printed in sheet.printed:
            assert abs(read(printed.text, system) - printed.value) <= give + 1e-9, printed
            count += 1
        for dimension in sheet.dimensions:
            a, b = dimension.ends
            assert dimension.value == pytest.approx(math.dist(a, b), abs=1e-9)
            assert math.dist(*dimension.feet) / dimension.scale == pytest.approx(dimension.value, abs=1e-7)
    assert count > 15


@pytest.mark.parametrize("name", SCENES)
def test_what_is_measured_is_there(shipped, set_of, name):
    """Both ends lie where the model has the thing, by the model's own data or the box around its solids."""
    model = shipped(name)
    tank = model.built[model.tank_name].part
    paths = {piece.body: piece.path for run in model.runs for piece in run.data.elements}
    size = dict(zip(("length", "depth", "height"), tank.outside_size(), strict=True))
    seen = set()
    for sheet in set_of(name):
        for printed in sheet.printed:
            of = printed.of
            if of in model.tank.holes:
                axis = int(np.argmax(np.abs(np.subtract(printed.end, printed.start))))
                assert printed.value == pytest.approx(abs(model.tank.holes[of].at[axis]))
                seen.add("hole")
            elif of.endswith(" drilled"):
                hole = model.tank.holes[of.split()[0]]
                assert printed.value == pytest.approx(hole.diameter)
                assert (np.add(printed.start, printed.end) / 2).tolist() == pytest.approx(list(hole.at))
            elif of.endswith((" wide", " high")):
                bounds = model.body(of.split()[0]).solid.bounds
                reach = np.array(sorted([printed.start, printed.end]))
                axis = int(np.argmax(np.ptp(reach, axis=0)))
                assert reach[:, axis].tolist() == pytest.approx(bounds[:, axis].tolist())
            elif of.endswith(" outside") and of.split()[0] in paths:
                bounds = model.body(of.split()[0]).solid.bounds
                assert printed.value == pytest.approx(min(np.ptp(bounds, axis=0)), rel=0.01)  # of a polygon
            elif of.endswith(" centre line"):
                begin, end = (np.array(p) for p in (paths[of.split()[0]][0], paths[of.split()[0]][-1]))
                way = end - begin
                off = np.cross(np.array(printed.end) - begin, way) / np.linalg.norm(way)
                assert np.linalg.norm(off) < 1e-9
                seen.add("pipe")
            elif " outside " in of and of.startswith(model.tank_name):
                assert printed.value == pytest.approx(size[of.split()[-1]], abs=1e-4)
            elif of.startswith("waterline"):
                assert printed.value == pytest.approx(model.waterline)
                seen.add("waterline")
            elif of.startswith("fill line"):
                room = model.sumps[0].data.return_chamber
                assert printed.value == pytest.approx(room.level)
                seen.add("fill line")
            elif sheet.name == "pipework":
                path = paths[of.split()[1]]
                along = sum(math.dist(a, b) for a, b in itertools.pairwise(path))
                assert printed.value == pytest.approx(along, rel=1e-3)
    assert "waterline" in seen
    assert ("fill line" in seen) == bool(model.sumps)
    assert ("hole" in seen) == bool(model.tank.holes)


@pytest.mark.parametrize("name", SCENES)
def test_no_two_texts_overlap_and_all_are_on_the_sheet(set_of, name):
    for sheet in set_of(name):
        texts = texts_of(sheet.page.elements)
        boxes = [shapely.Polygon(text.corners) for text in texts]
        tree = shapely.STRtree(boxes)
        for one, other in tree.query(np.array(boxes, dtype=object), predicate="intersects").T:
            assert one == other, (sheet.name, texts[one].text, texts[other].text)
        frame = shapely.box(20.0, 10.0, sheet.page.width - 10.0, sheet.page.height - 10.0)  # ISO 5457
        for text, box in zip(texts, boxes, strict=True):
            assert frame.contains(box), (sheet.name, text.text)


def test_no_line_of_the_view_runs_through_the_name_of_a_water(set_of):
    """It stands on white, over all that is drawn of the tank; its own line is over that white again."""
    names = 0
    for sheet in set_of("ledge"):
        elements = list(sheet.page.elements)
        white = {
            one.rings[0]: k for k, one in enumerate(elements) if isinstance(one, Area) and one.grey == 1.0
        }
        for k, text in enumerate(elements):
            if isinstance(text, Text) and text.layer == "water":
                at = white[text.corners]
                assert {one.layer for one in elements[at + 1 : k]} == {"water"}
                names += 1
    assert names >= 4


def test_dxf_is_the_same_in_whatever_order_a_process_has_its_sets(set_of, monkeypatch):
    import ezdxf

    page = set_of("ledge")[0].page
    kinds = ezdxf.entitydb.EntityDB.dxf_types_in_use
    made = []
    for turned in (False, True):
        monkeypatch.setattr(
            ezdxf.entitydb.EntityDB, "dxf_types_in_use", lambda own, t=turned: sorted(kinds(own), reverse=t)
        )
        made.append(dxf(page))
    assert made[0] == made[1]


def test_the_whole_set_of_the_showcase_is_there(set_of):
    wanted = [kind.name for kind in sheet_kinds().values() if not kind.by_name]
    assert [sheet.name for sheet in set_of("gorge")] == wanted


def test_marks_on_sheets_are_those_of_the_cut_list(shipped, set_of):
    from layout3d.shop.cut_list import cut_list

    marks = {piece.mark for piece in cut_list(shipped("gorge")).pieces}
    told = {sheet.name: [text.text for text in texts_of(sheet.page.elements)] for sheet in set_of("gorge")}
    for mark in marks:
        assert told["pipework"].count(mark) == 2, mark  # in the table, and in a balloon
        # each lies across the view of one of these at least
        assert mark in told["plan"] or mark in told["front"], mark
    assert {"G", "H"} <= set(told["plan"]) & set(told["front"]) & set(told["back"])


@pytest.mark.parametrize("name", SCENES)
def test_numbers_on_the_pipework_are_those_of_the_parts_list(shipped, set_of, name):
    """Each fitting, bulkhead and support has its balloon; the table has each row, and that of each pipe."""
    model = shipped(name)
    rows = shop(model).parts
    assert [row.number for row in rows] == list(range(1, len(rows) + 1))
    pipework = [sheet for sheet in set_of(name) if sheet.name == "pipework"]
    assert bool(pipework) == bool(model.runs)
    if not pipework:
        return
    texts = [text.text for sheet in pipework for text in texts_of(sheet.page.elements)]
    plumbing = {body.name for body in model.bodies if body.group == "plumbing"}
    pointed = [row for row in rows if plumbing & set(row.bodies)]
    for row in pointed:
        assert len(row.bodies) == row.amount
        assert texts.count(str(row.number)) == 1 + row.amount, row
        assert f"{row.item} {row.size}" in texts
    for row in rows:
        if row.marks:
            assert texts.count(str(row.number)) == len(row.marks)
    fitted = [
        body.name for body in model.bodies if body.group == "plumbing" and body.kind not in ("pipe", "tube")
    ]
    assert sorted(name for row in pointed for name in row.bodies) == sorted(fitted)


@pytest.mark.parametrize("name", SCENES)
def test_all_that_is_bought_and_drawn_is_found_by_its_number(shipped, set_of, name):
    """Every pane, board, slab, stone, log, bed, medium, plant and piece of equipment has its balloon."""
    model = shipped(name)
    made = shop(model)
    told = [text.text for sheet in set_of(name) for text in texts_of(sheet.page.elements)]
    panes = {pane.name for pane in made.panes}
    for row in made.parts:
        there = {part for part in row.parts if part in panes} or set(row.bodies)
        assert not there or told.count(str(row.number)) >= 1, row
        if panes & there:  # each on the sheet that it faces
            assert told.count(str(row.number)) >= len(there), row
    named = {body.part for body in model.bodies if body.group in ("rock", "wood", "equipment", "plant")}
    assert named <= set(told)


def test_a_balloon_points_to_what_its_row_is_of(shipped):
    """The spot that a leader ends at lies on the body, with nothing opaque before it, by rays."""
    model = shipped("ledge")
    figure, view = sheet_kinds()["front"].figure(model, None), VIEWS["front"]
    opaque = [body for body in model.bodies if body.group not in ("glass", "plant") and body.kind != "light"]
    looked = 0
    for name, spot in figure.seen.items():
        start, end = (tuple(np.array((*spot, out)) @ view.axes) for out in (5.0, -5.0))
        met = {body.name: body.solid.manifold.ray_cast(start, end) for body in opaque}
        near = {one: hits[0].distance for one, hits in met.items() if hits}
        if name in met:
            assert near[name] <= min(near.values()) + 1e-4, (name, near)
            looked += 1
    assert looked > 5
    marks = {label.text: label.mark for label in figure.labels if label.text}
    numbers = numbers_of(shop(model))
    assert marks["boulder"] == numbers["boulder"] != ""
    assert marks["sand"] == numbers["sand"] != ""


def test_what_is_crowded_is_drawn_again_at_a_stated_scale(shipped, set_of):
    """Bulkheads of the showcase's back, 1:10 on A3, and the teeth of a weir; a lone pipe is not."""
    scales = {}
    for name, kind in (("gorge", "plan"), ("gorge", "back"), ("weir", "front"), ("drains", "left")):
        (sheet,) = [sheet for sheet in set_of(name) if sheet.name == kind]
        circles = [e for e in sheet.page.elements if isinstance(e, Circle) and e.layer == "detail"]
        told = [t.text for t in texts_of(sheet.page.elements) if t.layer == "detail"]
        letters = [text for text in told if len(text) == 1]
        titles = [text for text in told if len(text) > 1]
        assert sorted(title[0] for title in titles) == sorted(letters)
        assert len(circles) == 2 * len(titles)
        for large, small, title in zip(circles[::2], circles[1::2], titles, strict=True):
            scale = float(title.split("(1:")[1].split(")")[0])
            # what it was made for stands under it, and what is measured of it at its own scale
            of = [one.of for one in sheet.dimensions if one.scale == pytest.approx(1000.0 / scale)]
            words = title.split(")  ")[1].split(",")
            assert any(part.startswith(words[0]) for part in of) or "slots" in title, (title, of)
            assert large.diameter / small.diameter == pytest.approx(sheet.scale / scale)
            assert sheet.scale / scale >= 2.0
        scales[name, kind] = titles
    assert any("drip" in title or "stream" in title for title in scales["gorge", "plan"])
    assert len(scales["gorge", "back"]) >= 1
    assert all(len(title.split()) > 3 for titles in scales.values() for title in titles)  # and what of it
    assert "slots" in " ".join(scales["weir", "front"])
    assert not scales["drains", "left"]


def test_a_sheet_of_a_scene_with_faults_says_so_first():
    model = build_model(read_scene(ROOT / "scenes" / "faulty" / "overlap.yaml"))

    def told(findings):
        style = style_of(model, findings=findings)
        (plan,) = sheets_of(model, style, names=["plan"])
        return [text.text for text in texts_of(plan.page.elements)]

    words = told(examine(model))
    assert "NOT TO BE BUILT AS DRAWN: 1 fault found by overlap." in words
    assert "1 fault, 0 warnings" in words
    assert "not checked" in told(None)
    assert "0 faults, 0 warnings" in told(())
    assert not any("NOT TO BE BUILT" in text for text in told(()))


def test_every_plant_and_light_is_on_a_sheet_with_the_lights_height(shipped, set_of):
    model = shipped("gorge")
    unlit, planting = (
        next(sheet for sheet in set_of(name) if sheet.name == "planting") for name in ("ledge", "gorge")
    )
    texts = [text.text for text in texts_of(planting.page.elements)]
    assert any("Hang them so that nothing" in text for text in texts)
    assert not any("Hang them" in text.text for text in texts_of(unlit.page.elements))
    for body in model.bodies:
        assert body.group != "plant" or body.part in texts, body.part
    lights = {body.part: body for body in model.bodies if body.kind == "light"}
    heights = {printed.of: printed for printed in planting.printed if "over the waterline" in printed.of}
    assert len(heights) == len(lights) == 3
    for name, body in lights.items():
        assert texts.count(name) == 2  # in the table, and where it hangs
        height = float(body.solid.bounds[0, 2]) - model.waterline
        assert float(heights[f"{name} over the waterline"].text) == pytest.approx(1000 * height, abs=0.05)


@pytest.mark.parametrize("paper", ["A4", "letter", "tabloid"])
def test_texts_stay_apart_on_smaller_paper_too(shipped, paper):
    model = shipped("ledge")
    for sheet in sheets_of(model, style_of(model, paper=paper), names=["front", "pipework", "planting"]):
        boxes = np.array(
            [shapely.Polygon(text.corners) for text in texts_of(sheet.page.elements)], dtype=object
        )
        pairs = shapely.STRtree(boxes).query(boxes, predicate="intersects")
        assert (pairs[0] == pairs[1]).all(), sheet.name


def test_files_hold_what_was_drawn(set_of, pages):
    import ezdxf

    (front,) = [sheet for sheet in set_of("weir") if sheet.name == "front"]
    words = {text.text for text in texts_of(front.page.elements)}
    root = ElementTree.fromstring(svg(front.page))
    assert words == {element.text for element in root.iter("{http://www.w3.org/2000/svg}text")}
    (page,) = pages(pdf([front.page], "x"))
    assert page.size == pytest.approx((420.0, 297.0), abs=0.01)
    assert {"920", "waterline"} <= {text for _, _, text in page.texts}
    document = ezdxf.read(io.StringIO(dxf(front.page).decode()))
    told = [
        (d.dxf.text, d.get_measurement() * d.override().get("dimlfac", 1.0))
        for d in document.modelspace().query("DIMENSION")
    ]
    assert len(told) >= 5
    for text, measured in told:
        assert measured == pytest.approx(float(text), abs=0.051)


def test_sheets_are_the_same_each_time(shipped):
    model = shipped("bow")

    def made():
        (sheet,) = sheets_of(model, style_of(model), names=["front"])
        return svg(sheet.page), pdf([sheet.page], "x"), dxf(sheet.page)

    assert made() == made()


def test_a_sheet_that_does_not_fit_is_refused(shipped):
    model = shipped("weir")
    with pytest.raises(OutOfRange, match=r"the sheet front doesn't fit at 1:2 on A4"):
        sheets_of(model, style_of(model, paper="A4", scale=2.0), names=["front"])
    with pytest.raises(UnknownName, match=r"'fornt' is called|no sheet is called 'fornt'"):
        sheets_of(model, style_of(model), names=["fornt"])
    with pytest.raises(OutOfRange, match=r"passes everything"):
        sheets_of(model, style_of(model), names=["cut"], cut=("x", 9.0))


def test_the_command_writes_and_tells_its_dimensions(tmp_path, capsys):
    scene = str(ROOT / "scenes" / "drains.yaml")
    to = tmp_path / "sheets"
    assert main(["sheet", scene, "--to", str(to), "--sheet", "front", "--sheet", "plan", "--json"]) == 0
    facts = json.loads(capsys.readouterr().out)
    fits(facts, "sheet")
    assert {row["sheet"] for row in facts["dimensions"]} == {"front", "plan"}
    for row in facts["dimensions"]:
        assert row["value"] == pytest.approx(math.dist(row["from"], row["to"]), abs=1e-9)
    assert {path.name for path in to.iterdir()} == {
        "drains.pdf",
        *(f"drains-{sheet}.{kind}" for sheet in ("front", "plan") for kind in ("svg", "dxf")),
    }


def test_the_command_takes_the_date_and_the_scale(tmp_path):
    to = tmp_path / "front.svg"
    scene = str(ROOT / "scenes" / "drains.yaml")
    given = ["--sheet", "front", "--scale", "1:20", "--paper", "A4", "--date", "3 May"]
    assert main(["sheet", scene, "--to", str(to), *given]) == 0
    words = [element.text for element in ElementTree.fromstring(to.read_text()).iter() if element.text]
    assert {"1:20", "A4", "3 May"} <= set(words)


@pytest.mark.parametrize(
    ("options", "told"),
    [
        (["--to", "x.svg", "--sheet", "front", "--sheet", "plan"], "2 sheets for one .svg file"),
        (["--to", "x.png"], "--to ends in '.png'"),
        (["--to", "x", "--scale", "ten"], "a reduction such as 1:10"),
        (["--to", "x", "--scale", "1:0"], "a reduction such as 1:10"),
        (["--to", "x", "--paper", "A7"], "no paper is called 'A7'"),
        (["--to", "x", "--sheet", "top"], "no sheet is called 'top'"),
        (["--to", "x", "--cut", "q=1"], "an axis and a place"),
    ],
)
def test_what_can_not_be_drawn_is_refused_and_nothing_written(tmp_path, capsys, monkeypatch, options, told):
    monkeypatch.chdir(tmp_path)
    assert main(["sheet", str(ROOT / "scenes" / "drains.yaml"), *options]) == 2
    assert told in capsys.readouterr().err
    assert not list(tmp_path.iterdir())


@pytest.mark.parametrize("name", SCENES)
def test_what_is_to_be_read_is_there(shipped, set_of, name):
    """No hole, waterline, fill line or caution is lost for want of room."""
    model = shipped(name)
    told = {sheet.name: [text.text for text in texts_of(sheet.page.elements)] for sheet in set_of(name)}
    for sheet in ("front", "back", "left", "right"):
        assert "waterline" in told[sheet]
        assert ("fill line" in told[sheet]) == bool(model.sumps)
    every = {text for texts in told.values() for text in texts}
    for hole in model.tank.holes.values():
        assert any(text.startswith(f"{hole.name} ⌀") for text in every), hole.name
    for texts in told.values():
        assert "layout3d check" in " ".join(texts)
        assert "while hands are in the water." in " ".join(texts)


@pytest.fixture(scope="module")
def pipework(shipped):
    """The pipework of a scene, drawn once."""
    return sheet_kinds()["pipework"].figure(shipped("drains"), None)


def test_a_long_table_goes_on_beside_itself(pipework):
    rows = tuple((f"P{k}", "7", "d40 pn 10", str(1000 + k)) for k in range(90))
    long = replace(pipework, table=(pipework.table[0], *rows))
    sheet = compose("pipework", "x", long, Style(paper="A3"))
    texts = texts_of(sheet.page.elements)
    boxes = {text.text: shapely.Polygon(text.corners) for text in texts}
    assert {row[0] for row in rows} <= set(boxes)
    assert [text.text for text in texts].count("mark") == 2
    low = min(box.bounds[1] for words, box in boxes.items() if words.startswith("P"))
    assert low > 10.0 + 34.0  # over the title block
    assert boxes["P0"].bounds[0] < boxes["P89"].bounds[0]


def test_many_notes_make_room_for_themselves(pipework):
    notes = tuple(
        f"Note {k} of a sheet that says a good deal of what is not to be forgotten." for k in range(30)
    )
    sheet = compose("pipework", "x", replace(pipework, notes=notes), Style(paper="A3"))
    words = " ".join(text.text for text in texts_of(sheet.page.elements))
    assert all(f"Note {k} " in words for k in range(30))
    frame = shapely.box(0.0, 0.0, sheet.page.width, sheet.page.height).buffer(-9.0)
    assert all(frame.contains(shapely.Polygon(t.corners)) for t in texts_of(sheet.page.elements))


def test_the_fill_line_says_where_the_scene_misses_the_band(shipped):
    """The band's ends are rounded inward; a level outside of it is told beside it."""
    model = shipped("gorge")
    mark = outages(model).careful_mark
    low, high = mark.running
    words = fill_line_note(model)
    printed = [float(part) for part in words.replace("to", " ").split() if part.replace(".", "").isdigit()]
    assert low * 1000.0 <= printed[0] <= low * 1000.0 + 1.0
    assert high * 1000.0 - 1.0 <= printed[1] <= high * 1000.0
    assert "lies" not in words
    faulty = build_model(read_scene(ROOT / "scenes" / "faulty" / "fill-line.yaml"))
    assert "lies above that" in fill_line_note(faulty) or "lies below that" in fill_line_note(faulty)


def test_a_hole_in_the_bend_of_a_round_wall_is_measured_each_way(scene):
    """At 45 degrees no elevation looks straight at it; its height is told all the same."""
    tank = (
        "kind: cylinder_tank, inside_diameter: 600, height: 400, wall: 10, floor: 10, "
        "holes: {a: {panel: wall, angle: 45 deg, top: 100, diameter: 40}}"
    )
    model = scene("", tank=tank, waterline=100)
    printed = {p.text for s in sheets_of(model, style_of(model)) for p in s.printed if p.of == "a"}
    along = 300.0 * (1 + math.sin(math.radians(45.0)))
    back = 300.0 * (1 - math.cos(math.radians(45.0)))
    assert {"300", f"{along:.1f}", f"{back:.1f}"} <= printed


def test_the_plan_tells_where_a_slant_pane_begins_and_ends(scene):
    tank = (
        "kind: tank, footprint: [[0, 0], [500, 0], [900, 400], [900, 900], [0, 900]], height: 400, glass: 12"
    )
    model = scene("", tank=tank, waterline=100)
    (plan,) = (sheet for sheet in sheets_of(model, style_of(model)) if sheet.name == "plan")
    assert {p.text for p in plan.printed if p.of == "tank inside corner"} == {"500", "400"}


def test_no_clip_is_in_the_plan_whose_pipe_is_not(shipped, monkeypatch):
    """Pipes deep below the tank are left out; clips reach from them up to the stand's top."""
    model, drawn = shipped("weir"), []

    def told(bodies, _view):
        drawn.extend(body.name for body in bodies)
        raise InterruptedError

    monkeypatch.setattr("layout3d.sheets.kinds.plan.drawn_figure", told)
    with pytest.raises(InterruptedError):
        sheet_kinds()["plan"].figure(model, None)
    deep = model.tank.floor - 0.2
    clips = {clip.body: clip.at[2] for built in model.runs for clip in built.data.supports}
    low = {body for body, z in clips.items() if z < deep}
    assert any(model.body(body).solid.bounds[1, 2] > deep for body in low)
    assert clips.keys() & set(drawn) == clips.keys() - low


def test_a_picture_holds_its_own_styles_and_signs(shipped):
    """Put into a page, a sheet changes nothing else there; signs that XML lacks are blanks."""
    model = shipped("drains")
    (sheet,) = sheets_of(model, style_of(model, date="1 \x01 <May>"), names=["plan"])
    text = svg(sheet.page)
    root = ElementTree.fromstring(text)
    assert root.get("class") == "sheet"
    rules = text.split("<style>")[1].split("</style>")[0].split("}")
    assert all(
        part.strip().startswith(".sheet ") for rule in rules if rule for part in rule.split("{")[0].split(",")
    )
    assert "1   <May>" in [element.text for element in root.iter()]


@pytest.mark.parametrize("cut", [("y", 0.2), ("z", 0.1), ("x", 0.05)])
def test_a_cut_any_way_is_hatched_and_says_where_it_is(shipped, cut):
    model = shipped("ledge")
    (sheet,) = sheets_of(model, style_of(model, paper="tabloid"), names=["cut"], cut=cut)
    layers = {element.layer for element in sheet.page.elements}
    assert {"cut", "hatching"} <= layers
    assert f"Cut at {cut[0]} = " in " ".join(text.text for text in texts_of(sheet.page.elements))


def test_nothing_is_drawn_in_a_cut_face_but_its_hatching(scene):
    """Behind a slab that the plane goes through, a rock's lines end at the slab's face."""
    model = scene(
        "stone: {kind: rock, seed: 1, size: [200, 150, 120], at: {left: 600, front: 250, bottom: 0}}"
    )
    view = VIEWS["front"]
    stone = model.body("stone")
    middle = float(stone.solid.centroid[1])
    figure = drawn_figure([stone], view, behind=-middle)
    (face,) = figure.faces
    assert face.shape.area > 0.005
    inside = face.shape.buffer(-1e-4)
    for _, segments in figure.lines:
        for segment in segments:
            assert not shapely.LineString(segment).intersects(inside)


def test_long_figures_of_running_dimensions_stay_in_the_frame(scene):
    tank = (
        "kind: tank, footprint: [[8, 0], [24, 0], [32, 14], [24, 28], [8, 28], [0, 14]], height: 20, "
        "glass: 3/8, holes: {a: {panel: side_2, start: 5, bottom: 10, diameter: 1 1/2}}"
    )
    model = scene("", tank=tank, units="in", waterline=8)
    (plan,) = sheets_of(model, style_of(model, paper="tabloid"), names=["plan"])
    assert "26 15/32" in [text.text for text in texts_of(plan.page.elements)]
    top = max(max(y for _, y in text.corners) for text in texts_of(plan.page.elements))
    assert top < plan.page.height - 10.0


def test_sheets_and_templates_speak_the_units_that_reports_do(scene):
    """A scene written in inches may have its reports in millimetres: `style: metric`."""
    hole = "{panel: back, left: 2, bottom: 2, diameter: 1}"
    tank = f"kind: tank, inside: [10, 8, 6], glass: 1/4, holes: {{a: {hole}}}"
    model = scene("", tank=tank, units="in", waterline=2, more="style: metric\n")
    (plan,) = sheets_of(model, style_of(model), names=["plan"])
    assert {"266.7", "50.8"} <= {printed.text for printed in plan.printed}  # 10 1/2 in outside, 2 in
    (template,) = templates_of(model)
    assert "a  ⌀ 25.4 mm" in [text.text for text in texts_of(template.elements)]
