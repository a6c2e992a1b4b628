"""The panels beside the picture: parts, findings, figures, fields of the file."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence

from PySide6.QtCore import QEvent, QPointF, QSignalBlocker, Qt, Signal
from PySide6.QtGui import QColor, QIcon, QKeyEvent, QPainter, QPalette, QPixmap, QPolygonF
from PySide6.QtWidgets import (
    QAbstractItemView,
    QHeaderView,
    QLineEdit,
    QListWidget,
    QListWidgetItem,
    QSlider,
    QTableWidget,
    QTableWidgetItem,
    QTreeWidget,
    QTreeWidgetItem,
    QVBoxLayout,
    QWidget,
)

from layout3d.checks.base import Finding
from layout3d.draw.pieces import WATER_NAME
from layout3d.draw.style import FINDING_MARKS
from layout3d.parts.base import GROUPS
from layout3d.units import show
from layout3d.view.answers import Mistake, Row
from layout3d.view.edits import times, times_of
from layout3d.view.looks import Thing

__all__ = [
    "FieldsPanel",
    "FiguresPanel",
    "FindingsPanel",
    "KeyedTable",
    "PartsPanel",
    "ValuesPanel",
    "change_of",
]

_NAME, _LOCK = 0, 1
_ROLE = Qt.ItemDataRole.UserRole
_Check = Qt.CheckState
_COMMANDS = Qt.KeyboardModifier.ControlModifier | Qt.KeyboardModifier.AltModifier


class PartsPanel(QWidget):
    """All parts by group: a tick shows or hides, the second column locks, the line above searches.

    Signals: ``chosen`` a part's name; ``ticked`` what is hidden changed; ``locked`` what is locked did.
    """

    chosen = Signal(str)
    ticked = Signal()
    locked = Signal()

    def __init__(self) -> None:
        super().__init__()
        self.search = QLineEdit(placeholderText="Search parts", clearButtonEnabled=True)
        self.tree = QTreeWidget(columnCount=2)
        self.tree.setHeaderLabels(["Part", "Locked"])
        header = self.tree.header()
        header.setStretchLastSection(False)
        header.setSectionResizeMode(_NAME, QHeaderView.ResizeMode.Stretch)
        header.setSectionResizeMode(_LOCK, QHeaderView.ResizeMode.ResizeToContents)
        layout = QVBoxLayout(self)
        layout.setContentsMargins(4, 4, 4, 4)
        layout.addWidget(self.search)
        layout.addWidget(self.tree)
        self._rows: dict[str, QTreeWidgetItem] = {}
        self.search.textChanged.connect(self._sift)
        self.search.returnPressed.connect(lambda: self.step(1))
        self.tree.itemChanged.connect(self._changed)
        self.tree.currentItemChanged.connect(self._current)
        self._outline_boxes()

    def changeEvent(self, event: QEvent) -> None:
        """Follow light and dark."""
        super().changeEvent(event)
        if event.type() == QEvent.Type.PaletteChange:
            self._outline_boxes()

    def _outline_boxes(self) -> None:
        """Have boxes outlined: styles take a shade of the window for that, which is lost on dark."""
        palette = self.palette()
        one, other = palette.base().color(), palette.text().color()
        pairs = ((one.red(), other.red()), (one.green(), other.green()), (one.blue(), other.blue()))
        between = QColor(*((a + b) // 2 for a, b in pairs))
        palette.setColor(QPalette.ColorRole.Window, between)
        self.tree.setPalette(palette)

    def fill(self, things: Sequence[Thing], *, water: bool) -> None:
        """List these bodies' parts; what was hidden, locked or closed before stays so."""
        hidden, locked = self.hidden, self.locks
        closed = {item.text(_NAME) for item in self._groups() if not item.isExpanded()}
        current = self.current
        with QSignalBlocker(self.tree):
            self.tree.clear()
            self._rows = {}
            for group in (*GROUPS, *([WATER_NAME] if water else [])):
                parts = list(dict.fromkeys(thing.part for thing in things if thing.group == group))
                if group == WATER_NAME:
                    parts = [WATER_NAME]
                parts = [part for part in parts if part not in self._rows]
                if not parts:
                    continue
                top = QTreeWidgetItem(self.tree, [group])
                top.setFlags(top.flags() | Qt.ItemFlag.ItemIsAutoTristate | Qt.ItemFlag.ItemIsUserCheckable)
                for part in parts:
                    row = QTreeWidgetItem(top, [part])
                    row.setData(_NAME, _ROLE, part)
                    row.setCheckState(_NAME, _Check.Unchecked if part in hidden else _Check.Checked)
                    if part != WATER_NAME:
                        row.setCheckState(_LOCK, _Check.Checked if part in locked else _Check.Unchecked)
                    self._rows[part] = row
                top.setExpanded(group not in closed)
            if current in self._rows:
                self.tree.setCurrentItem(self._rows[current])
        self._sift(self.search.text())

    @property
    def hidden(self) -> frozenset[str]:
        """Return the parts that are not shown, 'water' among them."""
        return self._states(_NAME, _Check.Unchecked)

    @property
    def locks(self) -> frozenset[str]:
        """Return the parts that may not be moved."""
        return self._states(_LOCK, _Check.Checked)

    @property
    def current(self) -> str:
        """Return the part that is chosen, or ''."""
        item = self.tree.currentItem()
        return str(item.data(_NAME, _ROLE) or "") if item is not None else ""

    def choose(self, part: str) -> None:
        """Choose a part, and bring it into sight; '' chooses none."""
        row = self._rows.get(part)
        self.tree.setCurrentItem(row)  # type: ignore[arg-type] # None is taken
        if row is not None:
            self.tree.scrollToItem(row)

    def step(self, by: int) -> None:
        """Choose the next part that the search leaves, or the one before."""
        left = [part for part, row in self._rows.items() if not row.isHidden() and part != WATER_NAME]
        if left:
            at = left.index(self.current) + by if self.current in left else min(by, 0)
            self.choose(left[at % len(left)])

    def hide_current(self) -> None:
        """Take the tick off the chosen part."""
        row = self.tree.currentItem()
        if row is not None:
            row.setCheckState(_NAME, _Check.Unchecked)

    def turn_lock(self) -> None:
        """Lock the chosen part, or free it."""
        row = self._rows.get(self.current)
        if row is not None and self.current != WATER_NAME:
            locked = row.checkState(_LOCK) == _Check.Checked
            row.setCheckState(_LOCK, _Check.Unchecked if locked else _Check.Checked)

    def show_all(self) -> None:
        """Tick everything."""
        for group in self._groups():
            group.setCheckState(_NAME, _Check.Checked)

    def _groups(self) -> list[QTreeWidgetItem]:
        every = (self.tree.topLevelItem(number) for number in range(self.tree.topLevelItemCount()))
        return [item for item in every if item is not None]

    def _states(self, column: int, state: Qt.CheckState) -> frozenset[str]:
        return frozenset(part for part, row in self._rows.items() if row.checkState(column) == state)

    def _sift(self, text: str) -> None:
        words = text.lower().split()
        for group in self._groups():
            left = 0
            for row in (one for one in self._rows.values() if one.parent() is group):
                told = f"{group.text(_NAME)} {row.text(_NAME)}".lower()
                row.setHidden(not all(word in told for word in words))
                left += not row.isHidden()
            group.setHidden(not left)

    def _changed(self, _item: QTreeWidgetItem, column: int) -> None:
        (self.ticked if column == _NAME else self.locked).emit()

    def _current(self, _now: object, _before: object) -> None:
        self.chosen.emit(self.current)


class FindingsPanel(QListWidget):
    """Findings worst first, or the mistakes of a file. Signal ``chosen``: a finding, or None."""

    chosen = Signal(object)

    def __init__(self) -> None:
        super().__init__()
        self.setWordWrap(True)
        self.setAlternatingRowColors(True)
        self.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        self.findings: tuple[Finding, ...] = ()
        self.mistakes: tuple[Mistake, ...] = ()
        self.currentItemChanged.connect(lambda now, _: self._tell(now))
        self.itemClicked.connect(self._tell)

    def fill(self, findings: tuple[Finding, ...], cautions: Sequence[str]) -> None:
        """List findings, and under them what they do not say."""
        self.findings, self.mistakes = findings, ()
        with QSignalBlocker(self):
            self.clear()
            self._list(findings)
            if not findings:
                QListWidgetItem("The rules found nothing.", self)
            heading = QListWidgetItem("Cautions", self)
            heading.setFlags(Qt.ItemFlag.ItemIsEnabled)
            bold = heading.font()
            bold.setBold(True)
            heading.setFont(bold)
            for caution in cautions:
                item = QListWidgetItem(caution, self)
                item.setFlags(Qt.ItemFlag.ItemIsEnabled)  # to be read, not gone to

    def fill_fit(self, findings: tuple[Finding, ...], before: Sequence[Finding]) -> None:
        """List what was found so far, and greyed what was found of the rest before the last change."""
        self.findings, self.mistakes = findings, ()
        with QSignalBlocker(self):
            self.clear()
            self._list(findings)
            words = "This is the fit alone. All else is being worked out"
            for item in (
                QListWidgetItem(f"{words}; before the last change:" if before else f"{words}.", self),
                *self._list(before),
            ):
                item.setFlags(Qt.ItemFlag.NoItemFlags)

    def _list(self, findings: Sequence[Finding]) -> list[QListWidgetItem]:
        items = []
        for finding in findings:
            more = [finding.remedy and f"→ {finding.remedy}", *finding.also]
            told = "\n".join([f"{finding.rule}: {finding.message}", *(line for line in more if line)])
            items.append(QListWidgetItem(_mark(finding.severity), told, self))
            items[-1].setData(_ROLE, finding)
        return items

    def fill_mistakes(self, mistakes: tuple[Mistake, ...], told: Callable[[str], str]) -> None:
        """List why the file can't be used, in the words ``told``; what was found in it before is past."""
        self.findings, self.mistakes = (), mistakes
        with QSignalBlocker(self):
            self.clear()
            for mistake in mistakes:
                QListWidgetItem(_mark("fault"), told(mistake.message), self)

    def _tell(self, item: QListWidgetItem | None) -> None:
        self.chosen.emit(None if item is None else item.data(_ROLE))


class KeyedTable(QTableWidget):
    """A table in which what is typed begins a cell, and Tab goes on to what is beside the table."""

    def __init__(self, rows: int, columns: int) -> None:
        super().__init__(rows, columns)
        self.setTabKeyNavigation(False)

    def event(self, event: QEvent) -> bool:
        """Keep what is typed from the window's entries, which have letters and figures for keys."""
        if event.type() == QEvent.Type.ShortcutOverride and isinstance(event, QKeyEvent):
            item = self.currentItem()
            editable = item is not None and item.flags() & Qt.ItemFlag.ItemIsEditable
            if editable and event.text().isprintable() and event.text() and not event.modifiers() & _COMMANDS:
                event.accept()
                return True
        return super().event(event)


class FiguresPanel(QTableWidget):
    """Key figures, each with its change since the file was last saved."""

    def __init__(self) -> None:
        super().__init__(0, 3)
        self.setHorizontalHeaderLabels(["Figure", "Now", "Change"])
        head = self.horizontalHeaderItem(2)
        if head is not None:
            head.setToolTip("Since the file was saved")
        _tighten(self)
        self.setTabKeyNavigation(False)
        self.setEditTriggers(QAbstractItemView.EditTrigger.NoEditTriggers)
        self.horizontalHeader().setSectionResizeMode(QHeaderView.ResizeMode.ResizeToContents)
        self.horizontalHeader().setSectionResizeMode(0, QHeaderView.ResizeMode.Stretch)

    def fill(self, rows: Sequence[Row], saved: Sequence[Row], style: str) -> None:
        """Show figures beside those of the saved file."""
        before = {row.name: row for row in saved}
        self.setRowCount(len(rows))
        for number, row in enumerate(rows):
            change = change_of(row, before.get(row.name), style)
            words = row.value is None  # in place of a figure: they take the room of the change as well
            if words or self.columnSpan(number, 1) > 1:
                self.setSpan(number, 1, 1, 2 if words else 1)
            for column, text in enumerate((row.name, row.shown, change)):
                item = QTableWidgetItem(text)
                item.setToolTip(f"{row.name}: {row.shown}")
                self.setItem(number, column, item)
        self.resizeRowsToContents()

    def grey(self, stale: bool) -> None:
        """Show that the figures are those of an older text, while the new ones are being computed."""
        self.setEnabled(not stale)


def change_of(now: Row, before: Row | None, style: str) -> str:
    """Return how a figure changed, with its sign; '' where it didn't, or one of them is none."""
    if before is None or now.value is None or before.value is None or now.value == before.value:
        return ""
    sign = "+" if now.value > before.value else "−"
    return sign + show(abs(now.value - before.value), now.kind, system=style)


class FieldsPanel(KeyedTable):
    """Fields of the file, by path, to be written anew. Signal ``written``: the path and the new text."""

    written = Signal(str, str)

    def __init__(self, heads: tuple[str, str]) -> None:
        super().__init__(0, 2)
        self.setHorizontalHeaderLabels(list(heads))
        _tighten(self)
        self.verticalHeader().setSectionResizeMode(QHeaderView.ResizeMode.ResizeToContents)
        self.horizontalHeader().setStretchLastSection(True)
        self.horizontalHeader().setSectionResizeMode(0, QHeaderView.ResizeMode.ResizeToContents)
        self.itemChanged.connect(self._told)
        self.currentCellChanged.connect(self._to_value)

    def fill(self, fields: Mapping[str, tuple[str, str]], *, under: str, docs: Mapping[str, str]) -> None:
        """Show fields.

        Parameters
        ----------
        fields : by full path, the text that stands there, and what it comes out as, '' where that is the same
        under : the beginning of all paths, left out in the first column
        docs : words on a field, by its name
        """
        with QSignalBlocker(self):
            self.setRowCount(len(fields))
            for number, (path, (text, out)) in enumerate(fields.items()):
                short = path.removeprefix(under)
                name, value = QTableWidgetItem(short), QTableWidgetItem(text)
                name.setFlags(name.flags() & ~Qt.ItemFlag.ItemIsEditable)
                value.setData(_ROLE, (path, text))
                words = docs.get(short.split(".")[0].split("[")[0], "")
                for item in (name, value):
                    item.setToolTip(" = ".join(part for part in (words, out) if part))
                self.setItem(number, 0, name)
                self.setItem(number, 1, value)

    def texts(self) -> dict[str, str]:
        """Return what stands in the panel, by path."""
        items = (self.item(number, 1) for number in range(self.rowCount()))
        return {item.data(_ROLE)[0]: item.text() for item in items if item is not None}

    def _to_value(self, row: int, column: int) -> None:
        """Go from a field's name to its value: what is typed there is no key of the window."""
        if column == 0:
            self.setCurrentCell(row, 1)

    def _told(self, item: QTableWidgetItem) -> None:
        path, before = item.data(_ROLE) or ("", "")
        text = item.text().strip()
        if path and text != before:
            if not text:
                with QSignalBlocker(self):
                    item.setText(before)  # a field without a value is no field: it stays what it was
                return
            self.written.emit(path, text)


class ValuesPanel(FieldsPanel):
    """Named values, each figure with a slider from half of what it was first seen at to half as much again.

    ``units`` is what bare lengths count in, 'mm' or 'in'.
    """

    def __init__(self, units: str) -> None:
        super().__init__(("Value", "In the file"))
        self.setColumnCount(3)
        self.setHorizontalHeaderLabels(["Value", "In the file", "±50 %"])
        self.horizontalHeader().setStretchLastSection(False)
        self.horizontalHeader().setSectionResizeMode(1, QHeaderView.ResizeMode.Stretch)
        self.horizontalHeader().resizeSection(2, 80)
        self._units = units
        self._sliders: dict[str, tuple[QSlider, str]] = {}

    def fill(self, fields: Mapping[str, tuple[str, str]], *, under: str, docs: Mapping[str, str]) -> None:
        """Show fields as ``FieldsPanel.fill`` does; a slider stays while the values stay the same ones."""
        before = list(self.texts())
        super().fill(fields, under=under, docs=docs)
        if before != list(fields):
            self._sliders = {}
        for number, (path, (text, _)) in enumerate(fields.items()):
            slider, first = self._sliders.get(path, (None, text))
            share = times_of(text, first)
            if share is None or not 0.495 <= share <= 1.505:
                share, slider, first = (None if times_of(text, text) is None else 1.0), None, text
            if share is None:
                self._sliders.pop(path, None)  # the table deletes it
                self.removeCellWidget(number, 2)
            elif slider is None:
                slider = QSlider(Qt.Orientation.Horizontal)
                slider.setRange(50, 150)
                slider.setValue(round(100 * share))
                slider.setTracking(False)  # told as it is let go, and at each key
                slider.valueChanged.connect(lambda percent, p=path: self._slid(p, percent))
                self._sliders[path] = (slider, first)
                self.setCellWidget(number, 2, slider)
            else:
                with QSignalBlocker(slider):
                    slider.setValue(round(100 * share))

    def _slid(self, path: str, percent: int) -> None:
        if path not in self._sliders:
            return  # let go after another text has taken its value away
        text = times(self._sliders[path][1], percent / 100.0, units=self._units)
        if text != self.texts().get(path):
            self.written.emit(path, text)


def _tighten(table: QTableWidget) -> None:
    """Give the rows of a table the height of a line, and no heads."""
    table.verticalHeader().hide()
    table.verticalHeader().setDefaultSectionSize(table.fontMetrics().height() + 8)


def _mark(severity: str) -> QIcon:
    """Return the mark of a severity: its shape tells the same as its colour."""
    mark = FINDING_MARKS[severity]
    image = QPixmap(16, 16)
    image.fill(Qt.GlobalColor.transparent)
    painter = QPainter(image)
    painter.setRenderHint(QPainter.RenderHint.Antialiasing)
    painter.setBrush(QColor.fromRgbF(*mark.colour))
    painter.setPen(Qt.PenStyle.NoPen)
    if mark.shape == "circle":
        painter.drawEllipse(2, 2, 12, 12)
    elif mark.shape == "square":
        painter.drawRect(3, 3, 10, 10)
    else:
        painter.drawPolygon(QPolygonF([QPointF(8, 2), QPointF(15, 14), QPointF(1, 14)]))
    painter.end()
    icon = QIcon(image)
    icon.addPixmap(image, QIcon.Mode.Selected)  # else the style mixes in the colour of what is chosen
    return icon
