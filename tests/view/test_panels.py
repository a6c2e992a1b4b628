"""Panels by themselves: what of them is seen, light and dark."""

import numpy as np
import pytest
from PySide6.QtCore import QEvent
from PySide6.QtGui import QColor, QImage, QPalette
from PySide6.QtWidgets import QApplication, QStyleFactory

from layout3d.solid.placement import Placement
from layout3d.view.changed_lines import ChangedLines
from layout3d.view.looks import Thing
from layout3d.view.panels import PartsPanel, ValuesPanel

STONE = Thing(
    name="stone",
    part="stone",
    group="rock",
    kind="rock",
    shape="s",
    stands=Placement.identity(),
    box=((0.0, 0.0, 0.0), (1.0, 1.0, 1.0)),
)


def seen(widget):
    """Return what is drawn of a widget, (height, width, 3) of 0 … 255."""
    image = widget.grab().toImage().convertToFormat(QImage.Format.Format_RGB32)
    rows = np.frombuffer(image.constBits(), np.uint8).reshape(image.height(), -1, 4)
    return rows[:, : image.width(), :3].astype(int)


@pytest.mark.parametrize(("base", "text"), [("#1e1e1e", "#eeeeee"), ("#ffffff", "#000000")])
def test_a_box_that_is_not_ticked_is_seen_light_and_dark(qtbot, base, text):
    panel, palette = PartsPanel(), QPalette()
    qtbot.addWidget(panel)
    style = QStyleFactory.create("Fusion")
    panel.tree.setStyle(style)
    for role in (QPalette.ColorRole.Base, QPalette.ColorRole.Window):
        palette.setColor(role, QColor(base))
    for role in (QPalette.ColorRole.Text, QPalette.ColorRole.WindowText):
        palette.setColor(role, QColor(text))
    panel.setPalette(palette)
    panel.resize(300, 200)
    panel.fill([STONE], water=False)
    row = panel._rows["stone"]
    box = panel.tree.visualItemRect(row)
    cell = seen(panel.tree.viewport())[box.top() : box.bottom(), panel.tree.columnViewportPosition(1) :]
    away = np.abs(cell - np.array(QColor(base).getRgb()[:3])).max(axis=2)
    assert (away > 40).sum() > 30  # the outline of a box of a dozen pixels


def test_lines_that_came_and_went_are_tinted_and_their_heads_are_not(qtbot):
    lines = ChangedLines()
    qtbot.addWidget(lines)
    lines.setPlainText("--- a as saved\n+++ a as shown\n@@ -1 +1 @@\n same\n-old\n+new")
    lines._tint.rehighlight()
    blocks = (lines.document().findBlockByNumber(number) for number in range(6))
    assert [bool(block.layout().formats()) for block in blocks] == [False, False, False, False, True, True]


def test_a_slider_comes_back_with_a_figure_in_place_of_what_is_none(qtbot):
    panel = ValuesPanel("mm")
    qtbot.addWidget(panel)
    for text, slid in (("120", True), ("120 furlongs", False), ("130", True), ("depth / 2", False)):
        panel.fill({"values.water": (text, "")}, under="values.", docs={})
        QApplication.sendPostedEvents(None, QEvent.Type.DeferredDelete.value)
        assert (panel.cellWidget(0, 2) is not None) == slid, text


def test_a_slider_that_is_let_go_after_its_figure_went_writes_nothing(qtbot):
    panel, written = ValuesPanel("mm"), []
    qtbot.addWidget(panel)
    panel.written.connect(lambda *told: written.append(told))
    panel.fill({"values.water": ("120", "")}, under="values.", docs={})
    slider = panel.cellWidget(0, 2)
    panel.fill({"values.water": ("depth / 2", "")}, under="values.", docs={})
    with qtbot.captureExceptions() as raised:
        slider.setValue(60)
    assert (written, raised) == ([], [])
