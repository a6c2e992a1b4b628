"""Waiting for a window, and pointing at things in it."""

import numpy as np
from PySide6.QtCore import QPoint, QTimer
from PySide6.QtWidgets import QApplication


def settle(qtbot, window):
    """Wait until what is shown is what the text says."""
    qtbot.waitUntil(lambda: done(window), timeout=120_000)


def done(window):
    judged = window.judged is not None and window.judged.version == window.version
    levelled = window.closer._levels is not None and window.closer._levels.version == window.version
    return judged and levelled and window.looks is not None and window.looks.version == window.version


def middle_of(window, part):
    """Return where the middle of a part's box is seen, as a place in the picture."""
    low, high = next(thing.box for thing in window.looks.things if thing.part == part)
    x, y = window.canvas.eye.project([(a + b) / 2 for a, b in zip(low, high, strict=True)])[0]
    return QPoint(round(x), round(y))


def by_others(file, text):
    """Write as an editor does: a new file in the place of the old one."""
    other = file.with_suffix(".new")
    other.write_text(text)
    other.replace(file)


def picture(window):
    """Return what is seen in full look, (height, width, 3) of 0 … 255, signed so that two can be compared."""
    window.canvas.at_rest()
    window.canvas.ren_win.Render()
    return np.asarray(window.canvas.screenshot(return_img=True))[..., :3].astype(int)


def answer(words):
    """Click a button of the question that is about to be asked, by its first words; tell what was asked."""
    asked = []

    def click():
        box = QApplication.activeModalWidget()
        if box is None:
            QTimer.singleShot(10, click)
            return
        asked.append(box.text())
        next(button for button in box.buttons() if button.text().replace("&", "").startswith(words)).click()

    QTimer.singleShot(10, click)
    return asked
