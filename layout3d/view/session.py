"""One run of the window: opened on a file, and ended by its close button or by a signal."""

from __future__ import annotations

import signal
import sys
from pathlib import Path

from PySide6.QtCore import QEvent, QTimer
from PySide6.QtWidgets import QApplication

from layout3d.view.closer import Closer
from layout3d.view.furnishing import Furnishing
from layout3d.view.hands import Hands
from layout3d.view.looking import Looking
from layout3d.view.variant import Variants
from layout3d.view.window import LOOK_IN, Window

__all__ = ["open_window"]


def open_window(path: Path) -> int:
    """Open the window on a scene file, and return when it is closed.

    Returns
    -------
    The number of the signal that ended it, or 0.

    Raises
    ------
    SceneRefused : the file can't be read.
    """
    ended: list[int] = []
    window: list[Window] = []
    hands: Hands | None = None
    variants: Variants | None = None

    def end(number: int, _frame: object) -> None:
        # this may be in the middle of a frame, or before the loop has begun: the loop's timer looks at it
        ended.append(number)

    def tell(kind: type[BaseException], error: BaseException, _where: object) -> None:
        for one in window:  # a fault of ours is told, and what isn't saved lives on
            one.statusBar().showMessage(f"a fault of the program: {kind.__name__}: {error}")

    def leave() -> None:
        if ended:
            window[0].end()
            app.exit()  # to quit would close every window of the program, also one that is not ours

    numbers = [getattr(signal, name) for name in ("SIGINT", "SIGTERM", "SIGHUP") if hasattr(signal, name)]
    before = {number: signal.signal(number, end) for number in numbers}
    hook, sys.excepthook = sys.excepthook, tell
    app = QApplication.instance() or QApplication(sys.argv[:1])
    assert isinstance(app, QApplication), "no other kind is made here (open_window)"
    looks = QTimer(interval=LOOK_IN)
    looks.timeout.connect(leave)
    try:
        window.append(Window(path))
        looking = Looking(window[0])
        hands = Hands(window[0])
        Closer(window[0], hands)
        Furnishing(window[0], hands, looking)
        variants = Variants(window[0])
        window[0].show()
        looks.start()
        if not ended:
            app.exec()
    finally:
        looks.stop()
        if hands is not None:
            hands.close()
        if variants is not None:
            variants.close()
        for one in window:
            one.stop()
            one.deleteLater()  # here, in Qt's own order, and not as the interpreter goes down
        app.sendPostedEvents(None, QEvent.Type.DeferredDelete.value)
        sys.excepthook = hook
        for number, handler in before.items():
            signal.signal(number, handler)
    return ended[0] if ended else 0
