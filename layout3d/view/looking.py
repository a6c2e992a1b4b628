"""Looking around in a window: sides, turning, coming near, to a part or a finding; and where the keys are."""

from __future__ import annotations

from functools import partial
from typing import Any

import numpy as np
from PySide6.QtCore import QObject, Qt
from PySide6.QtGui import QKeySequence
from PySide6.QtWidgets import QDockWidget, QTableWidget

from layout3d.checks.base import Finding
from layout3d.draw.camera import VIEWS
from layout3d.draw.page import finding_point
from layout3d.parts.base import Vector, vector
from layout3d.view import eye
from layout3d.view.panels import PartsPanel
from layout3d.view.window import Window

__all__ = ["Looking"]

NEAR = 0.6  # of the scene's longest side: how near a flight to a finding or a part ends
TURN, SHIFT = 0.1, 40.0  # of a key, [rad] and pixels
_SIDE_KEYS = {"three_quarter": "1", "front": "2", "right": "3", "left": "4", "back": "5", "plan": "6"}
_WAYS = (("right", 1, 0), ("left", -1, 0), ("up", 0, 1), ("down", 0, -1))


class Looking(QObject):
    """The entries of the view menu for it, each with its keys; made with a window."""

    def __init__(self, window: Window) -> None:
        super().__init__(window)
        self.window = window
        self._seen = False
        window.dressed.connect(self._dressed)
        window.findings.chosen.connect(self._finding_chosen)
        self._fill_menu()

    def _fill_menu(self) -> None:
        window, menu, key = self.window, self.window.view_menu, QKeySequence.StandardKey
        sides = menu.addMenu("&From a side")
        for name, side in VIEWS.items():
            words = side.words.capitalize()
            window.act(sides, words, _SIDE_KEYS[name], lambda n=name: self.look_from(n))
        ways = menu.addMenu("&Turn, shift, nearer")
        panels = self.panels = menu.addMenu("&Go to")
        menu.addSeparator()
        window.act(menu, "&Everything in view", "Home", lambda: self.look_from("three_quarter", whole=True))
        window.act(menu, "The chosen part from nea&r", "F", self.to_chosen)
        window.act(menu, "&Next finding", "N", lambda: self.step_finding(1))
        window.act(menu, "Finding &before", "P", lambda: self.step_finding(-1))
        window.act(menu, "Choose the ne&xt part", "J", lambda: window.parts.step(1))
        window.act(menu, "Choose the part be&fore", "K", lambda: window.parts.step(-1))
        window.act(menu, "&Search parts", key.Find, window.parts.search.setFocus)
        window.act(menu, "&Hide the chosen part", "H", window.parts.hide_current)
        window.act(menu, "&Lock the chosen part, or free it", "L", window.parts.turn_lock)
        window.act(menu, "Show &all parts", "A", window.parts.show_all)
        window.act(menu, "&Cut: none, length, depth, level", "C", window.cut.next_axis)
        window.act(menu, "Take away the other side of the cut", "Shift+C", window.cut.turn_over)
        window.act(menu, "Cut &onwards", "]", lambda: window.cut.step(10))
        window.act(menu, "Cut bac&k", "[", lambda: window.cut.step(-10))
        window.act(panels, "The picture", "Esc", window.canvas.setFocus)
        for number, (name, dock) in enumerate(window.docks.items(), start=1):
            window.act(panels, name, f"Alt+{number}", lambda d=dock: self.go_to(d))
        # turning takes the eye along, shifting takes what is seen: across, they go against each other
        steps = (
            ("Turn", "Ctrl", self.turn_view, TURN, TURN),
            ("Shift", "Ctrl+Shift", self.shift_view, -SHIFT, SHIFT),
        )
        for verb, keys, move, across, up in steps:
            for way, x, y in _WAYS:
                act = partial(move, across * x, up * y)
                window.act(ways, f"{verb} the view {way}", f"{keys}+{way.capitalize()}", act)
        window.act(ways, "Nearer", key.ZoomIn, lambda: self.nearer(0.8))
        window.act(ways, "Farther", key.ZoomOut, lambda: self.nearer(1.25))

    def _dressed(self) -> None:
        if not self._seen:
            self._seen = True
            self.look_from("three_quarter", whole=True)

    def _boxes(self) -> list[Any]:
        return [thing.box for thing in self.window.looks.things] if self.window.looks else []

    # -- the camera ----------------------------------------------------------------------------------

    def look_from(self, view: str, *, whole: bool = False) -> None:
        """Look from a side; as near as before, or at everything."""
        if self._boxes():
            self.window.canvas.look_from(view, self._boxes(), whole=whole)

    def turn_view(self, around: float, over: float) -> None:
        """Go around what is looked at, to the right and upwards, [rad]."""
        self.window.canvas.look(eye.turned(self.window.canvas.eye, around, over))

    def shift_view(self, right: float, down: float) -> None:
        """Shift what is seen, by pixels."""
        self.window.canvas.look(eye.shifted(self.window.canvas.eye, right, down))

    def nearer(self, factor: float) -> None:
        """Come nearer (factor below 1) or go away."""
        self.window.canvas.look(eye.nearer(self.window.canvas.eye, factor))

    def fly_to(self, at: Vector) -> None:
        """Fly to a point, looking the same way, and no farther from it than before."""
        every = np.array(self._boxes())
        reach = NEAR * float((every[:, 1].max(axis=0) - every[:, 0].min(axis=0)).max())
        now = self.window.canvas.eye
        distance = min(
            reach / np.tan(now.angle / 2.0) / 2.0, float(np.linalg.norm(np.subtract(now.position, at)))
        )
        self.window.canvas.look(eye.to_focal(now, at, distance), fly=True)

    def to_chosen(self) -> None:
        """Fly to the chosen part."""
        box = self.window.box_of(self.window.parts.current)
        if box is not None:
            self.fly_to(vector((box[0] + box[1]) / 2.0))

    # -- findings and panels -------------------------------------------------------------------------

    def _finding_chosen(self, finding: Finding | None) -> None:
        looks = self.window.looks
        if finding is None or looks is None:
            return
        concerned = {
            thing.name: finding.severity
            for thing in looks.things
            if {thing.name, thing.part} & set(finding.parts)
        }
        self.window.canvas.tint(concerned)
        boxes = {name: np.array(thing.box) for thing in looks.things for name in (thing.part, thing.name)}
        at = finding_point(finding, boxes)
        if at is not None:
            self.fly_to(at)

    def step_finding(self, by: int) -> None:
        """Go on or back by findings."""
        panel = self.window.findings
        count = len(panel.findings)
        if count:
            self.window.docks["Findings"].raise_()
            row = panel.currentRow()
            panel.setCurrentRow((row + by) % count if row >= 0 or by > 0 else count - 1)

    def go_to(self, dock: QDockWidget) -> None:
        """Bring a panel to the front, and the keys to it, at its first line where it had none."""
        dock.show()
        dock.raise_()
        panel: Any = dock.widget()
        panel = panel.tree if isinstance(panel, PartsPanel) else panel
        panel.setFocus(Qt.FocusReason.ShortcutFocusReason)
        if isinstance(panel, QTableWidget) and not panel.currentIndex().isValid():
            panel.setCurrentCell(0, min(1, panel.columnCount() - 1))
