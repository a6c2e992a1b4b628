"""A run's steps in a table: written anew one by one, put in, taken out, and moved up or down."""

from __future__ import annotations

from collections.abc import Callable

from PySide6.QtCore import QSignalBlocker, Qt, Signal
from PySide6.QtGui import QAction, QKeySequence
from PySide6.QtWidgets import QAbstractItemView, QHeaderView, QTableWidgetItem

from layout3d.errors import LayoutError
from layout3d.scene.entries import inserted, items_of, removed, rewritten, swapped
from layout3d.view.panels import KeyedTable

__all__ = ["StepsPanel"]

_BEGUN = {"mm": "up: 100", "in": "up: 4"}  # a new step, to be written over: longer than two fittings


class StepsPanel(KeyedTable):
    """The table; ``units`` is what bare lengths count in. Signal ``written``: the text with other steps."""

    written = Signal(str)

    def __init__(self, units: str) -> None:
        super().__init__(0, 1)
        self._begun = _BEGUN[units]
        self.horizontalHeader().setSectionResizeMode(QHeaderView.ResizeMode.Stretch)
        self.verticalHeader().setSectionResizeMode(QHeaderView.ResizeMode.ResizeToContents)
        self.setSelectionBehavior(QAbstractItemView.SelectionBehavior.SelectRows)
        self.setSelectionMode(QAbstractItemView.SelectionMode.SingleSelection)  # what the keys work on
        self.setContextMenuPolicy(Qt.ContextMenuPolicy.ActionsContextMenu)
        self._text = ""
        self._way: tuple[str, ...] = ()
        self._steps: tuple[str, ...] = ()
        self.itemChanged.connect(self._changed)
        for words, keys, do in (
            ("Put a step in below", "Ctrl+Return", self.put_in),
            ("Take the step out", "Del", self.take_out),
            ("Move the step up", "Alt+Up", lambda: self.move_step(-1)),
            ("Move the step down", "Alt+Down", lambda: self.move_step(1)),
        ):
            action = QAction(words, self)
            action.setShortcut(QKeySequence(keys))
            action.setShortcutContext(Qt.ShortcutContext.WidgetShortcut)
            action.setShortcutVisibleInContextMenu(True)
            action.triggered.connect(lambda _checked=False, d=do: d())
            self.addAction(action)

    def fill(self, text: str, part: str) -> None:
        """Show the steps of a run of this text; none of what is no run."""
        row = self.currentRow()
        way = ("parts", part, "route")
        try:
            steps = tuple(items_of(text, way)) if part else ()
        except LayoutError:
            steps = ()
        same = way == self._way
        self._text, self._way, self._steps = text, way, steps
        self.setHorizontalHeaderLabels([f"Step of {part}" if steps else "Choose a run to see its steps"])
        with QSignalBlocker(self):
            self.setRowCount(len(steps))
            for number, step in enumerate(steps):
                self.setItem(number, 0, QTableWidgetItem(step))
        if same and steps:
            self.setCurrentCell(min(max(row, 0), len(steps) - 1), 0)

    def put_in(self) -> None:
        """Put a step in below the current one."""
        if self._steps:
            row = self.currentRow() + 1
            self._write(inserted, row, self._begun)
            self.setCurrentCell(row, 0)

    def take_out(self) -> None:
        """Take the current step out."""
        if self._steps and self.currentRow() >= 0:
            self._write(removed, self.currentRow())

    def move_step(self, by: int) -> None:
        """Move the current step up or down."""
        row = self.currentRow()
        if not self._steps or not 0 <= row + by < len(self._steps):
            return
        text = swapped(self._text, self._way, min(row, row + by))
        self.setCurrentCell(row + by, 0)
        self.written.emit(text)

    def _changed(self, item: QTableWidgetItem) -> None:
        step = item.text().strip()
        if step and step != self._steps[item.row()]:
            self._write(rewritten, item.row(), step)
        else:
            self.fill(self._text, self._way[1])

    def _write(self, change: Callable[..., str], row: int, *step: str) -> None:
        place = (self._way, row) if change is inserted else ((*self._way, row),)
        try:
            text = change(self._text, *place, *step)
        except LayoutError:
            self.fill(self._text, self._way[1])
            return
        self.written.emit(text)
