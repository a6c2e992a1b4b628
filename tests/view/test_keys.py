"""The window by keys alone: each thing that hands do with a mouse."""

import numpy as np
import pytest
from PySide6.QtCore import Qt
from PySide6.QtWidgets import QApplication
from windows import picture, settle

from layout3d.view.framed import Framed

CTRL, SHIFT, ALT = (
    Qt.KeyboardModifier.ControlModifier,
    Qt.KeyboardModifier.ShiftModifier,
    Qt.KeyboardModifier.AltModifier,
)
NONE = Qt.KeyboardModifier.NoModifier


@pytest.fixture
def press(qtbot, window):
    """Press a key where the keys go now."""

    def pressed(key, modifiers=NONE):
        where = QApplication.focusWidget() or window
        qtbot.keyClick(where, key, modifiers)

    return pressed


def test_a_part_is_found_chosen_hidden_and_locked_by_keys(qtbot, window, press):
    press("f", CTRL)
    qtbot.waitUntil(window.parts.search.hasFocus, timeout=10_000)
    qtbot.keyClicks(window.parts.search, "stone")
    press(Qt.Key.Key_Return)
    assert window.parts.current == "stone"
    window.parts.choose("")
    press(Qt.Key.Key_Tab)
    assert window.parts.tree.hasFocus()
    for _ in range(2):  # its group, then itself
        press(Qt.Key.Key_Down)
    assert window.parts.current == "stone"
    press(Qt.Key.Key_Space)
    assert window.parts.hidden == {"stone"}
    press(Qt.Key.Key_Space)
    assert not window.parts.hidden
    press("l")
    assert window.parts.locks == {"stone"}
    assert "stone" not in window.canvas.movable
    window.hands.nudge((1.0, 0.0, 0.0))
    assert window.statusBar().currentMessage() == "stone is locked: L frees it."
    press("l")
    assert not window.parts.locks
    window.hands.nudge((1.0, 0.0, 0.0))
    assert "left: 115" in window.document.text
    assert window.statusBar().currentMessage() == ""
    window.parts.choose("tank")
    window.hands.turn("about_up", 0.1)
    assert window.statusBar().currentMessage() == "tank stands where its fields say: change those."
    window.parts.search.clear()


def test_what_is_typed_over_a_field_is_written_and_is_no_key_of_the_window(qtbot, window, press):
    window.parts.choose("stone")
    press("3", ALT)
    qtbot.waitUntil(window.fields.hasFocus, timeout=10_000)
    before = window.canvas.eye
    row = list(window.fields.texts()).index("parts.stone.at.left")
    window.fields.setCurrentCell(0, 0)  # as Qt does where there was none
    for _ in range(row):
        press(Qt.Key.Key_Down)
    for key in "125":
        press(key)
    press(Qt.Key.Key_Return)
    qtbot.waitUntil(lambda: "left: 125" in window.document.text, timeout=10_000)
    assert window.fields.texts()["parts.stone.at.left"] == "125"
    assert window.canvas.eye == before
    # Tab leaves the table
    window.fields.setFocus()
    press(Qt.Key.Key_Tab)
    assert not window.fields.hasFocus()


def test_the_distance_between_two_parts_is_told_by_keys(qtbot, window, press):
    press("m")
    assert window.statusBar().currentMessage() == "Choose a part first."
    window.parts.choose("stone")
    press("m")
    assert "From stone" in window.statusBar().currentMessage()
    window.parts.choose("other")
    press("m")
    qtbot.waitUntil(lambda: "between stone and other" in window.statusBar().currentMessage(), timeout=60_000)


def test_two_named_points_are_measured_by_keys(qtbot, window, press):
    told = window.statusBar().currentMessage
    press("m", SHIFT)
    assert "X goes to a point" in told()
    press("x")
    assert told() == "Choose a part first."
    ends = []
    for part in ("stone", "other"):
        window.parts.choose(part)
        press("x")
        assert told().startswith(f"{part}: middle of its box (point 1 of 15)")
        press("x", SHIFT)
        assert "corner of its box, right back top (point 15 of 15)" in told()
        assert "rule" in window.canvas.actors
        ends.append(np.array(window.box_of(part))[1])
        press("m", SHIFT)
    assert float(told().split()[0]) == pytest.approx(1000 * np.linalg.norm(ends[1] - ends[0]), rel=1e-3)
    press("x")
    window.hands.write({"parts.stone.at.left": "111"})
    assert "rule" not in window.canvas.actors  # where it was measured before
    press("m", SHIFT)
    assert "X goes to a point" in told()


def test_the_chosen_part_is_seen_from_near_and_the_view_shifted_by_keys(qtbot, window, press):
    window.parts.choose("other")
    press("f")
    qtbot.waitUntil(lambda: window.canvas._flight is None, timeout=60_000)
    low, high = window.box_of("other")
    assert window.canvas.eye.focal == pytest.approx((low + high) / 2)
    middle = window.canvas.eye.project((low + high) / 2)[0]
    press(Qt.Key.Key_Right, CTRL | SHIFT)
    assert window.canvas.eye.project((low + high) / 2)[0][0] == pytest.approx(middle[0] - 40, abs=1.0)
    press(Qt.Key.Key_Up, CTRL | SHIFT)
    assert window.canvas.eye.project((low + high) / 2)[0][1] == pytest.approx(middle[1] + 40, abs=1.0)


def test_the_level_of_the_water_is_set_and_written_by_keys(qtbot, window, press):
    press(Qt.Key.Key_PageUp, CTRL)
    level = window.closer.water.level
    assert level > 0.12
    press("w", CTRL | SHIFT)
    settle(qtbot, window)
    assert window.judged.figures["waterline"] == pytest.approx(level, abs=6e-4)


def test_a_frame_tells_that_the_keys_go_to_the_picture(qtbot, window, press):
    framed = window.canvas.parentWidget()
    assert isinstance(framed, Framed)
    window.parts.search.setFocus()
    QApplication.processEvents()
    away = framed.grab().toImage().pixelColor(0, 100)
    press(Qt.Key.Key_Escape)
    qtbot.waitUntil(window.canvas.hasFocus, timeout=10_000)
    QApplication.processEvents()
    there = framed.grab().toImage().pixelColor(0, 100)
    assert np.abs(np.subtract(away.getRgb(), there.getRgb())).max() > 40


def test_a_chosen_part_is_leant_both_ways_by_keys(qtbot, window, press):
    text = window.document.text.replace(
        "    fixed_to: tank\n", "    turn: {about_up: 0}\n    fixed_to: tank\n", 1
    )
    window.hands.take(text)
    window.parts.choose("stone")
    window.canvas.setFocus()
    qtbot.keyClick(window.canvas, Qt.Key.Key_Period, ALT)
    assert window.fields.texts()["parts.stone.turn.tip_back"] == "5 deg"
    qtbot.keyClick(window.canvas, Qt.Key.Key_Comma, CTRL)
    assert window.fields.texts()["parts.stone.turn.tip_left"] == "5 deg"


def test_a_part_that_is_chosen_in_the_list_is_turned_by_keys(qtbot, window, press):
    window.parts.choose("stone")
    window.parts.tree.setFocus()
    press(",")
    assert window.fields.texts()["parts.stone.turn"] == "5 deg"
    window.parts.search.setFocus()
    press(",")  # typed
    assert window.parts.search.text() == ","
    window.cut.axis.setCurrentIndex(1)
    window.cut.figure.setFocus()
    window.cut.figure.selectAll()
    for key in "120.5":
        press(key)
    press(Qt.Key.Key_Return)
    assert window.cut.figure.value() == 120.5
    assert window.fields.texts()["parts.stone.turn"] == "5 deg"


def test_what_was_saved_is_seen_side_by_side_by_a_key_and_shut_by_it(qtbot, window, press):
    wide = window.canvas.width()
    press("b", CTRL)
    other = window.variants.open
    assert not other.figures.columnCount()  # nothing is told yet, nor headed by mere numbers
    qtbot.waitUntil(lambda: other.looks is not None, timeout=60_000)
    assert other.canvas.width() > 0.8 * window.canvas.width() > 0.3 * wide  # both are seen, side by side
    press("b", CTRL)
    assert window.variants.open is None
    assert other.judge._process is None
    assert window.canvas.width() >= wide
    assert picture(window).std() > 5.0


def test_parts_are_chosen_one_after_another_in_the_picture_by_keys(qtbot, window, press):
    press(Qt.Key.Key_Escape)
    qtbot.waitUntil(window.canvas.hasFocus, timeout=10_000)
    chosen = []
    for key in "jjjjk":
        press(key)
        chosen.append(window.parts.current)
    assert chosen == ["tank", "stone", "other", "tank", "other"]
    assert set(window.canvas._tints) == {"other"}
    assert window.canvas.hasFocus()


def test_tab_goes_to_what_is_seen_alone_and_a_panel_behind_a_tab_has_it_when_it_is_gone_to(
    qtbot, window, press
):
    window.raise_()
    press(Qt.Key.Key_Escape)
    qtbot.waitUntil(window.canvas.hasFocus, timeout=10_000)
    for name, keys in (("Values", "4"), ("Findings", "2")):
        press(keys, ALT)
        qtbot.waitUntil(window.docks[name].widget().hasFocus, timeout=10_000)
        been = []
        while QApplication.focusWidget() not in been:
            been.append(QApplication.focusWidget())
            press(Qt.Key.Key_Tab)
        unseen = [one for one in been if one.visibleRegion().isEmpty()]
        assert unseen == []
        assert window.canvas in been
