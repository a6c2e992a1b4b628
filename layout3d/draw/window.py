"""The window: turn the model, hide groups, cut it open, go through the findings.

What is shown is a ``ViewState``. Cut faces are open here, where a plane is dragged; ``picture`` fills them.
"""

from __future__ import annotations

import itertools
import math
import os
import sys
import textwrap
from collections.abc import Sequence
from dataclasses import replace
from typing import Any

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
from layout3d.draw.view_state import VIEW_KEYS, ViewState, group_keys, state_of
from layout3d.errors import LayoutError
from layout3d.model.model import Model
from layout3d.parts.base import Vector, vector

__all__ = ["Window", "near", "nearest_point", "open_window", "refuse_without_display"]

SIZE = (1400, 900)
CLICK_REACH = 22.0  # pixels from a finding's number that count as a click on it
NEAR = 0.6  # of the scene's longest side: how near the camera goes to a finding
_BOX = 22  # pixels of a tick box
_ROW = 30


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


def near(camera: Camera, target: Vector, distance: float) -> Camera:
    """Return the camera moved to ``distance`` from a point, looking at it the way it looks now."""
    position = np.array(target) + camera.axes()[2] * distance
    half = distance * math.tan(camera.angle / 2.0)
    return replace(camera, position=vector(position), focal=target, half_height=half)


def nearest_point(
    camera: Camera, points: Sequence[Vector | None], at: tuple[float, float], *, reach: float
) -> int | None:
    """Return which point lies nearest a place on the picture, within ``reach`` pixels; None if none does."""
    off = {
        index: math.dist(camera.project([point])[0], at)
        for index, point in enumerate(points)
        if point is not None and camera.depth([point])[0] > 0.0
    }
    nearest = min(reversed(off), key=lambda index: off[index], default=None)  # of two in one place the later
    return nearest if nearest is not None and off[nearest] <= reach else None


class Window:
    """The window over one model. ``state`` is what it shows; each act goes through it.

    Parameters
    ----------
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
        self.state: ViewState = state_of(self.stage, findings)
        self.off_screen = off_screen
        bounds = {n: body.solid.bounds for body in self.stage.bodies for n in (body.part, body.name)}
        self.points = tuple(finding_point(finding, bounds) for finding in self.state.findings)
        self.title = model.scene.title or "layout3d"
        self._span = float((self.stage.bounds[1] - self.stage.bounds[0]).max())
        with screen.quiet():
            self.plotter = screen.new_plotter(size, off_screen=off_screen)
            self._actors = screen.add_stage(self.plotter, self.stage)
            self._boxes: dict[str, Any] = {}
            self._plane: Any = None
            self._add_marks()
            self._add_boxes()
            self._add_keys()
            self.look_from("three_quarter")
            self._show_state()

    def show(self) -> None:
        """Open it, and return when it is closed."""
        with screen.quiet():
            self.plotter.enable_anti_aliasing("ssaa")
            self.plotter.show(title=self.title)

    def image(self) -> NDArray[np.uint8]:
        """Return what is seen, (height, width, 3) of 0 … 255."""
        with screen.quiet():
            return screen.pixels(self.plotter)

    def close(self) -> None:
        """Close it."""
        self.plotter.close()

    # -- acts ---------------------------------------------------------------------------------------

    def press(self, key: str) -> None:
        """Do what a key does."""
        if key in VIEW_KEYS:
            self.look_from(VIEW_KEYS[key])
            self.plotter.render()
            return
        self._change(self.state.pressed(key))

    def show_group(self, group: str, shown: bool) -> None:
        """Show or hide a group, as its box does."""
        if self.state.shown(group) != shown:
            self._change(self.state.toggled(group))

    def drag_cut(self, place: float) -> None:
        """Put the cut at a place, [m], as dragging its plane does."""
        self._change(self.state.moved_cut(place), dragged=True)

    def click(self, x: float, y: float) -> None:
        """Tell the finding whose number was clicked, pixels from the top left corner; elsewhere nothing."""
        index = nearest_point(self.camera(), self.points, (x, y), reach=CLICK_REACH)
        if index is not None:
            self._change(self.state.at_finding(index))

    def look_from(self, view: str) -> None:
        """Turn to a view."""
        wide, high = self.plotter.window_size
        boxes = [body.solid.bounds for body in self.stage.bodies]
        corners = np.array([corner for box in boxes for corner in itertools.product(*box.T)])
        frame = (0.16 * wide, 0.08 * high, 0.96 * wide, 0.86 * high)
        camera = camera_for(view, corners, size=(wide, high), frame=frame)
        screen.use_camera(self.plotter, camera)

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

    # -- what follows from the state ------------------------------------------------------------------

    def _change(self, state: ViewState, *, dragged: bool = False) -> None:
        before, self.state = self.state, state
        if state.closed:
            self.close()
            return
        self._show_state(dragged=dragged)
        point = None if state.current is None else self.points[state.current]
        if point is not None and state.current != before.current:
            screen.use_camera(self.plotter, near(self.camera(), point, NEAR * self._span))
        if not self.off_screen:
            self.plotter.render()

    def _show_state(self, *, dragged: bool = False) -> None:
        """Bring the screen to the state; a plane that is being dragged is left alone."""
        state = self.state
        groups = {body.name: body.group for body in self.stage.bodies} | {WATER_NAME: WATER_NAME}
        actors = [(groups[body], actor) for body, own in self._actors.items() if body for actor in own]
        for group, actor in actors:
            actor.visibility = state.shown(group)
            actor.mapper.RemoveAllClippingPlanes()
            if state.cut is not None:
                actor.mapper.AddClippingPlane(self._cut_plane())
        for group, box in self._boxes.items():
            box.GetRepresentation().SetState(int(state.shown(group)))
        if not dragged:
            self._put_plane()
        self._tell(state.message())
        self._help()

    def _cut_at(self) -> tuple[int, list[float]]:
        """Return the axis that the cut is square to, and a point on it in the middle of the scene."""
        assert self.state.cut is not None
        axis = "xyz".index(self.state.cut[0])
        origin = list((self.stage.bounds[0] + self.stage.bounds[1]) / 2.0)
        origin[axis] = self.state.cut[1]
        return axis, origin

    def _cut_plane(self) -> Any:
        from vtkmodules.vtkCommonDataModel import vtkPlane

        plane = vtkPlane()
        axis, origin = self._cut_at()
        plane.SetNormal(*(-self.state.towards * np.eye(3)[axis]))
        plane.SetOrigin(*origin)
        return plane

    def _put_plane(self) -> None:
        """Put the plane that is dragged where the cut is."""
        if self._plane is not None:
            self._plane.Off()
            self._plane = None
        if self.state.cut is None:
            return
        axis, origin = self._cut_at()
        self._plane = self.plotter.add_plane_widget(
            lambda _, at: self.drag_cut(float(at[axis])),
            normal=self.state.cut[0],
            origin=origin,
            bounds=self.stage.bounds.T.ravel().tolist(),
            factor=1.02,
            color=PAGE.soft_ink,
            outline_translation=False,
            normal_rotation=False,
            interaction_event="always",
            test_callback=False,
            pass_widget=False,
        )

    def _tell(self, lines: Sequence[str]) -> None:
        wrapped = [line for text in lines for line in textwrap.wrap(text, 110)]
        self._write("\n".join(wrapped), (20.0, 20.0), 11, name="message")

    def _help(self) -> None:
        wide, high = self.plotter.window_size
        lines = self.state.help_lines() if self.state.help else ("h  help",)
        written = self._write("\n".join(lines), (0.0, 0.0), 8, name="help", mono=True)
        size = [0.0, 0.0]
        written.GetSize(self.plotter.renderer, size)
        written.SetPosition(wide - size[0] - 20.0, high - size[1] - 20.0)

    def _write(self, text: str, at: tuple[float, float], size: int, *, name: str, mono: bool = False) -> Any:
        """Write lines with their lower left corner at a place, on a pale ground that keeps them legible."""
        with font_file("DejaVuSansMono.ttf" if mono else "DejaVuSans.ttf") as file:
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
        return written

    # -- built once -------------------------------------------------------------------------------------

    def _add_marks(self) -> None:
        for severity, mark in FINDING_MARKS.items():
            own = [
                (str(k + 1), point)
                for k, (finding, point) in enumerate(zip(self.state.findings, self.points, strict=True))
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

    def _add_boxes(self) -> None:
        digits = {group: digit for digit, group in group_keys(self.state.groups).items()}
        top = self.plotter.window_size[1] - 60
        self._write(self.title, (20.0, top + 14.0), 14, name="title")
        for row, group in enumerate(self.state.groups, start=1):
            y = top - row * _ROW
            self._boxes[group] = self.plotter.add_checkbox_button_widget(
                lambda shown, group=group: self.show_group(group, bool(shown)),
                value=True,
                position=(20.0, float(y)),
                size=_BOX,
                border_size=2,
                color_on=PAGE.leader,
                color_off=PAGE.bottom,
                background_color=PAGE.soft_ink,
            )
            text = f"{digits[group]}  {group}" if group in digits else group
            self._write(text, (52.0, y + 2.0), 9, name=f"group-{group}")

    def _add_keys(self) -> None:
        interactor = self.plotter.iren
        # the drawing library's own meanings of keys, some of which close the window or change all surfaces
        interactor.style.AddObserver("CharEvent", lambda *_: None)
        interactor.add_observer("KeyPressEvent", lambda obj, _: self.press(obj.GetKeySym()))
        interactor.add_observer("LeftButtonPressEvent", lambda obj, _: self._clicked(obj.GetEventPosition()))

    def _clicked(self, position: tuple[int, int]) -> None:
        self.click(float(position[0]), float(self.plotter.window_size[1] - position[1]))
