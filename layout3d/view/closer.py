"""Looking closer: colours by a figure, water at other levels, spots that the scene keeps, pictures."""

from __future__ import annotations

import math
from collections.abc import Mapping
from functools import partial
from pathlib import Path
from typing import Any

import numpy as np
from PySide6.QtCore import QObject, Qt
from PySide6.QtWidgets import (
    QCheckBox,
    QDialog,
    QDialogButtonBox,
    QFileDialog,
    QFormLayout,
    QInputDialog,
    QSpinBox,
    QWidget,
)

from layout3d.draw.camera import Camera, camera_at
from layout3d.draw.picture import LARGEST, SMALLEST
from layout3d.draw.pieces import WATER_NAME
from layout3d.errors import LayoutError
from layout3d.fields import OWN_NAME, is_own_name
from layout3d.parts.base import Vector, vector
from layout3d.scene.entries import added, rewritten
from layout3d.scene.write_back import written_like
from layout3d.units import show
from layout3d.view.answers import Between, Levels, Mistakes, Trouble
from layout3d.view.colour_bar import ColourBar
from layout3d.view.hands import Hands
from layout3d.view.points import points_of
from layout3d.view.shot import Shoot, Shot, sized
from layout3d.view.water_bar import WaterBar
from layout3d.view.window import Window

__all__ = ["AskPicture", "Closer", "spot_entry"]

NO_PART = "Choose a part first."
LONGER_SIDE = 1600  # of a picture from here, if nothing else is chosen, [pixels]


class Closer(QObject):
    """The bars and menus for it; made with a window and its hands."""

    def __init__(self, window: Window, hands: Hands) -> None:
        super().__init__(window)
        self.window, self.hands = window, hands
        self.colours, self.water = ColourBar(window.canvas), WaterBar()
        for bar in (self.colours, self.water):
            window.addToolBar(Qt.ToolBarArea.BottomToolBarArea, bar)
        self.colours.chosen.connect(self._colour)
        self.water.moved.connect(self._pour)
        hands.answered.connect(self._answered)
        self.water.kept.connect(self._write_waterline)
        self.water.said.connect(window.statusBar().showMessage)
        window.dressed.connect(self._dressed)
        window.levelled.connect(self._levelled)
        self._levels: Levels | None = None
        window.canvas.marked.connect(self.mark)
        window.canvas.compared.connect(lambda part: self._measure(window.parts.current, part))
        self._marked: Vector | None = None
        self._point: tuple[str, int, Vector] | None = None  # of a part, its number among its points, where
        window.texted.connect(self._forget_points)
        self._part = ""
        menu = window.view_menu
        menu.addSeparator()
        window.act(menu, "Colour by the next figure", "G", self.colours.next_colour)
        window.act(menu, "&Measure from the chosen part, to the next one", "M", self.measure)
        window.act(menu, "Next point of the chosen part", "X", lambda: self.step_point(1))
        window.act(menu, "Point before", "Shift+X", lambda: self.step_point(-1))
        window.act(menu, "Measure from that point, to the next one", "Shift+M", self.mark_point)
        window.act(menu, "Water up", "Ctrl+PgUp", lambda: self.water.step(5))
        window.act(menu, "Water down", "Ctrl+PgDown", lambda: self.water.step(-5))
        window.act(menu, "Write the water's level as waterline", "Ctrl+Shift+W", self.water.keep.trigger)
        self.spots = window.menuBar().addMenu("&Spots")
        self.spots.aboutToShow.connect(self._list_spots)
        self._list_spots()
        # keys of entries that are listed anew each time would not be known before
        window.act(window.view_menu, "Keep this &spot …", "Ctrl+K", self.ask_spot)
        window.act(window.view_menu, "&Picture from here …", "Ctrl+P", self.ask_picture)

    def _colour(self, colour: str) -> None:
        self.window.colour, self.window.span = colour, None
        self.window.ask_for_looks()

    def _dressed(self) -> None:
        looks = self.window.looks
        if looks is not None:
            self.colours.show_key(looks)
            if looks.trouble:
                self.window.statusBar().showMessage(looks.trouble, 15_000)
            if self.water.choice.currentIndex() > 0:
                self._fill_water()

    def _pour(self, levels: Mapping[str, float]) -> None:
        self.window.levels, self.window.failure = levels, self.water.failure
        self.window.canvas.pour(levels)
        self.window.poured.emit()

    def _levelled(self, levels: Levels) -> None:
        self._levels = levels
        self._fill_water()

    def _fill_water(self) -> None:
        scene, levels = self.window.scene, self._levels
        if levels is not None:
            self.water.fill(levels.table, levels.stands, scene.waterline, scene.style)

    def _write_waterline(self, level: float) -> None:
        scene = self.window.scene
        self.hands.write({"waterline": written_like(None, level, "length", units=scene.units)})

    # -- measuring -----------------------------------------------------------------------------------

    def measure(self) -> None:
        """Note the chosen part; for the second of two tell how near they come, and draw the line."""
        chosen, tell = self.window.parts.current, self.window.statusBar().showMessage
        if not self._part or chosen == self._part:
            self._part = chosen if chosen != WATER_NAME else ""
            tell(
                f"From {chosen}: choose the other part, and the same key." if self._part else NO_PART, 10_000
            )
        else:
            self._measure(self._part, chosen)
            self._part = ""

    def _measure(self, one: str, other: str) -> None:
        if one and other and one != other and WATER_NAME not in (one, other):
            self.window.judge.ask(Between(one, other))

    def mark(self, point: Vector) -> None:
        """Note a point, [m]; the second of two tells the distance between them, and draws its line."""
        if self._marked is None:
            self._marked = point
            self.window.statusBar().showMessage(
                "One end. The other: Shift and a click, or X and Shift+M.", 10_000
            )
            return
        first, self._marked = self._marked, None
        self.window.canvas.rule((first, point))
        across = np.abs(np.subtract(point, first))
        style = self.window.scene.style
        along, deep, up = (show(float(one), "length", system=style) for one in across)
        whole = show(float(np.linalg.norm(across)), "length", system=style)
        self.window.statusBar().showMessage(f"{whole}: {along} along, {deep} front to back, {up} up")

    def step_point(self, by: int) -> None:
        """Go on or back by named points of the chosen part: it is shown and told where the next one is."""
        part, looks, tell = (
            self.window.parts.current,
            self.window.looks,
            self.window.statusBar().showMessage,
        )
        if looks is None or looks.version != self.window.version:
            tell("The picture is still being computed.", 5000)
            return
        points = points_of(part, looks.things)
        if not points:
            tell(NO_PART, 5000)
            return
        before = self._point[1] if self._point is not None and self._point[0] == part else min(-by, 0)
        number = (before + by) % len(points)
        name, at = points[number]
        self._point = (part, number, at)
        self.window.canvas.rule((at, at) if self._marked is None else (self._marked, at))
        where = ", ".join(show(one, "length", system=self.window.scene.style) for one in at)
        tell(f"{part}: {name} (point {number + 1} of {len(points)}), at {where}. Shift+M takes it.")

    def mark_point(self) -> None:
        """Note the named point that is shown, as a click with Shift does."""
        if self._point is None:
            self.window.statusBar().showMessage("X goes to a point of the chosen part first.", 5000)
        else:
            self.mark(self._point[2])

    def _forget_points(self) -> None:
        """Let go of points and distances of a text before: its parts may stand elsewhere now."""
        self._point = self._marked = None
        self.window.canvas.rule(None)

    # -- spots ---------------------------------------------------------------------------------------

    def _list_spots(self) -> None:
        self.spots.clear()
        cameras = self.window.looks.cameras if self.window.looks else {}
        for name in cameras:
            self.spots.addAction(name.replace("_", " "), partial(self.go_to, name))
        if not cameras:
            self.spots.addAction("none yet: View menu, Keep this spot").setEnabled(False)

    def go_to(self, name: str) -> None:
        """Fly to a spot of the scene."""
        looks, canvas = self.window.looks, self.window.canvas
        if looks is not None and name in looks.cameras:
            canvas.look(camera_at(looks.cameras[name], size=canvas.eye.size), fly=True)

    def ask_spot(self) -> None:
        """Ask for a name, and keep the place that the window looks from under it, in the scene's cameras."""
        name, agreed = QInputDialog.getText(
            self.window, "Keep this spot", "Its name in the scene; pictures and sequences know it by that:"
        )
        if agreed:
            self.keep_spot(name.strip().replace(" ", "_"))

    def keep_spot(self, name: str) -> bool:
        """Write the place that the window looks from into the scene; tell whether it could be."""
        entry = spot_entry(self.window.canvas.eye, self.window.scene.units)
        text = self.window.document.text
        try:
            if not is_own_name(name):
                raise LayoutError(f"{name!r} can't be a name", expected=OWN_NAME)
            if name in self.window.scene.cameras:
                text = rewritten(text, ("cameras", name), entry)
            else:
                text = added(text, ("cameras",), name, entry)
        except LayoutError as error:
            self.hands.refused(error)
            return False
        return self.hands.take(text)

    # -- pictures ------------------------------------------------------------------------------------

    def ask_picture(self) -> None:
        """Ask how large and where, and have what the window shows drawn there as ``picture`` does."""
        asked = AskPicture(self.window, self.window.canvas.eye.size)
        if asked.exec() != QDialog.DialogCode.Accepted.value:
            return
        path, _ = QFileDialog.getSaveFileName(self.window, "Picture from here", "picture.png", "PNG (*.png)")
        if path:
            self.take_picture(
                Path(path).with_suffix(".png"),
                asked.size_chosen,
                labels=asked.labels.isChecked(),
                findings=asked.findings.isChecked(),
            )

    def take_picture(self, path: Path, size: tuple[int, int], *, labels: bool, findings: bool) -> None:
        """Have what the window shows drawn into a PNG file, by a process beside; it is told when it is."""
        window = self.window
        if window.judged is None or not window.is_told:
            window.statusBar().showMessage("The findings are still being computed.", 5000)
            return
        cut: Any = window.cut.place
        self.hands.show_to_feel()
        self.hands.feel.ask(
            Shoot(
                to=path,
                camera=sized(window.canvas.eye, size),
                net_volume=window.judged.figures["water_volume_net"],
                cut=cut,
                view=window.cut.view,
                colour=window.colour,
                over=window.span,
                levels=window.levels,
                hide=tuple(window.parts.hidden),
                findings=window.judged.findings if findings else (),
                labels=labels,
            )
        )
        window.statusBar().showMessage(f"{path.name} is being drawn …")

    def _answered(self, answer: object) -> None:
        if isinstance(answer, Shot):
            self.window.statusBar().showMessage(f"{answer.to.name} is written.", 10_000)
        elif isinstance(answer, Trouble | Mistakes):
            told = answer.told if isinstance(answer, Trouble) else answer.mistakes[0].message
            self.window.tell(told)


class AskPicture(QDialog):
    """How large a picture is to be, and what is to be written in it.

    ``shape`` is what the window shows, in pixels: the picture begins with its proportions.
    """

    def __init__(self, parent: QWidget, shape: tuple[int, int]) -> None:
        super().__init__(parent)
        self.setWindowTitle("Picture from here")
        self.sides = tuple(QSpinBox(minimum=SMALLEST, maximum=LARGEST, suffix=" pixels") for _ in "wh")
        for side, pixels in zip(self.sides, shape, strict=True):
            side.setValue(round(pixels * LONGER_SIDE / max(shape)))
        self.labels, self.findings = QCheckBox("&Name the parts"), QCheckBox("&Mark the findings")
        form = QFormLayout(self)
        for words, side in zip(("&Width", "&Height"), self.sides, strict=True):
            form.addRow(words, side)
        for box in (self.labels, self.findings):
            form.addRow(box)
        buttons = QDialogButtonBox(
            QDialogButtonBox.StandardButton.Ok | QDialogButtonBox.StandardButton.Cancel
        )
        buttons.accepted.connect(self.accept)
        buttons.rejected.connect(self.reject)
        form.addRow(buttons)

    @property
    def size_chosen(self) -> tuple[int, int]:
        """Return width and height, [pixels]."""
        return (self.sides[0].value(), self.sides[1].value())


def spot_entry(camera: Camera, units: str) -> str:
    """Return a camera as the scene writes it; a parallel view becomes the spot that shows as much.

    Parameters
    ----------
    units : the scene's, 'mm' or 'in'
    """
    position = np.array(camera.position)
    if camera.parallel:
        towards = (position - camera.focal) / np.linalg.norm(position - camera.focal)
        position = np.array(camera.focal) + towards * camera.half_height / math.tan(camera.angle / 2.0)
    wide, high = camera.size
    shorter = 2.0 * math.atan(math.tan(camera.angle / 2.0) * min(1.0, wide / high))

    def place(at: Vector) -> str:
        return f"[{', '.join(written_like(None, one, 'length', units=units) for one in at)}]"

    degrees = written_like("0 deg", shorter, "angle", units=units)
    return f"{{at: {place(vector(position))}, target: {place(camera.focal)}, angle: {degrees}}}"
