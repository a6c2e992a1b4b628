"""Another variant of the scene beside the one in the window: seen from the same place, and what differs."""

from __future__ import annotations

import difflib
import html
from collections.abc import Sequence
from pathlib import Path
from typing import Any

from PySide6.QtCore import QEventLoop, QObject, QTimer
from PySide6.QtWidgets import (
    QApplication,
    QFileDialog,
    QHBoxLayout,
    QLabel,
    QPushButton,
    QTableWidget,
    QTableWidgetItem,
    QTabWidget,
    QVBoxLayout,
    QWidget,
)

from layout3d.draw.camera import Camera
from layout3d.errors import LayoutError
from layout3d.scene.file import read_text
from layout3d.view import eye
from layout3d.view.answers import Dress, Files, Judged, Levels, Mistakes, Row, Text
from layout3d.view.beside import Beside
from layout3d.view.canvas import Canvas
from layout3d.view.changed_lines import ChangedLines
from layout3d.view.colour_bar import KeyOfColours
from layout3d.view.document import Watch
from layout3d.view.levels import Stand
from layout3d.view.looks import Looks
from layout3d.view.panels import change_of
from layout3d.view.window import LOOK_IN, Window

__all__ = ["Variant", "Variants", "differences"]

AS_SAVED = "as saved"


class Variants(QObject):
    """The menu entries that open one; made with a window, and ended by ``close``."""

    def __init__(self, window: Window) -> None:
        super().__init__(window)
        self.window = window
        self.open: Variant | None = None
        menu = window.view_menu
        menu.addSeparator()
        window.act(menu, "Beside the scene as it was saved, or alone", "Ctrl+B", self.beside_saved)
        window.act(menu, "Beside another scene …", "Ctrl+Shift+B", self.ask_scene)

    def beside_saved(self) -> None:
        """Show the scene as it was saved beside the one in the window; or take away what stands there."""
        if self.open is not None:
            self.close()
        else:
            self.show_text(self.window.document.path, self.window.document.saved, AS_SAVED)

    def ask_scene(self) -> None:
        """Ask for a scene file, and show that beside the one in the window."""
        folder = str(self.window.document.path.parent)
        name, _ = QFileDialog.getOpenFileName(
            self.window, "Beside another scene", folder, "Scenes (*.yaml *.yml)"
        )
        if name:
            try:
                self.show_text(Path(name), read_text(Path(name)), Path(name).name)
            except LayoutError as error:
                self.window.tell(str(error))

    def show_text(self, path: Path, text: str, title: str) -> Variant:
        """Open a variant in place of the one that is open."""
        self.close()
        self.open = Variant(self.window, path, text, title)
        self.open.shut.clicked.connect(self.close)
        pictures, middle, before = self.window.pictures, self.window.middle, self._shape()
        pictures.addWidget(self.open)
        middle.addWidget(self.open.differences)
        pictures.setSizes([1, 1])
        middle.setSizes([2, 1])
        self._keep_in_view(before)
        return self.open

    def close(self) -> None:
        """Close what is open."""
        if self.open is not None:
            before = self._shape()
            self.open.end()
            self.open = None
            self.window.canvas.setFocus()
            self._keep_in_view(before)

    def _shape(self) -> float:
        """Return how wide the picture is for its height."""
        return self.window.canvas.width() / self.window.canvas.height()

    def _keep_in_view(self, before: float) -> None:
        """See as much from left to right as before, when the picture was so wide for its height."""
        QApplication.processEvents(QEventLoop.ProcessEventsFlag.ExcludeUserInputEvents)  # which settles it
        canvas = self.window.canvas
        canvas.look(eye.nearer(canvas.eye, before / self._shape()))


class Variant(QWidget):
    """The variant's picture; ``differences`` tells what differs.

    It looks from where the window does, is cut where that is, shows the same parts, and colours them by the
    same figure; both keys then span the figures of both. Its water follows the slider, and what fails.
    """

    def __init__(self, window: Window, path: Path, text: str, title: str) -> None:
        super().__init__(window)
        self.window_beside, self._text, self._title = window, text, title
        self._own = (path,) if path != window.document.path else ()
        self._watch = Watch(self._own)
        self.judged: Judged | None = None
        self.looks: Looks | None = None
        self._stands: tuple[Stand, ...] = ()
        self.judge = Beside(path)
        self.canvas = Canvas(self)
        self.key = KeyOfColours(self.canvas)
        self.told = QLabel("computing …", wordWrap=True)
        self.shut = QPushButton("Close")
        head = QHBoxLayout()
        self.head = QLabel()
        head.addWidget(self.head)
        head.addWidget(self.told, 1)
        head.addWidget(self.shut)
        self.figures, self.findings = QTableWidget(), QTableWidget()
        self.lines = ChangedLines()
        whole = QVBoxLayout(self)
        whole.setContentsMargins(0, 2, 0, 2)  # as wide as the frame around the other one
        whole.addWidget(self.canvas)
        tabs = QTabWidget()
        for widget, words in ((self.figures, "Figures"), (self.findings, "Findings"), (self.lines, "Lines")):
            tabs.addTab(widget, words)
        self.differences = QWidget()
        layout = QVBoxLayout(self.differences)
        layout.setContentsMargins(4, 4, 4, 4)
        layout.addLayout(head)
        layout.addWidget(tabs)
        self._asked: Dress | None = None
        self._heard: Any = (
            (window.parts.ticked, self._hide),
            (window.poured, self._pour),
            (window.kept, self._name),
            (window.looked_in, self._look_in),
            (window.canvas.drawn, self._follow),
            *((signal, self._compare) for signal in (window.told, window.texted, window.mistaken)),
        )
        for signal, slot in self._heard:
            signal.connect(slot)
        self._look = QTimer(self, interval=LOOK_IN)
        self._look.timeout.connect(self._look_at_files)
        self._look.start()
        self.judge.ask(Text(1, text))

    def _look_at_files(self) -> None:
        if not self._watch.changed():
            return
        try:
            self._text = read_text(self._own[0]) if self._own else self._text
        except LayoutError as error:
            self.told.setText(str(error))
        else:
            self._asked = None  # to be cut and coloured anew
            self.judge.ask(Text(1, self._text))

    def _hide(self) -> None:
        if self.looks is not None:
            self.canvas.hide(self.looks.bodies_of(self.window_beside.parts.hidden))

    def _look_in(self) -> None:
        here, own = self.window_beside.looks, self.looks
        if here is not None and own is not None:
            wanted = Dress(here.colour, here.cut, here.view, None if here.key is None else here.key.span)
            if wanted != self._asked and _dress_of(here) != _dress_of(own):
                self._asked = wanted
                self.judge.ask(wanted)
        for answer in self.judge.answers():
            if isinstance(answer, Looks):
                self._show_looks(answer)
            elif isinstance(answer, Levels):
                self._stands = answer.stands
                self._pour()
            elif isinstance(answer, Files):
                self._watch = Watch((*self._own, *answer.paths))
            elif isinstance(answer, Judged):
                self.judged = answer
                self._compare()
            elif isinstance(answer, Mistakes):
                self.told.setText(answer.mistakes[0].message)

    def _show_looks(self, looks: Looks) -> None:
        self.looks = looks
        self.canvas.show_looks(looks)
        self.key.show_key(looks.key)
        self._pour()
        self._hide()
        self._follow()
        window = self.window_beside
        if looks.key is not None and looks.colour == window.colour and window.looks is not None:
            here = window.looks.key
            if here is not None and window.looks.colour == looks.colour and looks.key.span != here.span:
                window.span = looks.key.span  # it holds the window's own, which it was asked with
                window.ask_for_looks()

    def _pour(self) -> None:
        """Fill it to the level of the slider, or to where its own water stands after the same failure."""
        levels, failure = self.window_beside.levels, self.window_beside.failure
        if failure:
            levels = next((one.levels for one in self._stands if one.name == failure), {})
        if self.looks is not None:
            self.canvas.pour(levels)

    def _follow(self, _seconds: float = 0.0) -> None:
        there = self.window_beside.canvas.eye
        if self.isVisible() and _place_of(there) != _place_of(self.canvas.eye):
            self.canvas.look(there)

    def _name(self) -> None:
        """Tell what is seen; what was saved is no more so once the file holds another text."""
        if self._title == AS_SAVED and self._text != self.window_beside.document.saved:
            self._title = "as it was saved before"
        self.head.setText(f"<b>To the right: {html.escape(self._title)}</b>")

    def _compare(self) -> None:
        window = self.window_beside
        self._name()
        now, before = window.document.text.splitlines(), self._text.splitlines()
        lines = difflib.unified_diff(before, now, self._title, "in the window", n=1, lineterm="")
        self.lines.setPlainText("\n".join(lines))
        here = window.judged
        if self.judged is None:
            return
        if here is None or here.version != window.version:  # figures of an older text are not compared
            self.figures.setRowCount(0)
            self.findings.setRowCount(0)
            self.told.setText(f"not compared: in the window, {window.work.text()}")
            return
        figures, findings = differences(here, self.judged, window.scene.style or "metric")
        _fill(self.figures, ("Figure", "In the window", self._title, "Difference"), figures)
        _fill(self.findings, ("Found only", "Finding"), findings)
        self.told.setText(
            f"figures that differ: {len(figures)}; findings on one side alone: {len(findings)}"
            if figures or findings
            else "no figure of the list differs, and no finding"
        )

    def end(self) -> None:
        """End what computes and draws for it, and take it away."""
        for signal, slot in self._heard:
            signal.disconnect(slot)
        self._look.stop()
        self.judge.close()
        self.canvas.close()
        if self.window_beside.span is not None:
            self.window_beside.span = None
            self.window_beside.ask_for_looks()
        for widget in (self, self.differences):
            widget.hide()
            widget.deleteLater()


def _place_of(eye: Camera) -> tuple[object, ...]:
    """Return where a camera stands and what it shows, in a picture of any size."""
    return (eye.position, eye.focal, eye.up, eye.parallel, eye.half_height, round(eye.angle, 9))


def _dress_of(looks: Looks) -> tuple[object, ...]:
    """Return what looks are cut and coloured by, and what their key spans."""
    return (looks.cut, looks.view, looks.colour, looks.key and looks.key.span)


def differences(
    here: Judged, there: Judged, style: str
) -> tuple[list[tuple[str, str, str, str]], list[tuple[str, str]]]:
    """Return the figures that differ, with both and by how much, and the findings of one side alone.

    A finding is another one where rule, severity or parts are others, or what was measured.
    """
    one, other = ({row.name: row for row in side.rows} for side in (here, there))
    none = Row("", None, "", "none")
    pairs = {name: (one.get(name, none), other.get(name, none)) for name in [*one, *other]}
    figures = [(name, a.shown, b.shown, change_of(a, b, style)) for name, (a, b) in pairs.items() if a != b]
    findings = [
        (side, f"{finding.rule}: {finding.message}")
        for side, own, others in (("in the window", here, there), ("in the other", there, here))
        for finding in own.findings
        if finding not in others.findings
    ]
    return figures, findings


def _fill(table: QTableWidget, heads: tuple[str, ...], rows: Sequence[tuple[str, ...]]) -> None:
    table.setColumnCount(len(heads))
    table.setHorizontalHeaderLabels(list(heads))
    table.setRowCount(len(rows))
    table.verticalHeader().hide()
    table.setEditTriggers(QTableWidget.EditTrigger.NoEditTriggers)
    for number, row in enumerate(rows):
        for column, text in enumerate(row):
            table.setItem(number, column, QTableWidgetItem(text))
    table.horizontalHeader().setStretchLastSection(True)
    table.resizeColumnsToContents()
    table.resizeRowsToContents()
