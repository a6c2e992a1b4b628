"""What things are coloured by, chosen in a bar, and beside it the key that tells what the colours mean."""

from __future__ import annotations

from PySide6.QtCore import QEvent, QObject, QRectF, Qt, Signal
from PySide6.QtGui import QColor, QPainter, QPaintEvent
from PySide6.QtWidgets import QComboBox, QToolBar, QWidget

from layout3d.draw.flow_colours import ColourKey, ramp
from layout3d.view.looks import COLOURS, Looks

__all__ = ["ColourBar", "KeyOfColours"]

STEPS = 48
WIDE, MARGIN, THICK = 320, 40, 10  # pixels


class ColourBar(QToolBar):
    """The bar. Signal ``chosen``: one of ``COLOURS``."""

    chosen = Signal(str)

    def __init__(self, picture: QWidget) -> None:
        super().__init__("Colour")
        self.setObjectName("Colour")
        self.choice = QComboBox()
        self.choice.setToolTip("What things are coloured by")
        for colour, words in COLOURS.items():
            self.choice.addItem(words, colour)
        self.key = KeyOfColours(picture)
        self.addWidget(self.choice)
        self.choice.currentIndexChanged.connect(lambda _: self.chosen.emit(self.colour))

    @property
    def colour(self) -> str:
        """Return what is chosen."""
        return str(self.choice.currentData())

    def next_colour(self) -> None:
        """Choose the next one; after the last, the first."""
        self.choice.setCurrentIndex((self.choice.currentIndex() + 1) % self.choice.count())

    def show_key(self, looks: Looks) -> None:
        """Show what the colours of these looks mean."""
        self.key.show_key(looks.key)


class KeyOfColours(QWidget):
    """The key, at the lower left of the picture; hands reach through it."""

    def __init__(self, picture: QWidget) -> None:
        super().__init__(picture)
        self._key: ColourKey | None = None
        self._picture = picture
        self.setAttribute(Qt.WidgetAttribute.WA_TransparentForMouseEvents)
        self.hide()
        picture.installEventFilter(self)

    def show_key(self, key: ColourKey | None) -> None:
        """Show what colours mean; nothing where there is no key."""
        self._key = key
        words = "" if key is None else f"{key.title}: {', '.join(text for _, text in key.marks)}"
        self.setAccessibleName(words)
        self._place()
        self.setVisible(key is not None)
        self.update()

    def eventFilter(self, _picture: QObject, event: QEvent) -> bool:
        """Keep to the lower left."""
        if event.type() == QEvent.Type.Resize:
            self._place()
        return False

    def _place(self) -> None:
        high = 2 * self.fontMetrics().height() + THICK + 8
        self.setGeometry(4, self._picture.height() - high - 4, WIDE + 2 * MARGIN, high)

    def paintEvent(self, _event: QPaintEvent) -> None:
        """Paint the bar with its figures."""
        if self._key is None:
            return
        painter, line = QPainter(self), self.fontMetrics().height()
        page = self.palette().window().color()
        page.setAlphaF(0.7)  # things behind it are seen, and what is written on it is read
        painter.fillRect(self.rect(), page)
        painter.setPen(self.palette().windowText().color())
        painter.drawText(QRectF(0, 0, WIDE + 2 * MARGIN, line), Qt.AlignmentFlag.AlignCenter, self._key.title)
        for step in range(STEPS):
            left = MARGIN + WIDE * step / STEPS
            colour = QColor.fromRgbF(*ramp((step + 0.5) / STEPS))
            painter.fillRect(QRectF(left, line + 2, WIDE / STEPS + 1, THICK), colour)
        below = line + 2 + THICK
        for share, text in self._key.marks:
            at = MARGIN + WIDE * share
            painter.drawLine(int(at), below, int(at), below + 3)
            wide = self.fontMetrics().horizontalAdvance(text)
            begin = min(max(at - wide / 2, 0.0), WIDE + 2 * MARGIN - wide)
            painter.drawText(QRectF(begin, below + 4, wide + 2, line), Qt.AlignmentFlag.AlignLeft, text)
        painter.end()
