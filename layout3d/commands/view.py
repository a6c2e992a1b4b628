"""``layout3d view``: the scene in a window, to be turned, cut open and gone through."""

from __future__ import annotations

import signal

from layout3d.commands.ending import Ended, ended_at_once
from layout3d.commands.scene import SceneFile, refusals_told


def view(scene: SceneFile) -> None:
    """Open a window on a scene.

    It shows the tank with all findings and figures, and again whenever the file is saved in an editor. Parts
    are moved by hand; saving changes their figures in the file. Needs the extra `window` and a screen;
    `layout3d picture` does without.
    """
    with refusals_told():
        with ended_at_once():
            from layout3d.view.opening import refuse_without_window

            refuse_without_window()
            from layout3d.view.session import open_window

        number = open_window(scene)
    if number == signal.SIGINT:
        raise KeyboardInterrupt
    if number:
        raise Ended(number)
