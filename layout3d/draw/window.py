"""A plain window: turn the model, hide groups, cut it open, go through the findings, all by keys.

Cut faces are open here; ``picture`` fills them.
"""

from __future__ import annotations

import itertools
import math
import os
import sys
import textwrap
from collections.abc import Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from layout3d.checks.base import Finding
from layout3d.draw import screen
from layout3d.draw.camera import Camera, camera_for
from layout3d.draw.overlay import font_file
from layout3d.draw.page import finding_point
from layout3d.draw.pieces import WATER_NAME
from layout3d.draw.stage import set_stage
from layout3d.draw.style import FINDING_MARKS, PAGE
from layout3d.errors import LayoutError
from layout3d.model.model import Model
from layout3d.parts.base import GROUPS, vector

__all__ = ["Window", "open_window", "refuse_without_display"]

SIZE = (1400, 900)
NEAR = 0.6  # of the scene's longest side: how near the camera goes to a finding
STEPS = 50  # of a cut from one end of the scene to the other
VIEW_KEYS = {"c": "three_quarter", "f": "front", "b": "back", "l": "left", "r": "right", "t": "plan"}
KEYS = """\
a         show all
n p       next, previous finding
x y z     cut open square to x, y, z; again: close
Up Down   move the cut
v         cut away the other side
f b l r   from the front, back, left, right
t c       from the top, the corner
h         this help
q         close the window"""
"""What the keys do; the digits hide and show groups."""
# the side that a cut takes away at first: the viewer's, standing at the front left, looking down
_TOWARDS = {"x": -1.0, "y": -1.0, "z": 1.0}


def refuse_without_display() -> None:
    """Refuse to open a window where there is no screen to open it on.

    Raises
    ------
    LayoutError : no display, with what to do instead.
    """
    if not sys.platform.startswith("linux"):
        return
    name = os.environ.get("DISPLAY", "")
    if not name or not _display_answers(name):
        raise LayoutError(
            f"the display {name!r} can't be reached" if name else "there is no display to open a window on",
            expected="a desktop session, or DISPLAY set to a screen",
            remedy="use `layout3d picture` to draw the scene into a file",
        )


def _display_answers(name: str) -> bool:
    """Ask the X server itself: where none answers, the drawing library opens no window and says nothing."""
    import ctypes
    from ctypes.util import find_library

    try:
        library = ctypes.CDLL(find_library("X11") or "libX11.so.6")
    except OSError:
        return False  # the drawing library opens its windows by this one
    library.XOpenDisplay.restype = ctypes.c_void_p
    library.XOpenDisplay.argtypes = [ctypes.c_char_p]
    library.XCloseDisplay.argtypes = [ctypes.c_void_p]
    display = library.XOpenDisplay(os.fsencode(name))
    if display:
        library.XCloseDisplay(display)
    return bool(display)


def open_window(model: Model, findings: Sequence[Finding] | None = None) -> None:
    """Open the window, and return when it is closed.

    Parameters
    ----------
    findings : numbered from 1 in this order, as a report lists them; None where the model was not checked

    Raises
    ------
    LayoutError : no display.
    """
    refuse_without_display()
    Window(model, findings).show()


class Window:
    """The window over one model: what it shows is in ``hidden``, ``current`` and ``cut``.

    ``groups`` are those of the scene, water last; ``current`` is the index of the finding told, or None;
    ``cut`` is an axis, a place on it, [m], and 1 or -1: the side of it that is taken away.

    Parameters
    ----------
    findings : numbered from 1 in this order; None where the model was not checked
    off_screen : draw without a screen; ``image`` then tells what would be seen
    """

    def __init__(
        self,
        model: Model,
        findings: Sequence[Finding] | None = None,
        *,
        size: tuple[int, int] = SIZE,
        off_screen: bool = False,
    ) -> None:
        self.stage = set_stage(model)
        present = {piece.group for piece in self.stage.pieces}
        self.groups = tuple(group for group in (*GROUPS, WATER_NAME) if group in present)
        self.findings = findings
        self.hidden: set[str] = set()
        self.current: int | None = None
        self.cut: tuple[str, float, float] | None = None
        self.help = True
        bounds = {n: body.solid.bounds for body in self.stage.bodies for n in (body.part, body.name)}
        self._points = [finding_point(finding, bounds) for finding in findings or ()]
        self._off_screen, self._title = off_screen, model.scene.title or "layout3d"
        with screen.quiet():
            self.plotter = screen.new_plotter(size, off_screen=off_screen)
            self._actors = screen.add_stage(self.plotter, self.stage)
            self._add_marks()
            interactor = self.plotter.iren
            # the drawing library's own keys, some of which close the window or change all surfaces
            interactor.style.AddObserver("CharEvent", lambda *_: None)
            interactor.add_observer("KeyPressEvent", lambda obj, _: self.press(obj.GetKeySym()))
            self._look_from("three_quarter")
            self._show_state()

    def show(self) -> None:
        """Open it, and return when it is closed."""
        with screen.quiet():
            self.plotter.enable_anti_aliasing("ssaa")
            self.plotter.show(title=self._title)

    def image(self) -> NDArray[np.uint8]:
        """Return what is seen, (height, width, 3) of 0 … 255."""
        with screen.quiet():
            return screen.pixels(self.plotter)

    def close(self) -> None:
        """Close it."""
        self.plotter.close()

    def press(self, key: str) -> None:
        """Do what a key does; one that means nothing changes nothing."""
        if key == "q":
            self.close()
            return
        digits = dict(zip("1234567890", self.groups, strict=False))
        if key in VIEW_KEYS:
            self._look_from(VIEW_KEYS[key])
        elif key in digits:
            self.hidden ^= {digits[key]}
        elif key == "a":
            self.hidden.clear()
        elif key == "h":
            self.help = not self.help
        elif key in ("n", "p") and self.findings:
            self._step(1 if key == "n" else -1)
        elif key in _TOWARDS:
            middle = self.stage.bounds.mean(axis=0)["xyz".index(key)]
            closes = self.cut is not None and self.cut[0] == key
            self.cut = None if closes else (key, float(middle), _TOWARDS[key])
        elif key in ("v", "Up", "Down") and self.cut is not None:
            axis, place, towards = self.cut
            low, high = self.stage.bounds[:, "xyz".index(axis)].tolist()
            step = {"v": 0.0, "Up": high - low, "Down": low - high}[key] / STEPS
            self.cut = (axis, min(max(place + step, low), high), -towards if key == "v" else towards)
        self._show_state()

    def message(self) -> tuple[str, ...]:
        """Return what is told of the current finding, line by line; or how many there are."""
        if self.findings is None:
            return ("not checked",)
        count = len(self.findings)
        if self.current is None:
            return (f"{count} finding{'s' if count != 1 else ''}: press n" if count else "no findings",)
        finding = self.findings[self.current]
        head = f"{self.current + 1} of {count}  {finding.severity}  {finding.rule}"
        return (head, finding.message, *([finding.remedy] if finding.remedy else []))

    def camera(self) -> Camera:
        """Return the camera as it is now, after any turning by hand."""
        own = self.plotter.camera
        return Camera(
            position=vector(own.position),
            focal=vector(own.focal_point),
            up=vector(own.up),
            parallel=bool(own.parallel_projection),
            size=(int(self.plotter.window_size[0]), int(self.plotter.window_size[1])),
            half_height=float(own.parallel_scale),
            angle=math.radians(own.view_angle),
        )

    def _step(self, by: int) -> None:
        """Tell the next finding (1) or the one before (-1), round and round, and go near it."""
        start = (-1 if by > 0 else 0) if self.current is None else self.current
        self.current = (start + by) % len(self._points)
        point = self._points[self.current]
        if point is not None:
            now = self.camera()
            distance = NEAR * float(np.ptp(self.stage.bounds, axis=0).max())
            position = vector(np.array(point) + now.axes()[2] * distance)
            half = distance * math.tan(now.angle / 2.0)
            screen.use_camera(self.plotter, replace(now, position=position, focal=point, half_height=half))

    def _look_from(self, view: str) -> None:
        wide, high = self.plotter.window_size
        boxes = [body.solid.bounds for body in self.stage.bodies]
        corners = np.array([corner for box in boxes for corner in itertools.product(*box.T)])
        frame = (0.16 * wide, 0.08 * high, 0.96 * wide, 0.86 * high)
        screen.use_camera(self.plotter, camera_for(view, corners, size=(wide, high), frame=frame))

    def _show_state(self) -> None:
        """Bring the screen to what is to be shown."""
        from vtkmodules.vtkCommonDataModel import vtkPlane

        plane = vtkPlane()
        if self.cut is not None:
            axis, place, towards = self.cut
            plane.SetNormal(*(-towards * np.eye(3)["xyz".index(axis)]))
            plane.SetOrigin(*(place * np.eye(3)["xyz".index(axis)]))
        groups = {body.name: body.group for body in self.stage.bodies} | {WATER_NAME: WATER_NAME}
        for body, own in self._actors.items():
            for actor in own if body else ():
                actor.visibility = groups[body] not in self.hidden
                actor.mapper.RemoveAllClippingPlanes()
                if self.cut is not None:
                    actor.mapper.AddClippingPlane(plane)
        wrapped = [line for text in self.message() for line in textwrap.wrap(text, 110)]
        self._write("\n".join(wrapped), "lower_left", 11, name="message")
        digits = zip("1234567890", self.groups, strict=False)
        told = [f"{digit}         {group}{' (hidden)' * (group in self.hidden)}" for digit, group in digits]
        text = "\n".join([self._title, "", *told, KEYS]) if self.help else "h         help"
        self._write(text, "upper_left", 8, name="help")
        if not self._off_screen:
            self.plotter.render()

    def _write(self, text: str, at: str, size: int, *, name: str) -> None:
        """Write lines into a corner, on a pale ground that keeps them legible."""
        with font_file("DejaVuSansMono.ttf") as file:
            written = self.plotter.add_text(
                text,
                position=at,
                font_size=size,
                color=PAGE.ink,
                font_file=str(file),
                name=name,
                render=False,
            )
        written.prop.SetBackgroundColor(*PAGE.top)
        written.prop.SetBackgroundOpacity(0.72)

    def _add_marks(self) -> None:
        for severity, mark in FINDING_MARKS.items():
            own = [
                (str(number), point)
                for number, (finding, point) in enumerate(
                    zip(self.findings or (), self._points, strict=True), start=1
                )
                if finding.severity == severity and point is not None
            ]
            if own:
                self.plotter.add_point_labels(
                    np.array([point for _, point in own]),
                    [number for number, _ in own],
                    font_size=16,
                    bold=True,
                    text_color=mark.ink,
                    shape_color=mark.colour,
                    shape_opacity=1.0,
                    point_color=mark.colour,
                    point_size=9,
                    margin=4,
                    always_visible=True,
                    reset_camera=False,
                    render=False,
                    name=f"marks-{severity}",
                )
