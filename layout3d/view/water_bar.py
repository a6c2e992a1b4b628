"""Water filled in and let out on the screen: a level by slider, or where it stands after a failure."""

from __future__ import annotations

from collections.abc import Sequence

from PySide6.QtCore import QSignalBlocker, Qt, Signal
from PySide6.QtGui import QAction
from PySide6.QtWidgets import QComboBox, QLabel, QSlider, QToolBar

from layout3d.errors import LayoutError
from layout3d.units import show
from layout3d.view.levels import Stand
from layout3d.water.level_table import LevelTable

__all__ = ["WaterBar"]

STEPS = 500  # of the slider
AS_WRITTEN = "water as in the file"
BY_SLIDER = "water by the slider"


class WaterBar(QToolBar):
    """The bar. Nothing in it changes the file but ``kept``.

    Signals: ``moved`` other levels than the file's, as ``poured`` takes them; ``kept`` the tank's level, to
    be written as the waterline; ``said`` all that is told of a failure.
    """

    moved = Signal(object)
    kept = Signal(float)
    said = Signal(str)

    def __init__(self) -> None:
        super().__init__("Water")
        self.setObjectName("Water")
        self._table: LevelTable | None = None
        self._stands: tuple[Stand, ...] = ()
        self._style: str | None = None
        self._rest, self._waterline = 0.0, 0.0
        self.level: float | None = None
        self.choice = QComboBox()
        self.choice.setToolTip("Where the water stands")
        self.choice.setSizeAdjustPolicy(QComboBox.SizeAdjustPolicy.AdjustToMinimumContentsLengthWithIcon)
        self.choice.setMinimumContentsLength(24)
        self.slider = QSlider(Qt.Orientation.Horizontal)
        self.slider.setMinimumWidth(60)  # in a small window too
        self.slider.setRange(0, STEPS)
        self.slider.setToolTip("Level of the water in the tank")
        self.told = QLabel()
        self.told.setMinimumWidth(
            self.told.fontMetrics().horizontalAdvance("1234.5 mm: 1,234 L net in the tank")
        )
        self.keep = QAction("Write as waterline", self)
        self.keep.setToolTip("Write the level of the slider into the file as the waterline")
        self.keep.setEnabled(False)
        for widget in (self.choice, self.slider, self.told):
            self.addWidget(widget)
        self.addAction(self.keep)
        self.keep.triggered.connect(lambda: self.level is not None and self.kept.emit(self.level))
        self.choice.currentIndexChanged.connect(self._chosen)
        self.slider.valueChanged.connect(lambda _: self._slid())
        self._fill_choice()

    def fill(
        self, table: LevelTable | None, stands: Sequence[Stand], waterline: float, style: str | None
    ) -> None:
        """Take the tank's water by level, and where it stands after failures; what was chosen stays so."""
        self._table, self._stands, self._style, self._waterline = table, tuple(stands), style, waterline
        self._fill_choice()
        self._chosen(self.choice.currentIndex(), by_hand=False)

    @property
    def failure(self) -> str:
        """Return the name of the failure after which the water is shown; '' for none."""
        return self.choice.currentText() if self.choice.currentIndex() > 1 else ""

    def step(self, by: int) -> None:
        """Move the level by steps of the slider."""
        self.slider.setValue(self.slider.value() + by)

    def _fill_choice(self) -> None:
        before = self.choice.currentText()
        with QSignalBlocker(self.choice):
            self.choice.clear()
            self.choice.addItems([AS_WRITTEN, BY_SLIDER, *(stand.name for stand in self._stands)])
            self.choice.setCurrentIndex(max(self.choice.findText(before), 0))

    def _chosen(self, index: int, *, by_hand: bool = True) -> None:
        if index == 1:
            self._slid()
            return
        stand = self._stands[index - 2] if index > 1 else None
        level = self._waterline if stand is None else stand.levels[""]
        self._place_slider(level)
        self.keep.setEnabled(False)
        self.level = None
        self.told.setText(self._words(level))
        self.told.setToolTip("" if stand is None else stand.told)
        if by_hand or stand is not None:  # else what is told of something else stays
            self.said.emit("" if stand is None else f"{stand.name}: {stand.told}")
        self.moved.emit({} if stand is None else stand.levels)

    def _slid(self) -> None:
        if self._table is None:
            return
        low, high = self._table.levels[0], self._table.top
        self.level = low + (high - low) * self.slider.value() / STEPS
        with QSignalBlocker(self.choice):
            self.choice.setCurrentIndex(1)
        self.keep.setEnabled(True)
        self.told.setText(self._words(self.level))
        self.moved.emit({"": self.level})

    def _place_slider(self, level: float) -> None:
        if self._table is not None:
            low, high = self._table.levels[0], self._table.top
            with QSignalBlocker(self.slider):
                self.slider.setValue(round((level - low) / max(high - low, 1e-9) * STEPS))

    def _words(self, level: float) -> str:
        if self._table is None:
            return ""
        try:
            held = show(self._table.volume(level), "volume", system=self._style)
        except LayoutError:
            held = "no figure"
        return f"{show(level, 'length', system=self._style)}: {held} net in the tank"
