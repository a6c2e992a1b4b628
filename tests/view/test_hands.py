"""Parts moved by hand: real mouse and key events, and what they leave in the file."""

import errno
import os
import random
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from PySide6.QtCore import QEvent, QPoint, Qt, QTimer
from PySide6.QtGui import QImage, QMouseEvent
from PySide6.QtWidgets import QApplication, QMessageBox
from windows import answer, by_others, middle_of, settle

from layout3d.checks.examine import examine
from layout3d.draw.pieces import Lines
from layout3d.model.build import build_model
from layout3d.scene.reader import read_scene
from layout3d.solid.placement import Placement
from layout3d.view.answers import Ahead, Fit, Placed
from layout3d.view.canvas import REST
from layout3d.water.figures import figures

LEFT = Qt.MouseButton.LeftButton


@pytest.fixture(autouse=True)
def agrees(monkeypatch):
    monkeypatch.setattr("layout3d.view.hands.agreed", lambda _parent, _difference: True)


def pull(qtbot, window, start, end, wait=False):
    canvas = window.canvas
    qtbot.mousePress(canvas, LEFT, pos=start)
    for step in range(1, 7):
        qtbot.mouseMove(canvas, start + (end - start) * step / 6)
        QApplication.processEvents()
    if wait:
        qtbot.waitUntil(
            lambda: window.hands.felt is not None and bool(window.hands.felt.meets), timeout=60_000
        )
    qtbot.mouseRelease(canvas, LEFT, pos=end)


def rules_of(window):
    return {finding.rule for finding in window.judged.findings}


def changed_lines(window):
    return [
        line
        for line in window.document.difference().splitlines()
        if line[0] in "+-" and line[:3] not in ("+++", "---")
    ]


def test_a_stone_dragged_into_another_is_seen_at_once_found_and_taken_back(qtbot, window, window_file):
    before = window_file.read_text()
    qtbot.keyClick(window, "2")
    qtbot.waitUntil(lambda: window.canvas._flight is None, timeout=60_000)
    assert "overlap" not in rules_of(window)
    start = middle_of(window, "stone")
    pull(qtbot, window, start, QPoint(middle_of(window, "other").x() - 25, start.y()), wait=True)
    assert "other" in window.canvas._tints
    settle(qtbot, window)
    assert "overlap" in rules_of(window)
    # along the front the stone went to the right alone: one line of the file, its remark kept
    old, new = changed_lines(window)
    assert old.strip() == "-    at: {left: 110, front: 120, bottom: 0}   # where it lay by hand"
    assert new.endswith("front: 120, bottom: 0}   # where it lay by hand")
    qtbot.keyClick(window, Qt.Key.Key_Z, Qt.KeyboardModifier.ControlModifier)
    settle(qtbot, window)
    assert "overlap" not in rules_of(window)
    assert window.document.text == before
    qtbot.keyClick(
        window, Qt.Key.Key_Z, Qt.KeyboardModifier.ControlModifier | Qt.KeyboardModifier.ShiftModifier
    )
    settle(qtbot, window)
    assert "overlap" in rules_of(window)
    assert window_file.read_text() == before
    qtbot.keyClick(window, Qt.Key.Key_S, Qt.KeyboardModifier.ControlModifier)
    assert window_file.read_text() == window.document.text != before
    assert not window.isWindowModified()


def test_where_a_drag_pauses_is_judged_before_it_is_let_go(qtbot, window, monkeypatch):
    asked, ask = [], window.judge.ask
    monkeypatch.setattr(window.judge, "ask", lambda question: (asked.append(question), ask(question)))
    start = middle_of(window, "stone")
    qtbot.mousePress(window.canvas, LEFT, pos=start)
    for way in (QPoint(20, 0), QPoint(40, 5)):
        qtbot.mouseMove(window.canvas, start + way)
        assert asked[-1] == Ahead("")  # it goes on: what was begun at a place before is past
        qtbot.waitUntil(lambda: asked[-1] != Ahead(""), timeout=60_000)
    assert not window.document.changed
    qtbot.mouseRelease(window.canvas, LEFT, pos=start + QPoint(40, 5))
    settle(qtbot, window)
    assert window.document.changed
    ahead = [one.text for one in asked if isinstance(one, Ahead) and one.text]
    assert len(set(ahead)) == 2
    assert ahead[-1] == window.document.text == asked[-1].text


def test_a_locked_part_stays_and_the_view_turns(qtbot, window):
    window.parts._rows["stone"].setCheckState(1, Qt.CheckState.Checked)
    before, text = window.canvas.eye, window.document.text
    start = middle_of(window, "stone")
    pull(qtbot, window, start, start + QPoint(80, 0))
    assert window.document.text == text
    assert window.canvas.eye != before


def test_keys_move_and_turn_the_chosen_part_by_the_scenes_step(qtbot, window):
    qtbot.mouseClick(window.canvas, LEFT, pos=middle_of(window, "stone"))
    for key in (Qt.Key.Key_Right, Qt.Key.Key_Up, Qt.Key.Key_PageUp):
        qtbot.keyClick(window.canvas, key)
    assert window.fields.texts()["parts.stone.at.left"] == "115"
    assert window.fields.texts()["parts.stone.at.front"] == "125"
    assert window.fields.texts()["parts.stone.at.bottom"] == "5"
    qtbot.keyClick(window.canvas, ",")
    assert window.fields.texts()["parts.stone.turn"] == "5 deg"
    settle(qtbot, window)
    assert not window.findings.mistakes


def test_a_value_typed_into_the_form_is_the_files(qtbot, window):
    row = list(window.values.texts()).index("values.water")
    window.values.item(row, 1).setText("130")
    settle(qtbot, window)
    assert changed_lines(window) == ["-  water: 120   # over the floor", "+  water: 130   # over the floor"]
    assert window.judged.figures["waterline"] == pytest.approx(0.13)
    shown = [window.figures.item(0, column).text() for column in range(3)]
    assert shown[0] == "water, net"
    assert shown[2].startswith("+")


def test_a_mistake_that_is_typed_is_told_by_the_files_name_and_what_to_do(qtbot, window, window_file):
    window.parts.choose("stone")
    window.docks["Part"].raise_()
    window.fields.setFocus()
    window.fields.item(1, 1).setText("3]")
    qtbot.waitUntil(lambda: bool(window.findings.mistakes), timeout=60_000)
    told = window.statusBar().currentMessage()
    assert told.startswith(f"{window_file.name}:12:")
    assert "in '3]'; expected a number" in told
    window.hands._step(back=True)
    settle(qtbot, window)


def test_what_others_wrote_is_not_overwritten_unasked(qtbot, window, window_file, monkeypatch):
    window.hands.write({"parts.stone.at.left": "120"})
    theirs = window_file.read_text().replace("title: Small", "title: Theirs")
    by_others(window_file, theirs)
    monkeypatch.setattr(QMessageBox, "question", lambda *_: QMessageBox.StandardButton.Cancel)
    window.hands.save()
    assert window_file.read_text() == theirs
    qtbot.waitUntil(lambda: window.document.news == theirs, timeout=60_000)
    assert window.windowTitle().endswith("changed on disk")
    assert "-title: Theirs" in window.document.difference().splitlines()  # goes where it is written over
    window.hands._step(back=True)
    window.hands.save()
    assert "take that" in window.statusBar().currentMessage()
    assert window_file.read_text() == theirs
    window.hands._step(back=False)
    monkeypatch.setattr(QMessageBox, "question", lambda *_: QMessageBox.StandardButton.Yes)
    window.hands.save()
    assert "title: Small" in window_file.read_text()
    assert window.statusBar().currentMessage() == "small.yaml is saved."
    assert not window.take_news.isEnabled()


def test_what_others_wrote_and_took_back_is_news_no_more(qtbot, window, window_file):
    theirs = window_file.read_text()
    window.hands.write({"parts.stone.at.left": "120"})
    by_others(window_file, theirs.replace("title: Small", "title: Theirs"))
    qtbot.waitUntil(window.take_news.isEnabled, timeout=60_000)
    by_others(window_file, theirs)
    qtbot.waitUntil(lambda: not window.take_news.isEnabled(), timeout=10_000)
    assert window.windowTitle() == "Small  ·  small.yaml[*]"
    assert window.statusBar().currentMessage() == ""
    assert "left: 120" in window.document.text


def test_a_file_that_is_there_again_is_not_told_to_be_missing(qtbot, window, window_file):
    text = window_file.read_text()
    window.hands.write({"parts.stone.at.left": "120"})
    settle(qtbot, window)
    window_file.unlink()
    qtbot.waitUntil(lambda: bool(window.findings.mistakes), timeout=60_000)
    assert "no such file" in window.findings.mistakes[0].message
    by_others(window_file, text.replace("title: Small", "title: Theirs"))
    qtbot.waitUntil(lambda: not window.findings.mistakes, timeout=60_000)
    assert "left: 120" in window.document.text
    assert "Take it: File menu" in window.statusBar().currentMessage()


def test_undo_tells_that_nothing_is_left_and_takes_back_what_was_told_of_a_drag(window):
    window.hands.write({"parts.stone.at.left": "120"})
    window.over.setText("stone meets other")
    window.hands._step(back=True)
    assert window.over.text() == ""
    window.hands._step(back=True)
    assert window.statusBar().currentMessage() == "Nothing is left to undo."


def test_what_was_told_of_a_text_before_is_past_once_another_one_is_shown(window):
    window.hands.write({"parts.stone.at.left": "120"})
    window.closer.mark((0.1, 0.1, 0.0))
    window.closer.mark((0.2, 0.1, 0.0))
    assert window.statusBar().currentMessage().startswith("100 mm: ")
    window.hands._step(back=True)
    assert window.statusBar().currentMessage() == ""


def test_what_can_not_be_written_is_told_and_stays_and_goes_into_a_copy(
    window, window_file, monkeypatch, tmp_path
):
    window.hands.write({"parts.stone.at.left": "120"})
    before, shown = window_file.read_text(), []

    def full(*_, **__):
        raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))

    monkeypatch.setattr(QMessageBox, "warning", lambda _parent, _title, words: shown.append(words))
    with monkeypatch.context() as patch:
        patch.setattr(Path, "write_text", full)
        window.hands.save()
    assert "No space left" in shown[0]
    assert "still here" in shown[0]
    assert window_file.read_text() == before
    assert window.document.changed
    assert [file.name for file in window_file.parent.glob(".*.yaml")] == []
    window.hands.save_copy(tmp_path / "copy.yaml")
    assert (tmp_path / "copy.yaml").read_text() == window.document.text != before
    assert window.document.changed
    window.hands.save_copy(tmp_path / "nowhere" / "copy.yaml")
    assert "nowhere" in window.statusBar().currentMessage()
    window.hands.save_copy(window_file)
    assert window_file.read_text() == window.document.text


def test_after_any_edits_the_window_shows_what_check_says_of_the_saved_file(qtbot, window, window_file):
    chance = random.Random(4)
    for _ in range(12):
        window.parts.choose(chance.choice(["stone", "other"]))
        what = chance.randrange(4)
        if what == 0:
            window.hands.nudge(chance.choice([(1, 0, 0), (-1, 0, 0), (0, 1, 0), (0, -1, 0), (0, 0, 1)]))
        elif what == 1:
            window.hands.turn("about_up", chance.uniform(-1.0, 1.0))
        elif what == 2:
            window.hands.write({"values.water": str(chance.randrange(60, 200))})
        else:
            window.hands._step(back=chance.random() < 0.7)
    settle(qtbot, window)
    window.hands.save()
    model = build_model(read_scene(window_file))
    assert window.judged.findings == examine(model)
    assert window.judged.figures == figures(model)


def seen(canvas):
    image = canvas.grab().toImage().convertToFormat(QImage.Format.Format_RGB888)
    rows = np.frombuffer(image.constBits(), np.uint8).reshape(image.height(), image.bytesPerLine())
    return rows[:, : 3 * image.width()].reshape(image.height(), image.width(), 3).astype(int)


def test_what_is_dragged_is_drawn_over_one_picture_of_all_others(qtbot, window):
    canvas = window.canvas
    window.looking.look_from("right", whole=True)  # the other stone is nearer to the eye
    canvas._rest.stop()
    whole, at = seen(canvas), middle_of(window, "other").toTuple()[::-1]
    canvas.hold({"stone"})
    held = seen(canvas)
    assert {one.item.body for one in canvas._shown.values() if one.full.visibility} == {"stone"}
    assert (abs(held - whole).max(axis=2) > 0).mean() < 0.02  # what clear things before it add
    canvas.shift("stone", Placement.at((0.1, 0.0, 0.01)))
    assert (seen(canvas)[at] == held[at]).all()  # it is behind the other one
    assert (seen(canvas) != held).any()
    canvas.tint({"other": "fault"})
    assert (seen(canvas)[at] != held[at]).any()
    canvas.tint({})
    assert (seen(canvas)[at] == held[at]).all()
    lines = [one for one in canvas._shown.values() if isinstance(one.item, Lines) and one.item.body]
    before = [one.full.property.color for one in lines]
    canvas.tint({one.item.body: "fault" for one in lines})
    assert before
    assert [one.full.property.color for one in lines] != before
    canvas.tint({})
    assert [one.full.property.color for one in lines] == before
    canvas.shift("stone", Placement.identity())
    assert (seen(canvas) == held).all()
    window.looking.look_from("front", whole=True)  # all others anew
    front = seen(canvas)
    canvas.hold(())
    assert (abs(front - seen(canvas)).max(axis=2) > 0).mean() < 0.02
    canvas.at_rest()
    assert canvas.full


def test_what_was_let_go_of_is_drawn_alone_until_all_is_told(window):
    canvas = window.canvas
    canvas.hold({"stone"})
    canvas.wait()
    canvas.let_go()
    canvas.place({"stone": Placement.at((0.01, 0.0, 0.0))})  # as it is told where things stand
    assert canvas._held == {"stone"}
    assert canvas._rest.interval() > REST  # a frame of everything waits
    window.take_answer(replace(window.judged, version=window.version))
    assert (canvas._held, canvas._rest.interval()) == (frozenset(), REST)
    canvas.hold({"stone"})
    canvas.let_go()
    canvas.at_rest()  # as it is when nothing is told in time
    assert (canvas._held, canvas.full) == (frozenset(), True)
    canvas.place({})


def stands(window, part):
    actor = next(one.full for one in window.canvas._shown.values() if one.item.part == part)
    own = actor.GetUserMatrix()
    return [0.0 if own is None else own.GetElement(row, 3) for row in range(3)]


def test_until_all_is_told_parts_stand_where_they_were_put_and_old_findings_are_grey(window, monkeypatch):
    monkeypatch.setattr(window.judge, "ask", lambda _question: None)  # nothing is told by itself
    window.parts.choose("stone")
    window.hands.nudge((1.0, 0.0, 0.0))
    window.hands.nudge((1.0, 0.0, 0.0))
    assert stands(window, "stone") == pytest.approx([0.01, 0.0, 0.0])
    window.hands._shift("stone", Placement.at((0.0, 0.02, 0.0)))  # dragged again, from there
    assert stands(window, "stone") == pytest.approx([0.01, 0.02, 0.0])
    things = tuple(
        replace(thing, stands=Placement.at((0.0, 0.0, 0.03)) @ thing.stands)
        if thing.part == "stone"
        else thing
        for thing in window.looks.things
    )
    window.hands._shift("stone", Placement.identity())
    window.take_answer(Placed(window.version, things))
    assert stands(window, "stone") == pytest.approx([0.0, 0.0, 0.03])
    assert stands(window, "other") == pytest.approx([0.0, 0.0, 0.0])
    judged = window.judged
    window.take_answer(Fit(window.version, ()))
    assert window.judged is judged
    assert "computing" in window.work.text()
    rows = [window.findings.item(number) for number in range(window.findings.count())]
    assert "being worked out" in rows[0].text()
    assert all(row.flags() == Qt.ItemFlag.NoItemFlags for row in rows)
    assert len(rows) == 1 + len(judged.findings)


def test_arithmetic_stays_arithmetic_or_becomes_a_figure_as_is_answered(qtbot, window):
    text = window.document.text.replace("left: 110, front: 120", "left: water - 10, front: deep")
    text = text.replace("values:\n", "values:\n  deep: water  # as far\n")
    window.hands.take(text)
    window.parts.choose("stone")
    window.canvas.setFocus()
    asked = answer("Cancel")
    qtbot.keyClick(window.canvas, Qt.Key.Key_Right)
    assert asked == ["parts.stone.at.left: water - 10\nwould be water - 5"]
    assert window.document.text == text
    asked = answer("Keep")
    qtbot.keyClick(window.canvas, Qt.Key.Key_Right)
    assert window.document.text == text.replace("water - 10", "water - 5")
    with qtbot.waitActive(window, timeout=60_000):  # the question was
        window.activateWindow()
    window.canvas.setFocus()
    qtbot.keyClick(window.canvas, Qt.Key.Key_Right)  # it was answered for that place
    assert window.document.text == text.replace("water - 10", "water + 0")
    assert len(asked) == 1
    window.hands._sums.clear()
    asked = answer("Write figures")
    qtbot.keyClick(window.canvas, Qt.Key.Key_Left)
    assert window.document.text == text.replace("water - 10", "115")
    # a name changes what it names, which is told
    qtbot.keyClick(window.canvas, Qt.Key.Key_Up)
    assert "water: 125   # over the floor" in window.document.text
    assert "water = 125" in window.statusBar().currentMessage()
    window.hands.take(text.replace("seed: 3", "seed: 3\n    turn: 30° + 5°"))
    window.canvas.setFocus()
    asked = answer("Keep")
    qtbot.keyClick(window.canvas, ",")
    assert asked == ["parts.stone.turn: 30° + 5°\nwould be 30° + 10°"]
    assert "turn: 30° + 10°" in window.document.text
    window.hands.take(text.replace("seed: 3", "seed: 3\n    turn: 30° + 5°"))
    window.hands._sums.clear()
    answer("Write figures")
    qtbot.keyClick(window.canvas, ".")
    assert "turn: 30 deg" in window.document.text


def test_what_others_write_while_something_is_asked_is_not_lost(qtbot, window, window_file):
    text = window.document.text.replace("left: 110", "left: water - 10")
    by_others(window_file, text)
    qtbot.waitUntil(lambda: window.document.text == text, timeout=60_000)
    window.parts.choose("stone")
    theirs = text.replace("title: Small", "title: Theirs")

    def answer_late():
        box = QApplication.activeModalWidget()
        if box is None or window.document.text != theirs:
            QTimer.singleShot(10, answer_late)
        else:
            next(button for button in box.buttons() if button.text().startswith("Keep")).click()

    by_others(window_file, theirs)
    QTimer.singleShot(10, answer_late)
    window.hands.nudge((1.0, 0.0, 0.0))
    assert window.document.text == theirs
    assert "changed on disk meanwhile" in window.statusBar().currentMessage()


def test_a_copy_leaves_what_it_names_with_the_first_one(qtbot, window):
    text = window.document.text.replace("left: 110, front: 120", "left: water, front: 2 * water - 120")
    window.hands.take(text)
    settle(qtbot, window)
    window.parts.choose("stone")
    qtbot.keyClick(window, "d", Qt.KeyboardModifier.ControlModifier)
    added = window.document.text
    assert added.startswith(text.split("  other:")[0])
    assert (
        window.parts.current == ""
    )  # until the copy is shown: else the next key would work on the first one
    assert "water: 120 " in added
    assert read_scene(window.document.path, text=added).part("stone_1").at.x.distance > 0.18


SLOPING = """\
format: 1
units: mm
waterline: 120
parts:
  tank: {kind: tank, inside: [400, 250, 250], glass: 6}
  sand: {kind: substrate, front: 20, back: 80, material: sand}
  stone: {kind: rock, form: slab, seed: 3, size: [120, 80, 50], at: {left: 150, front: 80, ground: 0}}
  moss: {kind: plant, form: moss, seed: 1, height: 15, spread: 40, root: false, fixed_to: stone,
    at: {left: 150, front: 80, face_of: stone}}
"""


def test_what_is_dragged_keeps_to_the_ground_and_to_its_face_while_it_goes(qtbot, as_opened):
    window = as_opened(SLOPING)
    before = np.array(window.box_of("stone"))
    start = middle_of(window, "stone")
    qtbot.mousePress(window.canvas, LEFT, pos=start)
    for step in (6, 12, 18):
        qtbot.mouseMove(window.canvas, start + QPoint(step, -step))
    _, _, offset = window.hands._drag
    qtbot.waitUntil(
        lambda: window.hands.felt is not None and window.hands.felt.by == tuple(offset), timeout=60_000
    )
    rise = offset[1] * 60.0 / 250.0  # of the bed
    assert rise > 0.005
    for part in ("stone", "moss"):
        assert stands(window, part) == pytest.approx([offset[0], offset[1], rise], abs=5e-4)
    qtbot.mouseRelease(window.canvas, LEFT, pos=start + QPoint(18, -18))
    settle(qtbot, window)
    after = before + np.array([offset[0], offset[1], rise])
    assert np.array(window.box_of("stone")) == pytest.approx(after, abs=5e-4)
    text = window.document.text
    start = middle_of(window, "moss")
    pull(qtbot, window, start, start + QPoint(150, 0))
    qtbot.waitUntil(lambda: window.hands._drag is None, timeout=60_000)
    assert "moss stays where it was: nothing of stone lies below" in window.statusBar().currentMessage()
    assert window.document.text == text


WALLED = """\
format: 1
units: mm
waterline: 120
parts:
  tank: {kind: tank, inside: [400, 250, 250], glass: 6}
  wall: {kind: background, panels: [left], thickness: 40}
  moss: {kind: plant, form: moss, seed: 1, height: 15, spread: 40, root: false, fixed_to: wall,
    at: {front: 120, bottom: 150, face_of: wall}}
"""


def test_what_is_on_a_side_wall_goes_into_the_depth_as_it_is_dragged_from_the_front(qtbot, as_opened):
    window = as_opened(WALLED)
    qtbot.keyClick(window, "2")
    qtbot.waitUntil(lambda: window.canvas._flight is None, timeout=60_000)
    start = middle_of(window, "moss")
    pull(qtbot, window, start, start + QPoint(30, -30))
    qtbot.waitUntil(lambda: window.document.text != WALLED, timeout=60_000)
    settle(qtbot, window)
    at = window.scene.part("moss").at
    pixels = float(window.canvas.eye.pixels_per_metre((0.04, 0.12, 0.15))[0])
    assert at.y.distance - 0.120 == pytest.approx(30 / pixels, abs=2e-3)
    assert at.z.distance - 0.150 == pytest.approx(30 / pixels, abs=2e-3)


PIPED = """\
format: 1
units: mm
waterline: 120
parts:
  tank: {kind: tank, inside: [500, 300, 300], glass: 6}
  pump: {kind: pump, model: small 1000, outlet: d20 pn 16, at: {left: 120, front: 120, bottom: 0}}
  bar: {kind: run, pipe: d20 pn 16, start: pump.outlet,
    route: [{up: 80}, {until: back, reach: [0, 250, 0]}, {right: 150}, cap]}
"""


def test_pipes_follow_the_pump_that_is_dragged_and_what_is_laid_anew_is_marked(qtbot, as_opened):
    window = as_opened(PIPED)
    start = middle_of(window, "pump")
    qtbot.mousePress(window.canvas, LEFT, pos=start)
    for step in (10, 20, 30):
        qtbot.mouseMove(window.canvas, start + QPoint(step, step // 2))
    _, _, offset = window.hands._drag
    assert min(abs(offset[:2])) > 0.002
    assert window.canvas._held == {"pump", "bar"}
    assert stands(window, "pump") == pytest.approx(offset)
    assert stands(window, "bar") == pytest.approx([offset[0], 0.0, offset[2]])
    qtbot.waitUntil(lambda: "bar will be laid anew" in window.over.text(), timeout=60_000)
    assert "bar.pipe_1" in window.canvas._tints
    qtbot.mouseRelease(window.canvas, LEFT, pos=start + QPoint(30, 15))
    laid = [window.canvas._places["bar.elbow_90_1"].offset]  # as it was drawn, then where it is laid
    before = window.looks

    def follow():
        laid.extend(one.offset for name, one in window.canvas._places.items() if name == "bar.elbow_90_1")
        return window.looks is not before

    qtbot.waitUntil(follow, timeout=60_000)
    assert laid[0] == pytest.approx([offset[0], 0.0, 0.0])
    assert laid[-1] == pytest.approx(offset, abs=1e-6)
    settle(qtbot, window)
    assert not window.findings.mistakes


def test_a_part_is_lifted_from_where_it_was_dragged_to_and_goes_on_from_there(qtbot, window):
    qtbot.keyClick(window, "2")
    qtbot.waitUntil(lambda: window.canvas._flight is None, timeout=60_000)
    canvas, start = window.canvas, middle_of(window, "stone")
    metre = float(canvas.eye.pixels_per_metre(window.box_of("stone")[0])[0])

    def move(at, keys):
        where = canvas.mapToGlobal(at)
        event = QMouseEvent(QEvent.Type.MouseMove, at.toPointF(), where.toPointF(), LEFT, LEFT, keys)
        QApplication.sendEvent(canvas, event)

    freely, lifting = Qt.KeyboardModifier.ControlModifier, Qt.KeyboardModifier.ShiftModifier
    qtbot.mousePress(canvas, LEFT, pos=start)
    for by, keys in ((30, freely), (60, freely)):
        move(start + QPoint(by, 0), keys)
    aside = window.hands._drag[2].copy()
    assert aside == pytest.approx([60 / metre, 0.0, 0.0], abs=2e-3)
    for by in (0, 20, 40):
        move(start + QPoint(60, -by), freely | lifting)
    assert window.hands._drag[2] == pytest.approx([aside[0], aside[1], 40 / metre], abs=2e-3)
    move(start + QPoint(60, -2), lifting)
    qtbot.waitUntil(lambda: window.over.text() == "stone on the ground", timeout=60_000)
    move(start + QPoint(60, -40), freely | lifting)
    for by in (60, 30):
        move(start + QPoint(by, -40), freely)
    qtbot.waitUntil(lambda: window.over.text() == "stone", timeout=60_000)  # it holds on to nothing
    assert window.hands._drag[2] == pytest.approx([30 / metre, 0.0, 40 / metre], abs=3e-3)
    qtbot.mouseRelease(canvas, LEFT, pos=start + QPoint(30, -40))
    stone = window.scene.part("stone").at
    assert (stone.x.distance - 0.110, stone.z.distance) == pytest.approx((30 / metre, 40 / metre), abs=3e-3)


def press(canvas, kind, button, at, buttons):
    where = canvas.mapToGlobal(at).toPointF()
    keys = Qt.KeyboardModifier.NoModifier
    QApplication.sendEvent(canvas, QMouseEvent(kind, at.toPointF(), where, button, buttons, keys))


def test_a_second_button_takes_nothing_out_of_the_hand(window):
    canvas, right, none = window.canvas, Qt.MouseButton.RightButton, Qt.MouseButton.NoButton
    before, start = window.document.text, middle_of(window, "stone")
    press(canvas, QEvent.Type.MouseButtonPress, LEFT, start, LEFT)
    press(canvas, QEvent.Type.MouseMove, none, start + QPoint(20, 0), LEFT)
    press(canvas, QEvent.Type.MouseButtonPress, right, start + QPoint(20, 0), LEFT | right)
    press(canvas, QEvent.Type.MouseMove, none, start + QPoint(30, 0), LEFT | right)
    press(canvas, QEvent.Type.MouseButtonRelease, right, start + QPoint(30, 0), LEFT)
    assert window.hands._drag is not None
    assert window.document.text == before
    window.parts.choose("stone")
    window.parts.turn_lock()  # too late for what is in the hand
    press(canvas, QEvent.Type.MouseButtonRelease, LEFT, start + QPoint(30, 0), none)
    assert window.hands._drag is None
    assert canvas._let_go
    assert window.document.text != before


def test_what_is_dragged_is_put_down_where_a_question_took_the_release_away(window):
    canvas, none = window.canvas, Qt.MouseButton.NoButton
    before, start = window.document.text, middle_of(window, "stone")
    press(canvas, QEvent.Type.MouseButtonPress, LEFT, start, LEFT)
    press(canvas, QEvent.Type.MouseMove, none, start + QPoint(30, 0), LEFT)
    press(canvas, QEvent.Type.MouseMove, none, start + QPoint(60, 0), none)
    moved = window.document.text
    assert moved != before
    press(canvas, QEvent.Type.MouseMove, none, start + QPoint(90, 0), none)
    assert (window.document.text, window.hands._drag) == (moved, None)


def test_what_was_let_go_on_a_face_is_put_down_before_another_part_is_seized(qtbot, as_opened, monkeypatch):
    window = as_opened(
        WALLED.replace(
            "parts:",
            "parts:\n  stone: {kind: rock, seed: 3, size: [70, 60, 50],"
            " at: {left: 250, front: 120, ground: 0}}",
        )
    )
    qtbot.keyClick(window, "2")
    qtbot.waitUntil(lambda: window.canvas._flight is None, timeout=60_000)
    monkeypatch.setattr(window.hands.feel, "ask", lambda _question: None)  # nothing is felt in time
    start, other = middle_of(window, "moss"), middle_of(window, "stone")
    before = window.scene.part("moss").at.z.distance
    pull(qtbot, window, start, start + QPoint(0, -30))
    pull(qtbot, window, other, other + QPoint(30, 0))
    assert window.scene.part("moss").at.z.distance > before + 0.002
    assert window.scene.part("stone").at.x.distance > 0.252


def test_a_way_that_a_part_on_a_face_does_not_go_is_told(qtbot, as_opened):
    window = as_opened(WALLED)
    window.parts.choose("moss")
    window.canvas.setFocus()
    qtbot.keyClick(window.canvas, Qt.Key.Key_Right)
    assert "moss doesn't go that way" in window.statusBar().currentMessage()
    assert window.document.text == WALLED


def test_changes_of_figures_count_from_the_file_as_it_was_saved_last(window, monkeypatch):
    monkeypatch.setattr(window.judge, "ask", lambda _question: None)  # nothing is told by itself
    water = window.judged.rows[0]

    def told(by):
        rows = (replace(water, value=water.value + by, shown="more"), *window.judged.rows[1:])
        window.take_answer(replace(window.judged, version=window.version, rows=rows))
        return window.figures.item(0, 2).text()

    window.parts.choose("stone")
    window.hands.nudge((1.0, 0.0, 0.0))
    assert told(0.001) == "+1 L"
    window.hands.nudge((1.0, 0.0, 0.0))
    window.hands.save()  # before its figures are told
    window.hands.nudge((1.0, 0.0, 0.0))
    assert told(0.003) == ""  # from what was saved last nothing is known
    window.hands._step(back=True)
    assert told(0.002) == ""
    window.hands.nudge((0.0, 1.0, 0.0))
    assert told(0.005) == "+3 L"
