"""The frame around the picture, which tells whether the keys are there."""

from __future__ import annotations

from PySide6.QtCore import QEvent, QObject
from PySide6.QtGui import QPainter, QPaintEvent
from PySide6.QtWidgets import QVBoxLayout, QWidget

__all__ = ["Framed"]

WIDE = 2  # pixels


class Framed(QWidget):
    """A widget in a frame that takes the colour of what is chosen while the keys go to it."""

    def __init__(self, inner: QWidget) -> None:
        super().__init__()
        self._inner = inner
        layout = QVBoxLayout(self)
        layout.setContentsMargins(WIDE, WIDE, WIDE, WIDE)
        layout.addWidget(inner)
        inner.installEventFilter(self)

    def eventFilter(self, _watched: QObject, event: QEvent) -> bool:
        """Paint anew where the keys come or go."""
        if event.type() in (QEvent.Type.FocusIn, QEvent.Type.FocusOut):
            self.update()
        return False

    def paintEvent(self, _event: QPaintEvent) -> None:
        """Paint the frame."""
        painter, palette = QPainter(self), self.palette()
        painter.fillRect(self.rect(), palette.highlight() if self._inner.hasFocus() else palette.window())
        painter.end()
