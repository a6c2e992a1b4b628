"""Lines that changed, as a unified difference: what came and what went is tinted, light or dark."""

from __future__ import annotations

from PySide6.QtGui import QColor, QFontDatabase, QSyntaxHighlighter, QTextCharFormat
from PySide6.QtWidgets import QPlainTextEdit

__all__ = ["ChangedLines"]

_TINTS = {"+": QColor(0, 114, 178, 70), "-": QColor(213, 94, 0, 70)}
"""Blue for what came, orange for what went: told apart by all eyes, and the sign stands there too."""


class ChangedLines(QPlainTextEdit):
    """The lines, to be read and copied, and not written in."""

    def __init__(self) -> None:
        super().__init__(readOnly=True)
        self.setFont(QFontDatabase.systemFont(QFontDatabase.SystemFont.FixedFont))
        self._tint = _Tint(self.document())


class _Tint(QSyntaxHighlighter):
    def highlightBlock(self, text: str) -> None:
        colour = _TINTS.get(text[:1])
        if colour is not None and not text.startswith(("+++ ", "--- ")):
            looks = QTextCharFormat()
            looks.setBackground(colour)
            self.setFormat(0, len(text), looks)
