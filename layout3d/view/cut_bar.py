"""Where the picture is cut open: an axis, and a place on it by slider or figure, in the scene's units."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Any

import numpy as np
from PySide6.QtCore import QSignalBlocker, Qt, QTimer, Signal
from PySide6.QtWidgets import QComboBox, QDoubleSpinBox, QSlider, QToolBar

from layout3d.draw.camera import direction_of
from layout3d.parts.base import Vector
from layout3d.units import to_si

__all__ = ["CutBar", "Place"]

Place = tuple[str, float]
"""An axis, and a place on it, [m]."""

STEPS = 400  # of the slider
REST = 300  # without a movement until the cut is filled, [ms]
SIDES = (("left", "right"), ("front", "back"), ("plan", "plan"))
"""The views that look at a cut square to x, y and z: against the axis, and along it."""


class CutBar(QToolBar):
    """The bar.

    ``view`` looks at the cut from the side that it takes away: that of the viewer as it is begun. Signals:
    ``moved`` the new place or None, ``rested`` once it stays for a while.
    """

    moved = Signal(object)
    rested = Signal()

    def __init__(self, unit: str, viewer: Callable[[], Vector]) -> None:
        super().__init__("Cut")
        self.setObjectName("Cut")
        self.place: Place | None = None
        self.view = "three_quarter"
        self._viewer = viewer  # which way the viewer is
        self._unit = to_si(1.0, unit)
        self._box = np.zeros((2, 3))
        self.axis = QComboBox()
        self.axis.addItems(["no cut", "cut the length (x)", "cut the depth (y)", "cut level (z)"])
        self.slider = QSlider(Qt.Orientation.Horizontal)
        self.slider.setRange(0, STEPS)
        self.figure = QDoubleSpinBox(suffix=f" {unit}", decimals=1 if unit == "mm" else 3)
        self.figure.setKeyboardTracking(False)  # told as it is typed, a figure is written over at its point
        for widget in (self.axis, self.slider, self.figure):
            self.addWidget(widget)
            widget.setEnabled(widget is self.axis)
        self._rest = QTimer(self, interval=REST, singleShot=True)
        self._rest.timeout.connect(self.rested)
        self.axis.currentIndexChanged.connect(self._axis_chosen)
        self.slider.valueChanged.connect(self._slid)
        self.figure.valueChanged.connect(lambda figure: self._to(figure * self._unit))

    def reach(self, boxes: Sequence[Any]) -> None:
        """Reach over these boxes, (2, 3) each, [m]."""
        every = np.array(boxes)
        self._box = np.array([every[:, 0].min(axis=0), every[:, 1].max(axis=0)])
        if self.place is not None:
            self._set_range()
            low, high = self._range()
            place = min(max(self.place[1], low), high)
            if place == self.place[1]:
                self._show(place)
            else:
                self._to(place)

    def step(self, by: int) -> None:
        """Move it by steps of the slider."""
        self.slider.setValue(self.slider.value() + by)

    def next_axis(self) -> None:
        """Cut square to the next axis; after the last, not at all."""
        self.axis.setCurrentIndex((self.axis.currentIndex() + 1) % self.axis.count())

    def turn_over(self) -> None:
        """Take away the other side."""
        if self.place is not None:
            one, other = SIDES["xyz".index(self.place[0])]
            self.view = other if self.view == one else one
            self._to(self.place[1])

    @property
    def clip(self) -> tuple[str, float, float] | None:
        """Return axis, place [m], and the sign of the side that is taken away; None for no cut."""
        if self.place is None:
            return None
        return (*self.place, float(np.sign(direction_of(self.view)["xyz".index(self.place[0])])))

    def stop(self) -> None:
        """Tell nothing more."""
        self._rest.stop()

    def _range(self) -> tuple[float, float]:
        low, high = self._box[:, max(self.axis.currentIndex() - 1, 0)].tolist()
        return low, high

    def _axis_chosen(self, index: int) -> None:
        self.slider.setEnabled(index > 0)
        self.figure.setEnabled(index > 0)
        if index == 0:
            self.place, self.view = None, "three_quarter"
            self.moved.emit(None)
            return
        self.view = SIDES[index - 1][int(self._viewer()[index - 1] > 0.0)]
        self._set_range()
        self._to(sum(self._range()) / 2.0)

    def _set_range(self) -> None:
        low, high = self._range()
        with QSignalBlocker(self.figure):
            self.figure.setRange(low / self._unit, high / self._unit)

    def _slid(self, step: int) -> None:
        low, high = self._range()
        self._to(low + (high - low) * step / STEPS)

    def _to(self, place: float) -> None:
        if self.axis.currentIndex() == 0:
            return
        self.place = ("xyz"[self.axis.currentIndex() - 1], place)
        self._show(place)
        self.moved.emit(self.place)
        self._rest.start()

    def _show(self, place: float) -> None:
        low, high = self._range()
        with QSignalBlocker(self.slider), QSignalBlocker(self.figure):
            self.slider.setValue(round((place - low) / max(high - low, 1e-9) * STEPS))
            self.figure.setValue(place / self._unit)
