"""The window's menus of file and view, each entry with its keys, which Qt shows beside it."""

from __future__ import annotations

from typing import Any

from PySide6.QtGui import QKeySequence

from layout3d.draw.camera import VIEWS

__all__ = ["fill_menus"]

_VIEW_KEYS = {"three_quarter": "1", "front": "2", "right": "3", "left": "4", "back": "5", "plan": "6"}


def fill_menus(window: Any) -> None:
    """Fill the menus of file and view of a ``Window`` in the making; others add their own behind them."""
    key = QKeySequence.StandardKey
    window.act(window.file_menu, "&Close", key.Quit, window.close)
    for name, side in VIEWS.items():
        words = side.words.capitalize()
        window.act(window.view_menu, words, _VIEW_KEYS[name], lambda n=name: window.look_from(n))
    window.view_menu.addSeparator()
    window.act(
        window.view_menu, "&Everything in view", "Home", lambda: window.look_from("three_quarter", whole=True)
    )
    window.act(window.view_menu, "&Next finding", "N", lambda: window.step_finding(1))
    window.act(window.view_menu, "&Finding before", "P", lambda: window.step_finding(-1))
    window.act(window.view_menu, "&Search parts", key.Find, window.parts.search.setFocus)
    window.act(window.view_menu, "&Hide the chosen part", "H", window.hide_chosen)
    window.act(window.view_menu, "Show &all parts", "A", window.parts.show_all)
    window.act(window.view_menu, "&Cut: none, length, depth, level", "C", window.cut.next_axis)
    window.act(
        window.view_menu,
        "Cut &onwards",
        "]",
        lambda: window.cut.step(10),
    )
    window.act(window.view_menu, "Cut &back", "[", lambda: window.cut.step(-10))
    window.view_menu.addSeparator()
    window.act(window.view_menu, "Go to the picture", "Esc", window.canvas.setFocus)
    for number, (name, dock) in enumerate(window.docks.items(), start=1):
        window.act(window.view_menu, f"Go to {name.lower()}", f"Alt+{number}", lambda d=dock: window.go_to(d))
    for way, keys, step in (
        ("right", "Ctrl+Right", (0.1, 0.0)),
        ("left", "Ctrl+Left", (-0.1, 0.0)),
        ("up", "Ctrl+Up", (0.0, 0.1)),
        ("down", "Ctrl+Down", (0.0, -0.1)),
    ):
        window.act(window.view_menu, f"Turn the view {way}", keys, lambda s=step: window.turn_view(*s))
    window.act(window.view_menu, "Nearer", key.ZoomIn, lambda: window.nearer(0.8))
    window.act(window.view_menu, "Farther", key.ZoomOut, lambda: window.nearer(1.25))
