"""Hands on the scene: parts dragged and turned, fields written anew, steps taken back, the file saved.

Every change goes through the file's text, by the smallest change of it; nothing else is kept of it.
"""

from __future__ import annotations

import contextlib
import math
from collections.abc import Callable, Mapping
from functools import partial
from pathlib import Path

import numpy as np
from PySide6.QtCore import QObject, QPointF, Qt, QTimer, Signal
from PySide6.QtGui import QAction, QKeySequence
from PySide6.QtWidgets import QFileDialog, QMessageBox

from layout3d.errors import LayoutError
from layout3d.parts.base import Vector, vector
from layout3d.scene.scene import Scene
from layout3d.scene.write_back import Value, changed, stands_at, text_at
from layout3d.solid.placement import Placement
from layout3d.view import edits, eye
from layout3d.view.answers import JUDGED_FIRST, LOOKS_FIRST, Ahead, At, Felt, Text
from layout3d.view.beside import Beside
from layout3d.view.canvas import Canvas
from layout3d.view.document import Document
from layout3d.view.questions import agreed, asked_everywhere, asked_for_sums
from layout3d.view.snap import Surfaces, snapped
from layout3d.view.window import LOOK_IN, Window

__all__ = ["Hands"]

TURN = math.radians(5.0)  # a key's turn
Drag = tuple[str, Vector, np.ndarray]  # part, point seized, offset so far
PAUSE = 50  # of a drag, after which its place is judged as if it were let go there, [ms]
FACE_IN = 300  # that it may take to tell where on a face something lies, [ms]
HOLD, FARTHEST = 8.0, 0.02  # how near a dragged part holds on to a face or port: pixels, but no more than [m]
_WAYS: tuple[tuple[str, str, Vector], ...] = (
    ("to the left", "Left", (-1.0, 0.0, 0.0)),
    ("to the right", "Right", (1.0, 0.0, 0.0)),
    ("to the back", "Up", (0.0, 1.0, 0.0)),
    ("to the front", "Down", (0.0, -1.0, 0.0)),
    ("up", "PgUp", (0.0, 0.0, 1.0)),
    ("down", "PgDown", (0.0, 0.0, -1.0)),
)
_TURNS = (
    ("Turn left", ",", "about_up", TURN),
    ("Turn right", ".", "about_up", -TURN),
    ("Lean right", "Ctrl+.", "tip_right", TURN),
    ("Lean left", "Ctrl+,", "tip_right", -TURN),
    ("Lean back", "Alt+.", "tip_back", TURN),
    ("Lean to the front", "Alt+,", "tip_back", -TURN),
)


class Hands(QObject):
    """What is done by hand in a window; made with it, and ended by ``close``.

    Signal ``answered``: what else than a felt part was told by the process that feels.
    """

    answered = Signal(object)

    def __init__(self, window: Window) -> None:
        super().__init__(window)
        self.window = window
        self.document: Document = window.document
        self.canvas: Canvas = window.canvas
        self.feel = Beside(self.document.path)
        self.felt: Felt | None = None
        self._felt_version = 0
        self._sums: set[str] = set()  # places where arithmetic stays arithmetic, as was answered once
        self._from, self._begun, self._lifts = QPointF(), np.zeros(3), False
        self._drag: Drag | None = None
        self._surfaces, self._holds = Surfaces(()), ""
        self._pause = QTimer(self, singleShot=True, interval=PAUSE)
        self._pause.timeout.connect(self._judge_ahead)
        window.texted.connect(self._free)
        window.told.connect(self.show_to_feel)  # so that the next drag finds it ready
        window.looked_in.connect(self._look_in)
        window.parts.locked.connect(self._free)
        window.fields.written.connect(self.write_typed)
        window.values.written.connect(self.write_typed)
        window.saving.connect(self.save)
        self.canvas.seized.connect(self._seize)
        self.canvas.dragged.connect(self._pull)
        self.canvas.dropped.connect(self._let_go)
        self._make_menus()
        self._free()

    def close(self) -> None:
        """End the process that feels."""
        self.feel.close()

    def _make_menus(self) -> None:
        window, key = self.window, QKeySequence.StandardKey
        edit, file = window.edit_menu, window.file_menu
        save = window.act(file, "&Save …", key.Save, self.save)
        file.insertActions(
            window.take_news, [save, window.act(file, "Save a c&opy …", "Ctrl+Shift+S", self.ask_copy)]
        )
        window.act(edit, "&Undo", key.Undo, lambda: self._step(back=True))
        window.act(edit, "&Redo", "Ctrl+Shift+Z", lambda: self._step(back=False))
        move = window.menuBar().addMenu("&Move")
        for words, keys, way in _WAYS:
            self._on_canvas(window.act(move, f"Move {words}", keys, lambda w=way: self.nudge(w)))
            fine = window.act(
                move, f"A little {words}", f"Shift+{keys}", lambda w=way: self.nudge(w, fine=True)
            )
            self._on_canvas(fine)
        for words, keys, how, by in _TURNS:
            window.act(move, words, keys, lambda h=how, b=by: self.turn(h, b))

    def _on_canvas(self, action: QAction) -> None:
        """Let the keys of an action count in the picture alone: lists and texts need theirs."""
        action.setShortcutContext(Qt.ShortcutContext.WidgetShortcut)
        self.canvas.addAction(action)

    # -- changes of the text -------------------------------------------------------------------------

    def write_typed(self, path: str, text: str) -> bool:
        """Write what was typed into a field; where a named value stands there, ask which it is for."""
        try:
            at = stands_at(self.document.text, path, file=str(self.document.path))
        except LayoutError:
            return self.write({path: text}, here=True)  # arithmetic, which the hand that typed it has seen
        if at == path:
            return self.write({path: text})
        everywhere = asked_everywhere(self.window, at.removeprefix("values."), text)
        if everywhere is None:
            self.window.show_fields()
            return False
        return self.write({path: text}, here=not everywhere)

    def write(self, changes: Mapping[str, Value], *, here: bool = False) -> bool:
        """Write values at paths of the file's text; tell whether it could be done, else why not.

        ``here`` puts them in place of names and arithmetic that stand there.
        """
        try:
            text = changed(self.document.text, changes, file=str(self.document.path), here=here)
        except LayoutError as error:
            self.refused(error)
            return False
        return self.take(text)

    def take(self, text: str, wants: tuple[str, ...] = LOOKS_FIRST) -> bool:
        """Take another text, as a step, and show it; tell that it was done."""
        self.document.take(text)
        self.window.show_text(wants)
        return True

    def overtaken(self, text: str) -> bool:
        """Tell whether another text is shown by now: the file was changed while something was asked."""
        if self.document.text != text:
            self.refused(LayoutError("nothing is changed: the file was changed on disk meanwhile"))
        return self.document.text != text

    def refused(self, error: LayoutError) -> None:
        """Tell why something is not done, and show the fields as they are."""
        self.window.tell(str(error))
        self.window.show_fields()

    def _step(self, *, back: bool) -> None:
        if self.document.undo() if back else self.document.redo():
            self.window.over.clear()  # it may tell of a drag, which is taken back
            self.window.show_text()
        else:
            self.window.statusBar().showMessage(f"Nothing is left to {'undo' if back else 'redo'}.", 5000)

    def nudge(self, way: Vector, *, fine: bool = False) -> None:
        """Move the chosen part by a step."""
        part = self._to_move()
        if part:
            step = edits.step_of(self.window.scene, fine=fine)
            self._move(part, vector(np.array(way) * step))

    def turn(self, how: str, by: float) -> None:
        """Turn the chosen part; ``how`` as ``edits.turned`` has it, ``by`` [rad]."""
        part = self._to_move()
        if part:
            self._rewrite(partial(edits.turned, *self._read, part, how, by))

    def _to_move(self) -> str:
        """Return the chosen part where it may be moved; else tell why not, and return ''."""
        part = self.window.parts.current
        if part in self.canvas.movable:
            return part
        locked = part in self.window.parts.locks
        why = "is locked: L frees it" if locked else "stands where its fields say: change those"
        self.window.statusBar().showMessage(f"{part} {why}." if part else "Choose a part first.", 5000)
        return ""

    def _move(self, part: str, by: Vector) -> bool:
        if not self._rewrite(self._moves(part, by)):
            return False
        move = self.felt.move if self.felt and (self.felt.part, self.felt.by) == (part, by) else None
        # at once; where it stands in the end is told with the answers
        self._shift(part, move or Placement.at(by))
        self.canvas.put_down()
        return True

    @property
    def _read(self) -> tuple[Path, str, Scene]:
        """Return the file, the text and the scene that are shown."""
        return self.document.path, self.document.text, self.window.scene

    def _moves(self, part: str, by: Vector) -> Callable[..., Mapping[str, Value]]:
        """Return what gives the fields of a part that is moved, and of what has to be moved with it."""
        along = edits.riders(self.window.scene, part)
        names = (part, *(other for other, alone in along.items() if not alone))
        return partial(edits.all_moved, *self._read, names, by)

    def _rewrite(self, changes: Callable[..., Mapping[str, Value]]) -> bool:
        """Take the text with fields changed, and tell whether it is another one; arithmetic is asked about.

        ``changes`` gives them, with ``figures=True`` figures alone.
        """
        path, before, _ = self._read
        try:
            text = self._rewritten(changes, path, before)
        except LayoutError as error:
            self.refused(error)
            return False
        if text == before or self.overtaken(before):
            return False
        self.take(text, JUDGED_FIRST)  # where it goes is seen
        told = edits.values_changed(path, before, text)
        if told:
            self.window.statusBar().showMessage(f"Wherever it stands: {told}.", 10_000)
        return True

    def _rewritten(
        self, changes: Callable[..., Mapping[str, Value]], path: Path, text: str, *, ahead: bool = False
    ) -> str:
        """Return the text with fields changed; ``ahead`` of being asked about arithmetic, that stays."""
        wanted, file = changes(figures=False), str(path)

        def arithmetic() -> set[str]:
            return {
                at
                for at, new in wanted.items()
                if isinstance(new, str) and edits.arithmetic_at(path, text, at)
            }

        sums = arithmetic()
        if not (ahead or sums <= self._sums):
            told = [f"{at}: {text_at(text, at, file=file)}\nwould be {wanted[at]}" for at in sorted(sums)]
            keep = asked_for_sums(self.window, told)
            if keep is None:
                return text
            if keep:
                self._sums |= sums
            else:
                wanted = changes(figures=True)
                sums = arithmetic()
        text = changed(text, {at: wanted[at] for at in sums}, file=file, here=True)
        return changed(text, {at: new for at, new in wanted.items() if at not in sums}, file=file)

    def _free(self) -> None:
        self.canvas.movable = edits.movable(self.window.scene) - self.window.parts.locks

    # -- dragging ------------------------------------------------------------------------------------

    def show_to_feel(self) -> None:
        """Have the process that feels take the text that is shown."""
        if self._felt_version != self.window.version:
            self._felt_version = self.window.version
            self.feel.ask(Text(self.window.version, self.document.text, ()))

    def _seize(self, part: str, point: Vector | None, pixel: QPointF) -> None:
        if point is None:
            return
        if self._drag is not None:  # it was let go, and is still waited for
            self._put_down(self._drag, 0)
        self.show_to_feel()
        self._drag = (part, point, np.zeros(3))
        self._from, self._begun, self._lifts = pixel, np.zeros(3), False
        self.felt = None
        self._surfaces = Surfaces(self.window.looks.pieces if self.window.looks else ())
        self.window.parts.choose(part)
        goes = {part, *edits.riders(self.window.scene, part)}
        self.canvas.hold(goes | edits.pipes(self.window.scene, goes).keys())
        self.canvas.setFocus()

    def _pull(self, x: float, y: float, lifts: bool, freely: bool) -> None:
        if self._drag is None:
            return
        part, point, before = self._drag
        step = edits.step_of(self.window.scene, fine=True)
        if lifts != self._lifts:  # from where it is now
            self._lifts, self._begun, self._from = lifts, before, QPointF(x, y)
        seized = vector(np.array(point) + self._begun)
        # the picker's pixel and the line of sight may lie half a pixel apart: both ends by the same measure
        first = self._offset(part, seized, self._from.x(), self._from.y(), lifts)
        offset = self._begun + np.round((self._offset(part, seized, x, y, lifts) - first) / step) * step
        looks, told = self.window.looks, ""
        if looks is not None and not freely:
            reach = min(HOLD / float(self.canvas.eye.pixels_per_metre(point)[0]), FARTHEST)
            axes = (2,) if lifts else tuple({0, 1} - {edits.towards_face(self.window.scene, part)})
            near = partial(snapped, part, offset, looks.things, looks.ground, self._surfaces)
            offset, told = near(reach=reach, step=step, axes=axes)
        self._holds = f"{part} {told}".strip()
        if self.felt is None:
            self.window.over.setText(self._holds)
        if not np.array_equal(offset, before):
            self._pause.start()
            self.window.judge.ask(Ahead(""))
        self._drag = (part, point, offset)
        self._show_pulled(part, offset)
        along = edits.riders(self.window.scene, part)
        self.feel.ask(At(part, vector(offset), frozenset(along)))

    def _judge_ahead(self) -> None:
        if self._drag is not None:
            path, text, _ = self._read
            with contextlib.suppress(LayoutError):  # told when it is let go
                moves = self._moves(self._drag[0], vector(self._drag[2]))
                self.window.judge.ask(Ahead(self._rewritten(moves, path, text, ahead=True)))

    def _show_pulled(self, part: str, offset: np.ndarray) -> None:
        """Draw a part dragged so far, on the ground or face as it was felt last."""
        move = Placement.at(offset)
        if self.felt is not None:
            move = Placement.at(offset - np.array(self.felt.by)) @ self.felt.move
        self._shift(part, move)

    def _offset(self, part: str, point: Vector, x: float, y: float, lifts: bool) -> np.ndarray:
        """Return how far a part goes with the pointer: over the ground, along a wall's face, or up."""
        camera, scene = self.canvas.eye, self.window.scene
        on_face, closed = edits.on_a_face(scene, part), edits.towards_face(scene, part)
        if closed is not None and not lifts:
            return eye.along_face(camera, point, x, y, closed)  # wherever it meets the face
        back = camera.axes()[2]
        across = lifts or on_face or eye.edge_on(camera, point, 2)
        offset = eye.on_plane(camera, point, x, y, int(abs(back[0]) <= abs(back[1])) if across else 2)
        if lifts:
            offset[:2] = 0.0
        elif not on_face:
            offset[2] = 0.0  # what stands on the ground stays on it, however flat the view
        return offset

    def _let_go(self) -> None:
        if self._drag is not None:
            on_face = edits.towards_face(self.window.scene, self._drag[0]) is not None
            self._put_down(self._drag, FACE_IN // LOOK_IN if on_face else 0)

    def _put_down(self, drag: Drag, tries: int) -> None:
        """Write where a part was dragged to; of a place on a face it is waited for whether there is one."""
        if self._drag is not drag:
            return  # it is put down already
        part, _, offset = drag
        felt = self.felt if self.felt is not None and self.felt.by == vector(offset) else None
        if felt is None and tries:
            QTimer.singleShot(LOOK_IN, lambda: self._put_down(drag, tries - 1))
            return
        self._drag = None
        self.canvas.let_go()
        if felt is not None and felt.trouble:
            self.refused(LayoutError(f"{part} stays where it was: {felt.trouble}"))
        if (felt is not None and felt.trouble) or not self._move(part, vector(offset)):
            self._shift(part, Placement.identity())
            self.canvas.draw_all()
        self.felt = None

    def _shift(self, part: str, move: Placement) -> None:
        """Draw a part moved, with what goes with it, and its pipes as far as they go whole."""
        goes = (part, *edits.riders(self.window.scene, part))
        for name in goes:
            self.canvas.shift(name, move)
        for name, free in edits.pipes(self.window.scene, goes).items():
            self.canvas.shift(name, Placement.at(move.offset * np.array(free)))

    def _look_in(self) -> None:
        for answer in self.feel.answers():
            if isinstance(answer, Felt) and self._drag is not None and answer.part == self._drag[0]:
                self.felt = answer
                self._show_pulled(answer.part, self._drag[2])
                self._show_felt(answer)
            elif not isinstance(answer, Felt):
                self.answered.emit(answer)

    def _show_felt(self, felt: Felt) -> None:
        met = {other for _, other in felt.meets}
        tints = dict.fromkeys(met, "fault")
        wrong = bool(met or felt.trouble) or not felt.inside
        own = "fault" if wrong else "warning" if felt.short else "note"
        looks, scene = self.window.looks, self.window.scene
        pipes = edits.pipes(scene, (felt.part, *edits.riders(scene, felt.part)))
        anew = [
            name for name, free in pipes.items() if np.any(np.abs(felt.move.offset[~np.array(free)]) > 1e-3)
        ]
        marks = {**dict.fromkeys(anew, "warning"), felt.part: own}
        tints |= (
            {thing.name: marks[thing.part] for thing in looks.things if thing.part in marks} if looks else {}
        )
        self.canvas.tint(tints)
        told = [f"meets {', '.join(sorted(met))}"] if met else []
        told += [] if felt.inside else ["is not within the tank"]
        told += [f"can't stand there: {felt.trouble}"] if felt.trouble else []
        told += [f"{', '.join(anew)} will be laid anew"] if anew else []
        self.window.over.setText("; ".join([self._holds, *told, *felt.short]))

    # -- saving --------------------------------------------------------------------------------------

    def save(self) -> None:
        """Show what saving changes, and save it; what others wrote is written over only if asked."""
        difference = self.document.difference()
        if not difference or (not self.document.changed and self.document.path.exists()):
            told = "Nothing of yours is unsaved." if difference else "The file holds what is shown."
            more = " It was changed on disk: take that, in the File menu." if difference else ""
            self.window.statusBar().showMessage(told + more, 5000)
            return
        if not agreed(self.window, difference):
            return
        over = self.document.overtaken()
        if over:
            button = QMessageBox.StandardButton
            asked = QMessageBox.question(
                self.window,
                "Not saved",
                f"{self.document.path.name} was changed on disk meanwhile, or is not there any more.\n\n"
                "Write over what is there?",
                button.Yes | button.Cancel,
                button.Cancel,
            )
            if asked != button.Yes:
                return
        try:
            self.document.save(over=over)
        except LayoutError as error:
            QMessageBox.warning(
                self.window,
                "Not saved",
                f"{error}\n\nYour changes are still here. File, Save a copy writes them elsewhere.",
            )
        else:
            self.window.saved()

    def ask_copy(self) -> None:
        """Ask for another file, and write a copy of what is shown into it."""
        name, _ = QFileDialog.getSaveFileName(
            self.window, "Save a copy", str(self.document.path), "Scenes (*.yaml *.yml)"
        )
        if name:
            self.save_copy(Path(name))

    def save_copy(self, path: Path) -> None:
        """Write what is shown into another file; the window stays with its own."""
        if path.resolve() == self.document.path.resolve():
            self.save()
            return
        try:
            self.document.write(path)
        except LayoutError as error:
            self.refused(error)
        else:
            self.window.statusBar().showMessage(
                f"{path.name} is written; the window stays with its own file.", 8000
            )
