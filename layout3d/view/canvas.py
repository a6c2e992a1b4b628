"""The picture in the window: actors, light and full look, cut plane, tint, what is under the pointer.

Turning, shifting and bringing near are done here; moving a part is told as signals. One paint is one frame:
what hands do only sets the camera and asks for a paint, and Qt keeps no more than one of these waiting.
"""

from __future__ import annotations

import math
import time
from collections.abc import Collection, Mapping, Sequence
from typing import Any

import numpy as np
from PySide6.QtCore import QEvent, QPointF, Qt, QTimer, Signal
from PySide6.QtGui import QMouseEvent, QWheelEvent
from PySide6.QtWidgets import QWidget
from pyvistaqt import QtInteractor

from layout3d.draw import screen
from layout3d.draw.camera import Camera
from layout3d.draw.cut import drawn_water
from layout3d.draw.pieces import WATER_NAME, Lines, Piece
from layout3d.draw.style import FINDING_MARKS, PAGE
from layout3d.parts.base import Vector, vector
from layout3d.solid.placement import Placement
from layout3d.view import eye
from layout3d.view.backdrop import Backdrop
from layout3d.view.levels import poured
from layout3d.view.looks import Looks
from layout3d.view.shown import Crowd, Shown, met, same_surface

__all__ = ["Canvas"]

NIGHT = ("#2b2f33", "#1b1e21")
"""The page behind, below and above, in a dark window."""
PEELS = 6  # layers of clear things behind each other, at rest
REST = 200  # after the last movement until the full look, [ms]
UNTOLD = 1000  # the same, while findings are waited for
FLIGHT = 0.35  # that a flight lasts, however many frames it gets, [s]
TURN = math.pi  # about the scene, as the pointer crosses the picture once
STEP_NEARER = 0.85  # of the distance that is left after one notch of the wheel
IN_FRONT = 66_000.0  # of everything, in steps of depth
STILL = 4  # pixels that a press may wander and be a click all the same


class Canvas(QtInteractor):
    """The picture.

    Signals: ``hovered`` and ``picked`` a part's name ('' for nothing) with the point met, or None;
    ``compared`` a part clicked with Ctrl, ``marked`` a point clicked with Shift; ``seized`` a part, the point
    and its pixel as it begins to be dragged, ``dragged`` the pointer, whether it lifts (Shift) and whether it
    goes freely (Ctrl), ``dropped`` its end; ``drawn`` the time of a frame, [s].
    """

    hovered = Signal(str, object)
    picked = Signal(str, object)
    compared = Signal(str)
    marked = Signal(object)
    seized = Signal(str, object, object)
    dragged = Signal(float, float, bool, bool)
    dropped = Signal()
    drawn = Signal(float)

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent, auto_update=False, multi_samples=0, line_smoothing=False, lighting="none")
        self.setAcceptDrops(False)
        self.setMouseTracking(True)
        self.setFocusPolicy(Qt.FocusPolicy.StrongFocus)
        self.setMinimumSize(320, 240)
        screen.set_page(self.renderer)
        self._full_look()
        self.camera_set = True  # else the library points it by itself
        self._paper()
        self.movable: Collection[str] = ()
        self.full = True
        self._looks: Looks | None = None
        self._shown: dict[int, Shown] = {}  # by place in the looks
        self._poured: list[Shown] | None = None
        self._crowd = Crowd(self.renderer)
        self._plane: Any = None
        self._hidden: frozenset[str] = frozenset()
        self._tints: dict[str, tuple[float, float, float]] = {}
        self._places: dict[str, Placement] = {}  # by body, as told or put down since the looks
        self._shifts: dict[str, Placement] = {}  # by part, on top of that, while it is dragged
        self._held: frozenset[str] = frozenset()
        self._let_go = False  # of what is held; all is drawn again once all is told
        self._backdrop = Backdrop(self)
        self._press: tuple[QPointF, str, Vector | None] | None = None
        self._before: QPointF | None = None
        self._button = Qt.MouseButton.NoButton  # that began it
        self._dragging = self._seized = False  # the view is, or a part
        self._rest = QTimer(self, interval=REST, singleShot=True)
        self._rest.timeout.connect(self.at_rest)
        self._hover = QTimer(self, interval=60, singleShot=True)
        self._hover.timeout.connect(self._tell_hover)
        self._pointer = QPointF()
        self._flight: tuple[float, Camera, Camera] | None = None

    def _paper(self) -> None:
        """Give the page behind the window's own lightness."""
        own: Any = self
        if self.palette().window().color().lightness() < 128:
            own.set_background(NIGHT[0], top=NIGHT[1])
        else:
            own.set_background(PAGE.bottom, top=PAGE.top)

    def changeEvent(self, event: QEvent) -> None:
        """Follow light and dark."""
        super().changeEvent(event)
        if event.type() == QEvent.Type.PaletteChange and hasattr(self, "movable"):
            self._paper()
            self.update()

    # -- what is shown -------------------------------------------------------------------------------

    def show_looks(self, looks: Looks) -> None:
        """Put these looks on the screen in place of those before; the camera stays."""
        before = self._shown
        self._shown = {}
        items: list[Piece | Lines] = [*looks.pieces, *(one for one in looks.lines if len(one.segments))]
        for index, item in enumerate(items):
            old = before.pop(index, Shown())
            solid = item if isinstance(item, Piece) and not item.clear else None
            new = Shown(item, self._actor_of(item, old.item, old.full), looks.light.get(index, solid))
            self._take_off(old if new.full is not old.full else Shown(light=old.light))
            self._shown[index] = new
        self._take_off(*before.values())
        self._looks = looks
        self._places, self._shifts = {}, {}
        self._apply()

    def _actor_of(self, item: Piece | Lines, before: Piece | Lines | None, actor: Any) -> Any:
        """Return what draws this: the actor of what was there before, where that is the same surface."""
        if isinstance(item, Lines):
            return screen.lines_on(self.renderer, item, self.width() / 1600.0)
        if isinstance(before, Piece) and same_surface(before, item):
            if not np.array_equal(before.colours, item.colours):
                screen.recolour(actor, item.colours)
            return actor
        return screen.surface(self.renderer, item)

    def _take_off(self, *shown: Shown) -> None:
        for one in shown:
            for actor in one.actors:
                self.renderer.RemoveActor(actor)

    def hide(self, bodies: Collection[str]) -> None:  # type: ignore[override]
        """Show all but these bodies; ``WATER_NAME`` hides the water."""
        self._hidden = frozenset(bodies)
        self._apply()

    def tint(self, bodies: Mapping[str, str]) -> None:
        """Tint bodies by the mark of a severity, by name; all others look as they are."""
        before = self._tints
        self._tints = {body: FINDING_MARKS[severity].colour for body, severity in bodies.items()}
        changed = {body for body in {*before, *self._tints} if before.get(body) != self._tints.get(body)}
        for one in self._shown.values():
            if one.item.body in changed:
                one.paint(self._tints.get(one.item.body))
        if changed:
            self._sort_out()
            self.update()

    def clip(self, cut: tuple[str, float, float] | None) -> None:
        """Leave out what lies on one side of a plane: axis, place [m], the side's sign; None for nothing."""
        from vtkmodules.vtkCommonDataModel import vtkPlane

        self._plane = None
        if cut is not None:
            axis, place, sign = cut
            self._plane = vtkPlane()
            self._plane.SetNormal(*(-sign * np.eye(3)["xyz".index(axis)]))
            self._plane.SetOrigin(*(place * np.eye(3)["xyz".index(axis)]))
        self._apply()

    def pour(self, levels: Mapping[str, float]) -> None:
        """Draw the water at other levels, as ``poured`` takes them; none draws it as in the scene."""
        if not levels and self._poured is None:
            return
        self._take_off(*(self._poured or ()))
        looks, self._poured = self._looks, None
        if levels and looks is not None:
            drawn = (drawn_water(one, looks.cut, looks.view) for one in poured(looks.waters, levels))
            self._poured = [
                Shown(item, self._actor_of(item, None, None)) for items in drawn for item in items
            ]
        self._apply()
        self.moving()

    def rule(self, ends: tuple[Vector, Vector] | None) -> None:
        """Draw a distance over everything, as a point where both ends are one; None takes it away."""
        own: Any = self
        if ends is None and "rule" not in own.actors:
            return  # a frame for nothing would take a core from the judge
        own.remove_actor("rule", reset_camera=False, render=False)
        if ends is not None:
            colour, place = FINDING_MARKS["fault"].colour, np.array(ends)
            if ends[0] == ends[1]:
                actor = own.add_points(
                    place[:1], color=colour, point_size=12, name="rule", reset_camera=False
                )
                actor.mapper.SetRelativeCoincidentTopologyPointOffsetParameter(-IN_FRONT)
            else:
                actor = own.add_lines(place, color=colour, width=4, name="rule")
                actor.mapper.SetRelativeCoincidentTopologyLineOffsetParameters(0.0, -IN_FRONT)
        self.update()

    def hold(self, parts: Collection[str]) -> None:
        """Draw these parts alone from now on, over one picture of all others; none draws everything again."""
        self._held, self._let_go = frozenset(parts), False
        self._backdrop.drop()
        self._sort_out()
        self.moving()

    def let_go(self) -> None:
        """Draw what is held alone until all is told (``draw_all``)."""
        self._let_go = True

    def wait(self) -> None:
        """Let the full look wait until all is told: a frame of everything takes a core from the judge."""
        self._rest.setInterval(UNTOLD)

    def draw_all(self) -> None:
        """Draw everything again where parts were let go of, and let the full look come."""
        self._rest.setInterval(REST)
        if self._let_go:
            self.hold(())

    def place(self, moves: Mapping[str, Placement]) -> None:
        """Draw bodies, by name, moved from where the looks have them, and all others where they are there."""
        self._places = dict(moves)
        if not self._let_go:
            self._backdrop.drop()
            self._sort_out()
        for one in self._shown.values():
            self._stand(one)
        self.moving()

    def shift(self, part: str, move: Placement) -> None:
        """Draw a part moved from where it was put down last."""
        first = part not in self._shifts
        self._shifts[part] = move
        if first:
            self._sort_out()
        for one in self._shown.values():
            if one.item.part == part:
                self._stand(one)
        self.moving()

    def put_down(self) -> None:
        """Leave parts where they were shifted to; further shifts count from there."""
        parts = {one.item.body: one.item.part for one in self._shown.values() if one.item.body}
        for body, part in parts.items():
            if part in self._shifts:
                self._places[body] = self._shifts[part] @ self._places.get(body, Placement.identity())
        self._shifts = {}

    def _stand(self, one: Shown) -> None:
        place, shift = self._places.get(one.item.body), self._shifts.get(one.item.part)
        one.stand(shift @ place if shift and place else shift or place)

    def _apply(self) -> None:
        self._backdrop.drop()
        for one in (*self._shown.values(), *(self._poured or ()), *self._crowd.shown):
            one.cut(self._plane)
        for one in self._shown.values():
            one.paint(self._tints.get(one.item.body))
            self._stand(one)
        self._sort_out()
        self.update()

    def _sort_out(self, *, held: bool | None = None) -> None:
        """Show of each thing its full or its coarse surface, or none where it is hidden.

        ``held`` shows only what is drawn over the backdrop, what is dragged and what is tinted, or (False)
        all that doesn't move; None shows either as there is a backdrop or not.
        """
        over = self._backdrop.key is not None if held is None else held
        crowd = []
        for one in self._shown.values():
            body, part = one.item.body, one.item.part
            seen = body not in self._hidden and (self._poured is None or body != WATER_NAME)
            alone = part in self._held or body in self._tints
            if over:
                seen = seen and alone
            elif held is not None:
                seen = seen and part not in self._held
            alone = alone or body in self._places or part in self._shifts
            coarse: Any = one.coarse if seen and not self.full else None
            own = coarse is not None and coarse is not one.item and alone
            if coarse is not None and not alone:
                crowd.append(coarse)
            elif own and one.light is None:
                one.light = screen.surface(self.renderer, coarse)
                one.cut(self._plane)
                one.paint(self._tints.get(body))
                self._stand(one)
            one.full.visibility = seen and not own and (alone or coarse is None)
            if one.light is not None:
                one.light.visibility = own
        for one in self._poured or ():
            one.full.visibility = WATER_NAME not in self._hidden and not over
        self._crowd.show(crowd, self._plane)

    # -- frames --------------------------------------------------------------------------------------

    def paintGL(self) -> None:
        """Draw a frame."""
        start = time.perf_counter()
        if self._flight is not None:
            begun, source, target = self._flight
            share = min((start - begun) / FLIGHT, 1.0)
            self._use(eye.between(source, target, share))
            if share >= 1.0:
                self._flight = None
        if self._held and self._backdrop.key != self.eye:
            self._sort_out(held=False)
            self._backdrop.take(self.eye)
            super().paintGL()  # type: ignore[no-untyped-call] # the library tells no types here
            self._sort_out()
        super().paintGL()  # type: ignore[no-untyped-call]
        self.drawn.emit(time.perf_counter() - start)
        if self._flight is not None:
            QTimer.singleShot(0, self.moving)

    def moving(self) -> None:
        """Draw with the light look, until nothing moves for a while."""
        if self.full:
            self.full = False
            self.renderer.disable_depth_peeling()
            self.renderer.disable_anti_aliasing()
            self._sort_out()
        self._rest.start()
        self.update()

    def at_rest(self) -> None:
        """Draw with the full look."""
        self.draw_all()
        if not self.full and not self._held and not self._closed:
            self.full = True
            self._full_look()
            own: Any = self.renderer
            own.enable_anti_aliasing(screen.quick_smoothing())
            self._sort_out()
            self.update()

    def _full_look(self) -> None:
        """Draw clear things in their right order."""
        own: Any = self.renderer
        own.enable_depth_peeling(number_of_peels=PEELS, occlusion_ratio=0.0)

    # -- where it looks from -------------------------------------------------------------------------

    @property
    def eye(self) -> Camera:
        """Return the camera as it is; the picture's size is that of the widget, in its own pixels."""
        own = self.camera
        return Camera(
            position=vector(own.position),
            focal=vector(own.focal_point),
            up=vector(own.up),
            parallel=bool(own.GetParallelProjection()),
            size=(max(self.width(), 1), max(self.height(), 1)),
            half_height=float(own.parallel_scale),
            angle=math.radians(own.view_angle),
        )

    def look(self, camera: Camera, *, fly: bool = False) -> None:
        """Look from there, at once or by a short flight."""
        if fly:
            self._flight = (time.perf_counter(), self.eye, camera)
        else:
            self._flight = None
            self._use(camera)
        self.moving()

    def _use(self, camera: Camera) -> None:
        if self._held:  # how far it sees is found from all that is shown
            self._backdrop.drop()
            self._sort_out()
        screen.use_camera(self.renderer, camera)

    def look_from(self, view: str, boxes: Sequence[Any], *, whole: bool = False) -> None:
        """Look from a side: at everything, or (``whole`` False) as near as now."""
        size = self.eye.size
        self.look(eye.from_side(view, boxes, size, None if whole else self.eye), fly=not whole)

    # -- what is under the pointer -------------------------------------------------------------------

    def under(self, x: float, y: float) -> tuple[str, Vector | None]:
        """Return the part at a pixel of the widget, and the point of it; clear things are looked through."""
        line = eye.ray(self.eye, x, y)
        out = {"", WATER_NAME, *self._hidden}
        shown = [
            one for one in self._shown.values() if isinstance(one.item, Piece) and one.item.body not in out
        ]
        for clear in (False, True):
            found = met([one for one in shown if one.item.clear is clear], *line, plane=self._plane)
            if found is not None:
                return found[0].item.part, vector(found[1])
        return "", None

    def _tell_hover(self) -> None:
        if self._press is None and not self._closed:
            self.hovered.emit(*self.under(self._pointer.x(), self._pointer.y()))

    # -- hands ---------------------------------------------------------------------------------------

    def mousePressEvent(self, event: QMouseEvent) -> None:
        """Note where it begins; a part that may be moved is seized once the pointer leaves that place.

        A second button that goes down meanwhile is nothing: what is held stays in the hand.
        """
        if self._press is not None:
            if self._button != event.button() and self._button in event.buttons():
                return
            self._release(event)
        at, self._button = event.position(), event.button()
        left = self._button == Qt.MouseButton.LeftButton
        part, point = self.under(at.x(), at.y()) if left else ("", None)
        self._press, self._before = (at, part, point), at
        self._dragging = self._seized = False

    def mouseMoveEvent(self, event: QMouseEvent) -> None:
        """Turn, shift, or drag a part."""
        at = self._pointer = event.position()
        if self._press is not None and self._button not in event.buttons():
            self._release(event)  # which a question that came meanwhile took away
        if self._press is None or self._before is None:
            self._hover.start()
            return
        start, part, point = self._press
        if not self._dragging:
            away = at - start
            if max(abs(away.x()), abs(away.y())) <= STILL:
                return
            self._dragging = True
            self._seized = part in self.movable
            if self._seized:
                self.seized.emit(part, point, start)
        step = at - self._before
        self._before = at
        if self._seized:
            lifts = bool(event.modifiers() & Qt.KeyboardModifier.ShiftModifier)
            freely = bool(event.modifiers() & Qt.KeyboardModifier.ControlModifier)
            self.dragged.emit(at.x(), at.y(), lifts, freely)
        elif event.buttons() & Qt.MouseButton.LeftButton:
            scale = TURN / max(self.width(), 1)
            self.look(eye.turned(self.eye, -step.x() * scale, step.y() * scale))
        else:
            self.look(eye.shifted(self.eye, step.x(), step.y()))

    def mouseReleaseEvent(self, event: QMouseEvent) -> None:
        """Pick what was clicked, or let go."""
        if event.button() == self._button:
            self._release(event)

    def _release(self, event: QMouseEvent) -> None:
        if self._press is None:
            return
        _, part, point = self._press
        self._press = self._before = None
        if not self._dragging and self._button == Qt.MouseButton.LeftButton:
            if event.modifiers() & Qt.KeyboardModifier.ControlModifier:
                self.compared.emit(part)
            elif event.modifiers() & Qt.KeyboardModifier.ShiftModifier:
                if point is not None:
                    self.marked.emit(point)
            else:
                self.picked.emit(part, point)
        elif self._seized:
            self.dropped.emit()

    def wheelEvent(self, event: QWheelEvent) -> None:
        """Come nearer to what is under the pointer, or go away from it."""
        at = event.position()
        now = self.eye
        start, way = eye.ray(now, at.x(), at.y())
        depth = float(np.subtract(now.focal, start) @ now.axes()[2] / (way @ now.axes()[2]))
        factor = STEP_NEARER ** (event.angleDelta().y() / 120.0)
        self.look(eye.nearer(now, factor, vector(start + way * depth)))

    def keyPressEvent(self, event: Any) -> None:
        """Leave keys to the window."""
        event.ignore()

    keyReleaseEvent = keyPressEvent

    def enterEvent(self, event: Any) -> None:
        """Do nothing: the drawing library's own hands are not used."""

    def leaveEvent(self, event: Any) -> None:
        """Tell that the pointer is over nothing."""
        self._hover.stop()
        self.hovered.emit("", None)
