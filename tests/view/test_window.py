"""The window as hands have it: real mouse and key events on a display that nobody sees."""

import contextlib
import math
import os
import signal
import subprocess
import sys
import time
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from PySide6.QtCore import QPoint, Qt, QTimer
from PySide6.QtWidgets import QApplication, QWidget
from scipy.spatial import KDTree
from windows import by_others, middle_of, picture, settle

from layout3d.checks.examine import examine
from layout3d.cli import main
from layout3d.draw.mesh import array_of
from layout3d.model.build import build_model
from layout3d.report.cautions import FLOW, OUTAGE, cautions_of
from layout3d.report.rules import known_rules
from layout3d.scene.reader import read_scene
from layout3d.view import coarse
from layout3d.view.opening import never_let_go_of_none
from layout3d.view.window import Window
from layout3d.water.figures import figures

LEFT = Qt.MouseButton.LeftButton


def shown_is_checked(window):
    """What is told is what a fresh check of the same text tells."""
    model = build_model(read_scene(window.document.path, text=window.document.text))
    return window.judged.findings == examine(model) and window.judged.figures == figures(model)


def drag(qtbot, canvas, start, end, modifiers=Qt.KeyboardModifier.NoModifier, steps=6):
    qtbot.mousePress(canvas, LEFT, modifiers, start)
    for step in range(1, steps + 1):
        at = start + (end - start) * step / steps
        qtbot.mouseMove(canvas, at)
        QApplication.processEvents()
    qtbot.mouseRelease(canvas, LEFT, modifiers, end)


def test_it_shows_what_check_says(window):
    assert shown_is_checked(window)
    assert {"tank", "stone", "other", "water"} <= set(window.parts._rows)
    told = [window.figures.item(row, 0).text() for row in range(window.figures.rowCount())]
    assert told[:2] == ["water, net", "weight, all together"]
    assert picture(window).std() > 5.0  # something is drawn


def test_cautions_stand_under_the_findings(window):
    told = [window.findings.item(number).text() for number in range(window.findings.count())]
    assert set(cautions_of(window.judged.findings, known_rules(), *FLOW, *OUTAGE)) <= set(told)
    assert any("licensed electrician" in text for text in told)
    assert any("glass maker" in text for text in told)
    assert not any("safe" in text.lower().split() for text in told)


def test_a_click_picks_the_part_behind_the_glass_and_shows_its_fields(qtbot, window):
    qtbot.mouseClick(window.canvas, LEFT, pos=middle_of(window, "stone"))
    assert window.parts.current == "stone"
    assert window.fields.texts() == {
        "parts.stone.kind": "rock",
        "parts.stone.seed": "3",
        "parts.stone.size[1]": "70",
        "parts.stone.size[2]": "60",
        "parts.stone.size[3]": "50",
        "parts.stone.at.left": "110",
        "parts.stone.at.front": "120",
        "parts.stone.at.bottom": "0",
        "parts.stone.fixed_to": "tank",
    }
    assert window.values.texts() == {"values.water": "120"}


def test_a_click_with_ctrl_tells_the_distance_from_the_chosen_part(qtbot, window):
    qtbot.mouseClick(window.canvas, LEFT, pos=middle_of(window, "stone"))
    there, before = middle_of(window, "other"), window.canvas.eye
    qtbot.mouseClick(window.canvas, LEFT, Qt.KeyboardModifier.ControlModifier, there)
    qtbot.waitUntil(lambda: "between stone and other" in window.statusBar().currentMessage(), timeout=60_000)
    figure, unit = window.statusBar().currentMessage().split()[:2]
    one, other = build_model(read_scene(window.document.path)).bodies_of("stone", "other")
    tree = KDTree(one.solid.vertices)
    least = tree.query(other.solid.vertices)[0].min()  # between corners: no less than between surfaces
    assert unit == "mm"
    assert 0.8 * least < float(figure) / 1000 <= least + 1e-4
    assert "rule" in window.canvas.actors
    assert window.canvas.eye == before
    assert window.parts.current == "stone"


def test_hovering_names_the_part(qtbot, window):
    qtbot.mouseMove(window.canvas, middle_of(window, "other"))
    qtbot.waitUntil(lambda: window.over.text() == "other", timeout=60_000)


def test_a_drag_beside_the_parts_turns_the_view_and_keeps_it_upright(qtbot, window):
    before = window.canvas.eye
    drag(qtbot, window.canvas, QPoint(15, 15), QPoint(150, 60))
    after = window.canvas.eye
    assert after.focal == pytest.approx(before.focal)
    assert math.dist(after.position, before.position) > 0.05
    assert abs(after.axes()[0][2]) < 1e-6
    qtbot.waitUntil(lambda: window.canvas.full, timeout=60_000)


def test_the_light_look_is_for_movement_and_the_full_look_for_rest(qtbot, window, monkeypatch):
    monkeypatch.setattr(coarse, "FACES", 500)
    window.canvas.show_looks(replace(window.looks, light=coarse.coarse(window.looks.pieces)))
    qtbot.waitUntil(lambda: window.canvas.full, timeout=60_000)
    window.canvas.moving()
    assert not window.canvas.full
    assert not window.canvas.renderer.GetUseDepthPeeling()
    stones = [one for one in window.canvas._shown.values() if one.item.part in ("stone", "other")]
    assert all(one.coarse is not one.item for one in stones)
    assert not any(actor.visibility for one in stones for actor in one.actors)  # all are drawn together
    assert all(one.full.visibility for one in window.canvas._crowd.shown)
    # a coarse stone is picked like any other
    assert window.canvas.under(*middle_of(window, "stone").toTuple())[0] == "stone"
    window.canvas.tint({"stone": "fault"})  # what is tinted is drawn alone
    assert [(one.light is not None, one.full.visibility) for one in stones] == [(True, False), (False, False)]
    window.canvas.tint({})
    qtbot.waitUntil(lambda: window.canvas.full, timeout=60_000)
    assert window.canvas.renderer.GetUseDepthPeeling()
    assert all(one.full.visibility for one in stones)
    assert not any(one.full.visibility for one in window.canvas._crowd.shown)


def test_named_views_keep_the_zoom_and_have_keys(qtbot, window):
    before = window.canvas.eye
    qtbot.keyClick(window, "2")
    qtbot.waitUntil(lambda: window.canvas._flight is None, timeout=60_000)
    after = window.canvas.eye
    assert after.axes()[2] == pytest.approx((0, -1, 0), abs=1e-9)
    assert after.pixels_per_metre(after.focal)[0] == pytest.approx(before.pixels_per_metre(before.focal)[0])


def test_a_tick_takes_a_part_off_the_screen_and_search_sifts(qtbot, window):
    before = picture(window)
    window.parts.choose("stone")
    window.canvas.tint({})
    qtbot.keyClick(window, "h")
    assert window.parts.hidden == {"stone"}
    assert (np.abs(picture(window) - before).max(axis=2) > 12).sum() > 200
    assert window.canvas.under(*middle_of(window, "stone").toTuple())[0] != "stone"
    qtbot.keyClick(window, "a")
    assert not window.parts.hidden
    qtbot.keyClicks(window.parts.search, "oth")
    assert [name for name, row in window.parts._rows.items() if not row.isHidden()] == ["other"]


def test_the_cut_is_told_in_the_scenes_units_and_filled_at_rest(qtbot, window):
    before = picture(window)
    qtbot.keyClick(window, "c")
    qtbot.keyClick(window, "c")
    assert window.cut.place[0] == "y"
    assert window.cut.figure.value() == pytest.approx(window.cut.place[1] * 1000, abs=0.06)
    qtbot.waitUntil(lambda: window._filled, timeout=60_000)
    assert (np.abs(picture(window) - before).max(axis=2) > 12).sum() > 200
    # the viewer's side is taken away, or by a key the other one
    assert (window.looks.view, window.cut.view) == ("front", "front")
    qtbot.keyClick(window, "c", Qt.KeyboardModifier.ShiftModifier)
    qtbot.waitUntil(lambda: window.looks.view == "back", timeout=60_000)
    assert window.looks.cut == window.cut.place
    for _ in range(2):
        qtbot.keyClick(window, "c")
    assert window.cut.place is None
    window.looking.look_from("back", whole=True)
    for _ in range(2):
        qtbot.keyClick(window, "c")
    assert window.cut.clip == ("y", window.cut.place[1], 1.0)
    qtbot.waitUntil(lambda: window._filled and window.looks.view == "back", timeout=60_000)
    # what is measured stays while the scene is cut elsewhere, and goes with a text in which it may differ
    window.canvas.rule(((0.0, 0.0, 0.0), (0.1, 0.1, 0.1)))
    window.cut.slider.setValue(0)
    qtbot.waitUntil(lambda: "passes everything" in window.statusBar().currentMessage(), timeout=60_000)
    assert "fault" not in window.statusBar().currentMessage()
    window.cut.slider.setValue(100)
    qtbot.waitUntil(lambda: window._filled and window.looks.cut == window.cut.place, timeout=60_000)
    assert "rule" in window.canvas.actors
    window.hands.take(window.document.text.replace("inside: [400, 250, 250]", "inside: [400, 450, 250]"))
    assert "rule" not in window.canvas.actors
    settle(qtbot, window)
    window.cut.figure.setValue(440)  # the deeper tank is cut all through
    assert window.cut.place == ("y", pytest.approx(0.440))
    window.hands._step(back=True)
    settle(qtbot, window)
    assert window.cut.place[1] < 0.26
    window.cut.axis.setCurrentIndex(0)
    qtbot.waitUntil(lambda: not window._filled, timeout=60_000)
    assert window.cut.place is None


def test_findings_are_gone_through_by_key_and_flown_to(qtbot, window, window_file):
    shown = window.version
    by_others(window_file, window_file.read_text().replace("left: 290", "left: 150"))
    qtbot.waitUntil(lambda: window.version == shown + 1, timeout=60_000)
    settle(qtbot, window)
    overlap = next(number for number, one in enumerate(window.judged.findings) if one.rule == "overlap")
    for _ in range(overlap + 1):
        qtbot.keyClick(window, "n")
    assert window.findings.currentRow() == overlap
    assert set(window.canvas._tints) == {"stone", "other"}
    qtbot.waitUntil(lambda: window.canvas._flight is None, timeout=60_000)
    assert window.canvas.eye.focal == pytest.approx(window.judged.findings[overlap].at, abs=1e-6)


def test_saving_in_an_editor_shows_the_new_scene_and_keeps_the_view(qtbot, window, window_file, monkeypatch):
    shown = window.version
    window.parts.choose("other")
    window.parts._rows["stone"].setCheckState(0, Qt.CheckState.Unchecked)
    before, asked_to_paint = window.canvas.eye, []
    monkeypatch.setattr(window.canvas, "update", lambda: asked_to_paint.append(window.version))
    window.show_text()
    assert asked_to_paint == []  # nothing of it is known yet, and a frame takes a core from the judge
    monkeypatch.undo()
    settle(qtbot, window)
    shown = window.version
    # what moved is shown at once; findings don't wait for its light
    with qtbot.waitSignals([window.texted, window.told, window.dressed], order="simple", timeout=60_000):
        by_others(window_file, window_file.read_text().replace("left: 110", "left: 200"))
    settle(qtbot, window)
    assert window.version == shown + 1
    assert shown_is_checked(window)
    box = next(thing.box for thing in window.looks.things if thing.part == "stone")
    assert (box[0][0] + box[1][0]) / 2 == pytest.approx(0.2, abs=0.02)
    assert (window.parts.current, window.parts.hidden) == ("other", {"stone"})
    assert window.canvas.eye == before
    assert not window.document.changed


def test_surfaces_in_another_light_are_drawn_by_the_same_actors_in_their_new_colours(qtbot, window):
    canvas, looks = window.canvas, window.looks
    before = {place: one.full for place, one in canvas._shown.items()}
    darker = tuple(replace(piece, colours=piece.colours // 2) for piece in looks.pieces)
    canvas.show_looks(replace(looks, pieces=darker, light=coarse.coarse(darker)))
    for place, piece in enumerate(darker):
        actor = canvas._shown[place].full
        assert actor is before[place]
        drawn = array_of(actor.GetMapper().GetInput().GetPointData().GetScalars())
        assert np.array_equal(drawn, piece.colours[:, : drawn.shape[1]])
    canvas.moving()
    crowd = [(one.full, one.item.points) for one in canvas._crowd.shown]
    canvas.show_looks(looks)
    canvas.moving()
    assert [one.full for one in canvas._crowd.shown] == [actor for actor, _ in crowd]
    drawn = [array_of(actor.GetMapper().GetInput().GetPointData().GetScalars()) for actor, _ in crowd]
    coarser = [looks.light.get(place, piece) for place, piece in enumerate(looks.pieces) if not piece.clear]
    assert sum(int(one[:, :3].astype(int).sum()) for one in drawn) == sum(
        int(piece.colours[:, :3].astype(int).sum()) for piece in coarser
    )


def test_a_mesh_that_is_written_anew_is_shown_anew(qtbot, as_opened, opened):
    def block(high):
        corners = [[x, y, z] for x in (0, 80) for y in (0, 60) for z in (0, high)]
        faces = [(0, 1, 3, 2), (4, 6, 7, 5), (0, 4, 5, 1), (2, 3, 7, 6), (0, 2, 6, 4), (1, 5, 7, 3)]
        lines = [f"v {x} {y} {z}" for x, y, z in corners]
        return "\n".join([*lines, *("f " + " ".join(str(one + 1) for one in face) for face in faces), ""])

    file = opened.document.path.with_name("block.obj")
    file.write_text(block(50))
    window = as_opened(
        "format: 1\nunits: mm\nwaterline: 120\nparts:\n"
        "  tank: {kind: tank, inside: [400, 250, 250], glass: 6}\n"
        "  stone: {kind: rock, mesh: block.obj, file_unit: mm, at: {left: 110, front: 120, bottom: 0}}\n"
    )

    def height():
        return next(thing.box[1][2] for thing in window.looks.things if thing.part == "stone")

    assert height() == pytest.approx(0.050)
    shown = window.version
    by_others(file, block(70))
    qtbot.waitUntil(lambda: window.version > shown and height() == pytest.approx(0.070), timeout=60_000)
    settle(qtbot, window)
    assert shown_is_checked(window)
    file.unlink()
    qtbot.waitUntil(lambda: bool(window.findings.mistakes), timeout=60_000)
    assert "block.obj" in window.findings.mistakes[0].message
    file.write_text(block(60))
    qtbot.waitUntil(lambda: not window.findings.mistakes, timeout=60_000)
    settle(qtbot, window)
    assert height() == pytest.approx(0.060)


def test_a_broken_file_tells_its_mistakes_with_lines_and_keeps_the_picture(qtbot, window, window_file):
    good = window_file.read_text()
    by_others(window_file, good.replace("seed: 3", "seeds: 3").replace("left: 290", "left: 290 litres"))
    qtbot.waitUntil(lambda: len(window.findings.mistakes) >= 2, timeout=60_000)
    lines = good.splitlines()
    wrong = {number for number, line in enumerate(lines, start=1) if "seed: 3" in line or "left: 290" in line}
    assert wrong <= {mistake.line for mistake in window.findings.mistakes}
    assert "seeds" in window.findings.item(0).text()
    assert window.findings.item(0).text().startswith(f"{window_file.name}:")  # without its folders
    assert {thing.part for thing in window.looks.things} == {"tank", "stone", "other"}
    by_others(window_file, good)
    qtbot.waitUntil(lambda: not window.findings.mistakes, timeout=60_000)
    settle(qtbot, window)
    assert shown_is_checked(window)


def test_it_closes_at_once_while_it_computes(own_window):
    window = own_window
    window.document.saved = window.document.text = window.document.text.replace("size: [70", "size: [71")
    window.show_text()
    process, shown = window.judge._process, window.judged
    window.close()
    assert process.exitcode is not None  # it is gone, and was not waited for: nothing of the new text is told
    assert window.judged is shown
    assert not window.isVisible()
    assert window.judge._process is None


def test_what_is_not_saved_may_be_saved_before_it_closes(window, window_file, monkeypatch):
    window.hands.write({"parts.stone.at.left": "120"})
    for answer, agreed, closes in ((None, True, False), (False, True, True), (True, False, False)):
        monkeypatch.setattr("layout3d.view.window.asked_for", lambda *_, a=answer: a)
        monkeypatch.setattr("layout3d.view.hands.agreed", lambda *_, a=agreed: a)
        assert window.may_close() is closes
        assert "left: 120" not in window_file.read_text()
    monkeypatch.setattr("layout3d.view.hands.agreed", lambda *_: True)
    assert window.may_close()
    assert "left: 120" in window_file.read_text()


@pytest.mark.parametrize("display", [":7777", "nowhere.invalid:0", "nonsense", ""])
def test_a_display_that_can_not_be_reached_is_refused(scene_file, monkeypatch, capsys, display):
    """In this process, for nothing is opened: neither Qt nor the display of the other tests is asked."""
    monkeypatch.setenv("DISPLAY", display)
    monkeypatch.setenv("WAYLAND_DISPLAY", "wayland-0")
    monkeypatch.delitem(sys.modules, "layout3d.view.session", raising=False)
    assert main(["view", str(scene_file)]) == 2
    assert "layout3d.view.session" not in sys.modules
    told = capsys.readouterr()
    assert told.out == ""
    assert "display" in told.err.splitlines()[0]
    assert "layout3d picture" in told.err


def test_a_file_that_can_not_be_read_is_refused_before_a_window_opens(qapp, tmp_path, capsys):
    file = tmp_path / "bad.yaml"
    file.write_text("format: 1\nunits: mm\nparts: {tank: {kind: tub}}\n")
    before = {window for window in qapp.topLevelWidgets() if window.isVisible()}
    assert main(["view", str(file)]) == 2
    assert {window for window in qapp.topLevelWidgets() if window.isVisible()} == before
    told = capsys.readouterr()
    assert told.out == ""
    assert "bad.yaml:3" in told.err
    assert "Traceback" not in told.err


def test_a_signal_ends_it_and_gives_its_number_and_no_other_window(qtbot, scene_file, capfd):
    other = QWidget()
    qtbot.addWidget(other)
    other.show()
    number = signal.SIGTERM
    before, told = signal.getsignal(number), []

    def fail():
        raise ValueError("nobody thought of it")

    def end():
        windows = [one for one in QApplication.topLevelWidgets() if isinstance(one, Window)]
        told.extend(one.statusBar().currentMessage() for one in windows)
        os.kill(os.getpid(), number)

    QTimer.singleShot(100, fail)
    QTimer.singleShot(200, end)
    assert main(["view", str(scene_file)]) == 128 + number
    assert "a fault of the program: ValueError: nobody thought of it" in told
    assert signal.getsignal(number) is before
    assert other.isVisible()
    assert capfd.readouterr() == ("", "")


def asks(process):
    """Tell whether a window's process has one beside it, which it asks what to show: it is made by then.

    Not any child will do: looking for the display's library starts one too, before the signals are caught.
    """
    for child in Path(f"/proc/{process}/task/{process}/children").read_text().split():
        with contextlib.suppress(OSError):  # it is gone already
            if b"multiprocessing" in Path(f"/proc/{child}/cmdline").read_bytes():
                return True
    return False


def test_a_signal_ends_its_process_without_noise(qapp_args, scene_file):
    run = subprocess.Popen(
        [sys.executable, "-m", "layout3d", "view", str(scene_file)],
        env={**os.environ, "WAYLAND_DISPLAY": "wayland-0"},
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
        start_new_session=True,
    )
    while run.poll() is None and not asks(run.pid):
        time.sleep(0.02)
    os.killpg(run.pid, signal.SIGINT)  # as a terminal does: the process beside it is still loading
    out, err = run.communicate(timeout=60)
    assert run.returncode == 128 + signal.SIGINT
    assert (out, err) == ("", "")


@pytest.mark.skipif(sys.version_info >= (3, 12), reason="None is never let go of there")
def test_none_outlasts_a_library_that_lets_go_of_it_at_each_call(window):
    """PySide6 6.12.0 takes a reference a call, of some ten thousand that there are; a frame makes several."""
    assert sys.getrefcount(None) > 2**39
    before = sys.getrefcount(None)
    never_let_go_of_none()  # once is enough
    assert sys.getrefcount(None) - before < 1000


def test_a_missing_library_is_told_with_the_command_to_run(monkeypatch):
    from layout3d.errors import LayoutError
    from layout3d.view.opening import refuse_without_window

    monkeypatch.setattr("layout3d.view.opening.LIBRARIES", ("PySide6", "no_such_library"))
    with pytest.raises(LayoutError, match="needs no_such_library") as caught:
        refuse_without_window()
    assert "pip install 'layout3d[window]'" in caught.value.remedy


def test_a_process_that_was_ended_is_told_and_begun_again_with_the_next_change(qtbot, window):
    window.hands.write({"parts.stone.at.left": "111"})
    os.kill(window.judge._process.pid, signal.SIGKILL)
    qtbot.waitUntil(lambda: bool(window.findings.mistakes), timeout=60_000)
    assert "was ended" in window.findings.item(0).text()
    window.hands.write({"parts.stone.at.left": "112"})
    settle(qtbot, window)
    assert not window.findings.mistakes
    assert shown_is_checked(window)


def test_panels_are_where_they_were_left_also_those_that_come_last(own_window, opened_again):
    own_window.parts.choose("stone")
    assert own_window.fields.horizontalHeaderItem(1).text() == "stone"
    own_window.docks["Steps"].setFloating(True)
    own_window.docks["Part"].hide()
    again = opened_again()
    assert again.focusWidget() is again.canvas  # the keys go to the picture from the first
    assert again.docks["Steps"].isFloating()
    assert again.docks["Part"].isHidden()
    assert not again.docks["Values"].isFloating()
