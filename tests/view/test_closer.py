"""Looking closer and furnishing: colours, levels, spots, pictures, parts and steps, in one window."""

from dataclasses import replace

import numpy as np
import pytest
import trimesh
from PIL import Image
from PySide6.QtCore import Qt
from windows import answer as answered
from windows import by_others, middle_of, picture, settle

from layout3d.draw import picture as draw
from layout3d.draw.camera import Camera, camera_at
from layout3d.draw.stage import set_stage
from layout3d.model.build import build_model
from layout3d.scene.reader import read_scene
from layout3d.units import show
from layout3d.view.closer import AskPicture, spot_entry
from layout3d.view.furnishing import AddPart
from layout3d.view.looks import looks_of
from layout3d.water.gauge import tank_table

SCENE = """\
format: 1
units: mm
waterline: 150
parts:
  tank: {kind: tank, inside: [500, 300, 300], glass: 6}
  stone:   # the only one
    kind: rock
    size: [70, 60, 50]
    at: {left: 400, front: 120, bottom: 0}
  pump:
    kind: pump
    model: small 1000
    outlet: d20 pn 16
    at: {left: 80, back: 80, bottom: 0}
  bar:
    kind: run
    pipe: d20 pn 16
    start: pump.outlet
    route:
      - up: 100   # over the water
      - {right: 250, drip: {diameter: 2 mm, pitch: 40, margin: 40, angles: [0 deg]}}
      - cap
"""


@pytest.fixture
def window(as_opened):
    return as_opened(SCENE)


def changed_lines(window):
    lines = window.document.difference().splitlines()
    return [line for line in lines if line[0] in "+-" and line[:3] not in ("+++", "---")]


def test_a_tank_that_is_chosen_is_still_looked_through(window):
    window.parts.choose("stone")
    before = picture(window)
    there = middle_of(window, "stone")
    window.parts.choose("tank")
    after = picture(window)
    assert (np.abs(after - before).max(axis=2) > 12).sum() > 200
    window.parts.choose("")
    # the stone behind the glass differs from the glass beside it
    one, other = after[there.y(), there.x()], after[there.y(), there.x() - 60]
    assert np.abs(one - other).max() > 8


@pytest.mark.parametrize("colour", ["velocity", "head", "clearance", "height"])
def test_things_are_coloured_by_a_figure_with_a_key(qtbot, window, colour):
    before = picture(window)
    window.closer.colours.choice.setCurrentIndex(window.closer.colours.choice.findData(colour))
    qtbot.waitUntil(lambda: window.looks.colour == colour, timeout=60_000)
    assert window.looks.trouble == ""
    assert window.closer.colours.key.accessibleName().startswith(window.looks.key.title)
    assert (np.abs(picture(window) - before).max(axis=2) > 12).sum() > 200
    window.closer.colours.choice.setCurrentIndex(0)
    qtbot.waitUntil(lambda: window.looks.colour == "", timeout=60_000)
    assert (np.abs(picture(window) - before).max(axis=2) > 12).sum() < 200


def test_the_slider_fills_and_empties_the_tank_and_tells_what_it_holds(qtbot, window):
    before, bar = picture(window), window.closer.water
    table = tank_table(build_model(read_scene(window.document.path, text=SCENE)))
    bar.slider.setValue(0)
    assert window.canvas._poured == []
    bar.slider.setValue(bar.slider.maximum() // 4)
    assert bar.level == pytest.approx(table.top / 4)
    assert f"{table.volume(bar.level) * 1000:.3g}"[:3] in bar.told.text()
    assert len(window.canvas._poured) == 2
    assert window.document.text == SCENE
    bar.keep.trigger()
    assert changed_lines(window) == ["-waterline: 150", f"+waterline: {table.top * 250:g}"]
    settle(qtbot, window)
    bar.choice.setCurrentIndex(0)
    window.hands.take(SCENE)
    settle(qtbot, window)
    assert (np.abs(picture(window) - before).max(axis=2) > 12).sum() < 200


def test_two_points_clicked_with_shift_tell_how_far_they_are_apart(qtbot, window):
    window.looking.look_from("front", whole=True)
    qtbot.waitUntil(lambda: window.canvas.full, timeout=10_000)
    ends = [middle_of(window, part) for part in ("stone", "pump")]
    points = [window.canvas.under(*end.toTuple())[1] for end in ends]
    for end in ends:
        qtbot.mouseClick(window.canvas, Qt.MouseButton.LeftButton, Qt.KeyboardModifier.ShiftModifier, end)
    apart = np.subtract(*points)
    told = window.statusBar().currentMessage()
    assert float(told.split()[0]) == pytest.approx(np.linalg.norm(apart) * 1000, rel=2e-3)
    assert float(told.split(": ")[1].split()[0]) == pytest.approx(abs(apart[0]) * 1000, rel=2e-3)
    assert "rule" in window.canvas.actors


def test_what_is_told_below_stays_where_levels_are_told_anew(window):
    window.statusBar().showMessage("told")
    window.levelled.emit(window.closer._levels)
    assert window.statusBar().currentMessage() == "told"
    window.closer.water.choice.currentIndexChanged.emit(0)  # after a failure, by hand
    assert window.statusBar().currentMessage() == ""


def test_it_is_worked_by_keys_alone(qtbot, window):
    window.activateWindow()
    window.parts.tree.setFocus()
    qtbot.waitUntil(window.parts.tree.hasFocus, timeout=10_000)
    window.parts.choose("stone")
    qtbot.keyClick(window.parts.tree, Qt.Key.Key_Escape)
    assert window.canvas.hasFocus()
    qtbot.keyClick(window.canvas, Qt.Key.Key_Right)
    assert "left: 405" in window.document.text
    every = window.menuBar().actions()
    while any(action.menu() for action in every):
        every = [one for action in every for one in (action.menu().actions() if action.menu() else [action])]
    keys = [action.shortcut().toString() for action in every if not action.shortcut().isEmpty()]
    assert len(keys) == len(set(keys))
    assert all(
        not action.shortcut().isEmpty()
        for action in every
        if action.text() and "none yet" not in action.text()
    )


def test_a_spot_is_kept_in_the_scene_and_flown_to(qtbot, window):
    window.looking.look_from("three_quarter", whole=True)
    begun = window.canvas.eye
    assert window.closer.keep_spot("low")
    settle(qtbot, window)
    assert "cameras:" in window.document.text
    spot = build_model(read_scene(window.document.path, text=window.document.text)).cameras["low"]
    assert spot.at == pytest.approx(begun.position, abs=1e-4)
    assert window.looks.cameras["low"] == spot
    window.looking.turn_view(0.5, 0.1)
    window.closer.go_to("low")
    qtbot.waitUntil(lambda: window.canvas._flight is None, timeout=10_000)
    assert window.canvas.eye.position == pytest.approx(begun.position, abs=1e-4)
    assert not window.closer.keep_spot("not a name")


def test_a_spot_of_a_flat_view_shows_as_much(window):
    flat = Camera(
        position=(0.2, -1, 0.1),
        focal=(0.2, 0.1, 0.1),
        up=(0, 0, 1),
        parallel=True,
        size=(800, 600),
        half_height=0.2,
    )
    text = SCENE + f"cameras:\n  front: {spot_entry(flat, 'mm')}\n"
    spot = build_model(read_scene(window.document.path, text=text)).cameras["front"]
    again = camera_at(spot, size=(800, 600))
    assert again.pixels_per_metre(again.focal)[0] == pytest.approx(
        flat.pixels_per_metre(flat.focal)[0], rel=2e-3
    )


def test_a_picture_from_here_is_the_one_that_picture_draws_from_the_same_spot(qtbot, window, tmp_path):
    """By the keys alone, with what is hidden left out; the title alone is another, for no spot is named."""
    assert window.closer.keep_spot("low")
    settle(qtbot, window)
    window.parts.choose("pump")
    qtbot.keyClick(window, "h")
    here, there = tmp_path / "here.png", tmp_path / "there.png"
    shape = window.canvas.eye.size
    asked = AskPicture(window, shape)
    assert asked.size_chosen == tuple(round(side * 1600 / max(shape)) for side in shape)
    size = tuple(round(side * 480 / min(shape)) for side in shape)
    window.closer.take_picture(here, size, labels=False, findings=True)
    qtbot.waitUntil(lambda: "is written" in window.statusBar().currentMessage(), timeout=60_000)
    model = build_model(read_scene(window.document.path, text=window.document.text))
    stage = set_stage(model, hide=("pump",))
    draw.picture(stage, spot="low", to=there, size=size, labels=False, findings=window.judged.findings)
    one, other = (np.asarray(Image.open(file)).astype(int) for file in (here, there))
    assert one.shape == other.shape == (*reversed(size), 3)
    below = round(size[1] * 0.25)  # the title and its veil
    # a spot is written to 0.1 mm and 0.1°: edges differ by less than a pixel
    assert (np.abs(one - other)[below:].max(axis=2) > 12).mean() < 0.01
    assert other[below:].std() > 5.0
    window.closer.take_picture(tmp_path / "nowhere" / "here.png", size, labels=False, findings=False)
    qtbot.waitUntil(lambda: "no folder" in window.statusBar().currentMessage(), timeout=60_000)


def test_a_part_that_is_added_begins_over_the_ground_of_the_tank(window):
    canvas = window.canvas
    canvas.look(replace(canvas.eye, focal=(0.2, 9.0, -0.4)))
    x, y, z = window.looked_at()
    assert x == pytest.approx(0.2)
    assert 0.0 < y < 1.0
    assert z > window.looks.ground.at(x, y) >= 0.0


def test_a_part_is_added_from_the_kinds_copied_and_taken_out(qtbot, window):
    asked = AddPart(window)
    assert asked.name.text() == "rock_1"
    asked.fields["size"].setText("[50, 40, a lot]")
    asked._agree()
    assert "a lot" in asked.told.text()
    asked.fields["size"].setText("[50, 40, 30]")
    asked._agree()
    window.furnishing.add(asked.text, "rock_1")
    settle(qtbot, window)
    assert window.parts.current == "rock_1"
    (line,) = changed_lines(window)
    assert line.startswith("+  rock_1: {kind: rock, at: {left: ")
    window.furnishing.copy()
    settle(qtbot, window)
    assert window.parts.current == "rock_2"
    assert not any(finding.rule == "overlap" for finding in window.judged.findings)
    for part in ("rock_2", "rock_1"):
        window.parts.choose(part)
        shown = window.version
        window.furnishing.take_out()
        qtbot.waitUntil(lambda: window.version > shown, timeout=60_000)  # noqa: B023 # called at once
        settle(qtbot, window)
    assert window.document.text == SCENE
    assert window.parts.current == ""
    for back in (True, False):
        window.hands._step(back=back)
        settle(qtbot, window)
        assert window.parts.current == ("rock_1" if back else "")
    window.choose_when_shown("rock_1")
    window.parts.choose("stone")  # who has chosen something else meanwhile keeps that
    for back in (True, False):
        window.hands._step(back=back)
        settle(qtbot, window)
        assert window.parts.current == "stone"
    window.parts.choose("tank")
    window.furnishing.take_out()
    told = window.statusBar().currentMessage
    qtbot.waitUntil(lambda: "can't be taken out" in told(), timeout=60_000)
    assert window.document.text == SCENE


def test_what_needs_a_part_that_is_taken_out_is_named_and_goes_with_it_or_stays(qtbot, window):
    def take_out(words):
        window.parts.choose("pump")
        asked = answered(words)
        qtbot.keyClick(window, Qt.Key.Key_Delete, Qt.KeyboardModifier.ControlModifier)
        qtbot.waitUntil(lambda: bool(asked), timeout=60_000)
        assert asked == ["These need pump, and can't stay as they are without it:\n\nbar"]
        with qtbot.waitActive(window, timeout=60_000):  # the question was
            window.activateWindow()

    take_out("Cancel")
    assert window.document.text == SCENE
    take_out("Take them out as well")
    assert window.document.text == SCENE.split("  pump:")[0]
    settle(qtbot, window)
    assert not window.findings.mistakes
    qtbot.keyClick(window, "z", Qt.KeyboardModifier.ControlModifier)
    settle(qtbot, window)
    take_out("Take pump out alone")
    assert window.document.text == SCENE.split("  pump:")[0] + "  bar:" + SCENE.split("  bar:")[1]
    qtbot.waitUntil(lambda: bool(window.findings.mistakes), timeout=60_000)
    window.parts.choose("bar")  # what can't be built is taken out as it stands
    qtbot.keyClick(window, Qt.Key.Key_Delete, Qt.KeyboardModifier.ControlModifier)
    assert window.document.text == SCENE.split("  pump:")[0]


def test_a_piece_is_let_go_and_stays_again(qtbot, window):
    window.hands.take(SCENE.replace("bottom: 0}\n  pump", "bottom: 60}\n  pump"))
    window.parts.choose("stone")
    window.furnishing.let_go()
    settle(qtbot, window)
    assert next(thing.box for thing in window.looks.things if thing.part == "stone")[0][2] < 0.001
    window.furnishing.let_go()
    settle(qtbot, window)
    assert next(thing.box for thing in window.looks.things if thing.part == "stone")[0][2] > 0.05


def test_a_runs_steps_are_written_anew_one_by_one(qtbot, window):
    steps = window.furnishing.steps
    window.parts.choose("bar")
    assert [steps.item(row, 0).text() for row in range(3)][::2] == ["{up: 100}", "cap"]
    steps.item(0, 0).setText("up: 140")
    settle(qtbot, window)
    assert changed_lines(window) == [
        "-      - up: 100   # over the water",
        "+      - up: 140   # over the water",
    ]
    assert window.looks.things[-1].box[1][2] > 0.1
    steps.setCurrentCell(0, 0)
    window.activateWindow()
    window.looking.go_to(window.docks["Steps"])
    qtbot.waitUntil(steps.hasFocus, timeout=10_000)
    qtbot.keyClick(steps, Qt.Key.Key_Return, Qt.KeyboardModifier.ControlModifier)
    assert steps.item(1, 0).text() == "{up: 100}"
    settle(qtbot, window)
    assert not window.findings.mistakes  # a new step is long enough for its fittings
    steps.item(1, 0).setText("back: 3")
    qtbot.waitUntil(lambda: bool(window.findings.mistakes), timeout=60_000)
    assert steps.hasFocus()  # what is typed there goes on going there
    assert not steps.visibleRegion().isEmpty()
    assert "parts.bar.route" in window.statusBar().currentMessage()
    steps.setCurrentCell(0, 0)
    at = steps.visualItemRect(steps.item(1, 0)).center()
    qtbot.mouseClick(steps.viewport(), Qt.MouseButton.LeftButton, Qt.KeyboardModifier.ControlModifier, at)
    assert {index.row() for index in steps.selectedIndexes()} == {1}  # which is what the keys work on
    qtbot.keyClick(steps, Qt.Key.Key_Delete)
    assert [steps.item(row, 0).text()[:6] for row in range(steps.rowCount())] == ["{up: 1", "{right", "cap"]
    steps.item(0, 0).setText("upp: 140")
    assert steps.item(0, 0).text() == "{up: 140}"
    assert window.statusBar().currentMessage() == "step 'upp' is not known; nearest: 'up'"
    assert all(action.isShortcutVisibleInContextMenu() for action in steps.actions())
    assert steps.horizontalHeaderItem(0).text() == "Step of bar"
    window.parts.choose("stone")
    assert steps.rowCount() == 0
    assert steps.horizontalHeaderItem(0).text() == "Choose a run to see its steps"


def test_what_was_saved_stands_beside_what_is_shown_with_what_differs(qtbot, window, monkeypatch):
    window.hands.take(
        SCENE.replace("left: 400, front: 120", "left: 80, front: 220").replace(
            "waterline: 150", "waterline: 120"
        )
    )
    settle(qtbot, window)
    other = window.variants.show_text(window.document.path, SCENE, "as saved")
    qtbot.waitUntil(lambda: other.judged is not None and other.looks is not None, timeout=60_000)
    assert other.figures.item(0, 0).text() == "water, net"
    assert other.figures.item(0, 1).text() == window.judged.rows[0].shown
    assert other.figures.item(0, 2).text() == other.judged.rows[0].shown
    by = window.judged.rows[0].value - other.judged.rows[0].value
    assert other.figures.item(0, 3).text() == f"−{show(-by, 'volume')}"
    told = [
        (other.findings.item(row, 0).text(), other.findings.item(row, 1).text())
        for row in range(other.findings.rowCount())
    ]
    assert any(side == "in the window" and text.startswith("overlap") for side, text in told)
    assert not any(side == "in the other" and text.startswith("overlap") for side, text in told)
    assert "-waterline: 150" in other.lines.toPlainText()
    assert "right: as saved<" in other.head.text()
    monkeypatch.setattr("layout3d.view.hands.agreed", lambda *_: True)
    qtbot.keyClick(window, "s", Qt.KeyboardModifier.ControlModifier)
    assert "as it was saved before" in other.head.text()
    window.looking.turn_view(0.4, 0.0)
    qtbot.waitUntil(lambda: other.canvas.eye.position == window.canvas.eye.position, timeout=10_000)
    window.parts._rows["stone"].setCheckState(0, Qt.CheckState.Unchecked)
    assert other.canvas._hidden == window.canvas._hidden == {"stone"}
    window.cut.axis.setCurrentIndex(2)
    qtbot.waitUntil(lambda: (other.looks.cut or 0) == window.cut.place, timeout=60_000)
    # a text that can't be used is not like the other one, whatever was told before it
    window.hands.take(window.document.text.replace("waterline: 120", "waterline: wine"))
    assert "not compared" in other.told.text()
    qtbot.waitUntil(lambda: "mistake" in other.told.text(), timeout=60_000)
    assert other.figures.rowCount() == other.findings.rowCount() == 0
    assert "wine" in other.lines.toPlainText()
    window.variants.close()
    assert other.judge._process is None


def test_a_scene_beside_follows_its_own_file_and_the_meshes_that_it_names(qtbot, window, tmp_path):
    mesh, file = tmp_path / "block.stl", tmp_path / "other.yaml"
    text = SCENE.replace("size: [70, 60, 50]", "mesh: block.stl\n    file_unit: mm")
    trimesh.creation.box((80, 60, 50)).export(mesh)
    file.write_text(text)
    other = window.variants.show_text(file, text, "other.yaml")

    def high():
        boxes = [thing.box for thing in other.looks.things if thing.part == "stone"] if other.looks else []
        return round(boxes[0][1][2] - boxes[0][0][2], 4) if boxes else 0.0

    qtbot.waitUntil(lambda: high() == 0.050, timeout=60_000)
    trimesh.creation.box((80, 60, 70)).export(mesh)
    qtbot.waitUntil(lambda: high() == 0.070, timeout=60_000)
    by_others(file, text.replace("waterline: 150", "waterline: 140"))

    def level():
        return other.judged.figures["waterline"] if other.judged else 0.0

    qtbot.waitUntil(lambda: level() == 0.140, timeout=60_000)
    by_others(file, text.replace("waterline: 150", "waterline: wine"))
    qtbot.waitUntil(lambda: "wine" in other.told.text(), timeout=60_000)
    window.variants.close()


def test_both_scenes_are_coloured_by_one_figure_with_keys_that_span_both(qtbot, window):
    shallow = SCENE.replace("waterline: 150", "waterline: 120").replace(
        "size: [70, 60, 50]", "size: [70, 60, 90]"
    )
    other = window.variants.show_text(window.document.path, shallow, "shallow")
    choice = window.closer.colours.choice
    choice.setFocus()
    qtbot.keyClick(choice, Qt.Key.Key_End)  # by height over water
    qtbot.waitUntil(lambda: window.colour == "height", timeout=10_000)

    def alike():
        both = [window.looks, other.looks]
        return all(one and one.colour == "height" for one in both) and both[0].key.span == both[1].key.span

    qtbot.waitUntil(alike, timeout=60_000)
    slider = window.closer.water.slider
    slider.setFocus()
    qtbot.keyClick(slider, Qt.Key.Key_PageUp)
    level = window.closer.water.level
    assert [one.full.GetBounds()[5] for one in other.canvas._poured] == pytest.approx([level] * 2, abs=1e-3)
    low, high = window.looks.key.span
    assert low == pytest.approx(-0.150, abs=1e-4)  # the window's floor
    alone = looks_of(build_model(read_scene(window.document.path, text=shallow)), colour="height")
    assert high == pytest.approx(alone.key.span[1])
    assert alone.key.span[0] > low
    assert other.key.accessibleName().startswith("height over the waterline: −150 mm")
    other.shut.click()
    qtbot.waitUntil(lambda: window.looks.key.span[1] < high, timeout=60_000)  # its own again
    qtbot.keyClick(window, "g")  # after the last, the first
    qtbot.waitUntil(lambda: window.looks.colour == "", timeout=60_000)


def test_a_value_in_place_of_a_name_is_asked_about_and_arithmetic_is_written_over(qtbot, window, monkeypatch):
    text = SCENE.replace("waterline: 150", "values: {deep: 150}\nwaterline: deep").replace(
        "left: 400", "left: deep + 250"
    )
    window.hands.take(text)
    settle(qtbot, window)
    assert window.hands.write_typed("parts.stone.at.left", "deep + 240")
    assert "left: deep + 240," in window.document.text
    for answer, expected in (
        (None, text),
        (True, text.replace("deep: 150", "deep: 130")),
        (False, text.replace("waterline: deep", "waterline: 130")),
    ):
        window.hands.take(text)
        monkeypatch.setattr("layout3d.view.hands.asked_everywhere", lambda *_, a=answer: a)
        window.hands.write_typed("waterline", "130")
        assert window.document.text == expected


def test_a_slider_of_a_named_value_changes_it(qtbot, window):
    window.hands.take(SCENE.replace("waterline: 150", "values: {deep: 150}\nwaterline: deep"))
    slider = window.values.cellWidget(0, 2)
    slider.setValue(80)
    assert "values: {deep: 120}" in window.document.text
    assert window.values.cellWidget(0, 2) is slider
    settle(qtbot, window)
    assert window.judged.figures["waterline"] == pytest.approx(0.12)
    window.hands._step(back=True)
    assert slider.value() == 100
