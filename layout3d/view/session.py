"""The whole window on a file, and one run of it, ended by its close button or by a signal."""

from __future__ import annotations

import signal
import sys
from dataclasses import dataclass
from pathlib import Path

from PySide6.QtCore import QEvent, QSettings, QTimer
from PySide6.QtWidgets import QApplication

from layout3d.view.closer import Closer
from layout3d.view.furnishing import Furnishing
from layout3d.view.hands import Hands
from layout3d.view.looking import Looking
from layout3d.view.variant import Variants
from layout3d.view.window import LOOK_IN, Window

__all__ = ["Whole", "open_window", "whole_window"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Whole:
    """The window with all that works in it; made by ``whole_window``, not shown yet."""

    window: Window
    looking: Looking
    hands: Hands
    closer: Closer
    furnishing: Furnishing
    variants: Variants

    def end(self) -> None:
        """Close it without a word, and end the processes beside it."""
        self.hands.close()
        self.variants.close()
        self.window.end()


def whole_window(path: Path, *, settings: QSettings | None = None) -> Whole:
    """Return the window on a scene file; ``settings`` keep its layout.

    Raises
    ------
    SceneRefused : the file can't be read.
    """
    window = Window(path, settings=settings)
    looking, hands = Looking(window), Hands(window)
    return Whole(
        window=window,
        looking=looking,
        hands=hands,
        closer=Closer(window, hands),
        furnishing=Furnishing(window, hands, looking),
        variants=Variants(window),
    )


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
    made: list[Whole] = []

    def end(number: int, _frame: object) -> None:
        # this may be in the middle of a frame, or before the loop has begun: the loop's timer looks at it
        ended.append(number)

    def tell(kind: type[BaseException], error: BaseException, _where: object) -> None:
        for one in made:  # a fault of ours is told, and what isn't saved lives on
            one.window.statusBar().showMessage(f"a fault of the program: {kind.__name__}: {error}")

    def leave() -> None:
        if ended:
            made[0].window.end()
            app.exit()  # to quit would close every window of the program, also one that is not ours

    numbers = [getattr(signal, name) for name in ("SIGINT", "SIGTERM", "SIGHUP") if hasattr(signal, name)]
    before = {number: signal.signal(number, end) for number in numbers}
    hook, sys.excepthook = sys.excepthook, tell
    app = QApplication.instance() or QApplication(sys.argv[:1])
    assert isinstance(app, QApplication), "no other kind is made here (open_window)"
    looks = QTimer(interval=LOOK_IN)
    looks.timeout.connect(leave)
    try:
        made.append(whole_window(path))
        made[0].window.show()
        looks.start()
        if not ended:
            app.exec()
    finally:
        looks.stop()
        for one in made:
            one.end()
            one.window.deleteLater()  # here, in Qt's own order, and not as the interpreter goes down
        app.sendPostedEvents(None, QEvent.Type.DeferredDelete.value)
        sys.excepthook = hook
        for number, handler in before.items():
            signal.signal(number, handler)
    return ended[0] if ended else 0
