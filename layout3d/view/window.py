"""The window itself: panels around the picture, and what passes between them, the file and the answers.

The file is the truth: what is shown is always what one text of it says. Nothing here computes.
"""

from __future__ import annotations

import contextlib
from pathlib import Path
from typing import Any

import numpy as np
from PySide6.QtCore import QSettings, Qt, QTimer, Signal
from PySide6.QtGui import QAction, QCloseEvent, QKeySequence
from PySide6.QtWidgets import (
    QDockWidget,
    QLabel,
    QMainWindow,
    QMessageBox,
    QWidget,
)

from layout3d.checks.base import Finding
from layout3d.draw.camera import VIEWS
from layout3d.draw.page import finding_point
from layout3d.draw.pieces import WATER_NAME
from layout3d.errors import LayoutError
from layout3d.fields import field_specs
from layout3d.scene.reader import read_scene
from layout3d.scene.scene import Scene
from layout3d.units import show
from layout3d.view import eye
from layout3d.view.answers import (
    Answer,
    Between,
    Cutting,
    Felt,
    Judged,
    Looks,
    Mistake,
    Mistakes,
    Near,
    Row,
    Text,
)
from layout3d.view.beside import Beside
from layout3d.view.canvas import Canvas
from layout3d.view.cut_bar import CUT_VIEW, TOWARDS, CutBar, Place
from layout3d.view.document import Document
from layout3d.view.edits import fields_under
from layout3d.view.panels import FieldsPanel, FiguresPanel, FindingsPanel, PartsPanel

__all__ = ["LOOK_IN", "Window"]

LOOK_IN = 15  # for answers of the processes beside, [ms]
LOOK_AT_FILE = 100  # whether it changed on disk, [ms]
NEAR = 0.6  # of the scene's longest side: how near a flight to a finding ends
SIZE = (1280, 720)
_VIEW_KEYS = {"three_quarter": "1", "front": "2", "right": "3", "left": "4", "back": "5", "plan": "6"}
_WIDE, _SIDE = Qt.Orientation.Horizontal, Qt.DockWidgetArea


class Window(QMainWindow):
    """The window over one scene file.

    ``judged`` are the findings and figures last told, ``version`` counts the texts; they belong together
    where ``judged.version == version``. Signals: ``texted`` another text is shown, ``looked_in`` answers
    were looked for.

    Raises
    ------
    SceneRefused : the file can't be read.
    """

    texted = Signal()
    looked_in = Signal()

    def __init__(self, path: Path, *, settings: QSettings | None = None) -> None:
        super().__init__()
        self.document = Document(path)
        self.scene: Scene = read_scene(path, text=self.document.text)
        self.version = 0
        self.looks: Looks | None = None
        self.judged: Judged | None = None
        self.saved_rows: tuple[Row, ...] = ()
        self.frame_time = 0.0
        self._settings = settings or QSettings("layout3d", "view")
        self._filled = False
        self._saved_version = 0
        self._closing = False

        self.judge = Beside(path)
        self.canvas = Canvas(self)
        self.setCentralWidget(self.canvas)
        self.parts, self.findings, self.figures = PartsPanel(), FindingsPanel(), FiguresPanel()
        self.values = FieldsPanel(("Value", "In the file"))
        self.fields = FieldsPanel(("Field", "In the file"))
        self._docks = {
            "Parts": self._dock("Parts", self.parts, _SIDE.LeftDockWidgetArea),
            "Findings": self._dock("Findings", self.findings, _SIDE.RightDockWidgetArea),
            "Part": self._dock("Part", self.fields, _SIDE.RightDockWidgetArea),
            "Values": self._dock("Values", self.values, _SIDE.RightDockWidgetArea),
            "Figures": self._dock("Figures", self.figures, _SIDE.LeftDockWidgetArea),
        }
        self.tabifyDockWidget(self._docks["Findings"], self._docks["Part"])
        self.tabifyDockWidget(self._docks["Part"], self._docks["Values"])
        self._docks["Findings"].raise_()
        self.over, self.work, self.frame = QLabel(), QLabel(), QLabel()
        self.statusBar().addWidget(self.over, 1)
        self.statusBar().addPermanentWidget(self.work)
        self.statusBar().addPermanentWidget(self.frame)
        self.cut = CutBar(self.scene.units)
        self.addToolBar(Qt.ToolBarArea.BottomToolBarArea, self.cut)
        self._make_menus()
        self._connect()
        self.resize(*SIZE)
        self._recall_layout()

        self._poll = QTimer(self, interval=LOOK_IN)
        self._poll.timeout.connect(self._look_in)
        self._watch = QTimer(self, interval=LOOK_AT_FILE)
        self._watch.timeout.connect(self._look_at_file)
        self._poll.start()
        self._watch.start()
        self.show_text()

    # -- making it -----------------------------------------------------------------------------------

    def _dock(self, name: str, panel: QWidget, area: Qt.DockWidgetArea) -> QDockWidget:
        dock = QDockWidget(name, self)
        dock.setObjectName(name)
        dock.setWidget(panel)
        self.addDockWidget(area, dock)
        return dock

    def act(self, menu: Any, words: str, keys: str | QKeySequence.StandardKey, do: Any) -> QAction:
        """Add an action to a menu, with its keys, which Qt shows beside it."""
        action = QAction(words, self)
        action.setShortcut(QKeySequence(keys))
        action.triggered.connect(lambda _checked=False: do())
        menu.addAction(action)
        return action

    def _make_menus(self) -> None:
        key = QKeySequence.StandardKey
        self.file_menu = self.menuBar().addMenu("&File")
        self.take_news = self.act(
            self.file_menu, "&Take what is on disk", "Ctrl+R", self.take_what_is_on_disk
        )
        self.take_news.setEnabled(False)
        self.act(self.file_menu, "&Close", key.Quit, self.close)
        self.view_menu = self.menuBar().addMenu("&View")
        for name, side in VIEWS.items():
            words = side.words.capitalize()
            self.act(self.view_menu, words, _VIEW_KEYS[name], lambda n=name: self.look_from(n))
        self.view_menu.addSeparator()
        self.act(
            self.view_menu, "&Everything in view", "Home", lambda: self.look_from("three_quarter", whole=True)
        )
        self.act(self.view_menu, "&Next finding", "N", lambda: self._step_finding(1))
        self.act(self.view_menu, "&Finding before", "P", lambda: self._step_finding(-1))
        self.act(self.view_menu, "&Search parts", key.Find, self.parts.search.setFocus)
        self.act(self.view_menu, "&Hide the chosen part", "H", self._hide_chosen)
        self.act(self.view_menu, "Show &all parts", "A", self.parts.show_all)
        self.act(self.view_menu, "&Cut: none, length, depth, level", "C", self.cut.next_axis)
        self.act(
            self.view_menu,
            "Cut &onwards",
            "]",
            lambda: self.cut.step(10),
        )
        self.act(self.view_menu, "Cut &back", "[", lambda: self.cut.step(-10))
        self.view_menu.addSeparator()
        for number, (name, dock) in enumerate(self._docks.items(), start=1):
            self.act(self.view_menu, f"Go to {name.lower()}", f"Alt+{number}", lambda d=dock: self._go_to(d))
        for way, keys, step in (
            ("right", "Ctrl+Right", (0.1, 0.0)),
            ("left", "Ctrl+Left", (-0.1, 0.0)),
            ("up", "Ctrl+Up", (0.0, 0.1)),
            ("down", "Ctrl+Down", (0.0, -0.1)),
        ):
            self.act(self.view_menu, f"Turn the view {way}", keys, lambda s=step: self._turn_view(*s))
        self.act(self.view_menu, "Nearer", key.ZoomIn, lambda: self._nearer(0.8))
        self.act(self.view_menu, "Farther", key.ZoomOut, lambda: self._nearer(1.25))

    def _connect(self) -> None:
        self.parts.ticked.connect(self._apply_ticks)
        self.parts.chosen.connect(self._part_chosen)
        self.findings.chosen.connect(self._finding_chosen)
        self.canvas.hovered.connect(lambda part, _: self.over.setText(part.replace("_", " ")))
        self.canvas.compared.connect(self._compare)
        self.canvas.picked.connect(self._picked)
        self.cut.moved.connect(self._cut_moved)
        self.cut.rested.connect(self._ask_for_filled_cut)
        self.canvas.drawn.connect(self._frame_drawn)

    def _recall_layout(self) -> None:
        for name, restore in (("geometry", self.restoreGeometry), ("panels", self.restoreState)):
            kept = self._settings.value(name)
            if kept is not None:
                restore(kept)

    # -- file, text, answers -------------------------------------------------------------------------

    def show_text(self, wants: tuple[str, ...] = ("looks", "judged")) -> None:
        """Show what the document's text says: at once what is read off it, the rest as it is computed."""
        self.version += 1
        text = self.document.text
        if not self.document.changed:
            self._saved_version = self.version
        with contextlib.suppress(LayoutError):  # its mistakes come with the answers
            self.scene = read_scene(self.document.path, text=text)
        self.show_fields()
        self.figures.grey(True)
        self.work.setText("computing …")
        self.judge.ask(Text(self.version, text, wants))
        self.texted.emit()
        self._show_title()

    def _show_title(self) -> None:
        title = self.scene.title or self.document.path.stem
        self.setWindowTitle(f"{title}  ·  {self.document.path.name}[*]")
        self.setWindowModified(self.document.changed)

    def show_fields(self) -> None:
        """Show the fields of the chosen part, and the named values, as the text has them."""
        path, text, system = self.document.path, self.document.text, self.scene.style or "metric"
        try:
            values = fields_under(path, text, "values")
            part = self.parts.current
            own = fields_under(path, text, f"parts.{part}") if part and part != WATER_NAME else {}
        except LayoutError:
            return  # a text that can't be read keeps the fields of the last one that could

        def out(name: str, written: str) -> str:
            # named values bear no kind; most are lengths, and a plain number shows as it is written
            value = self.scene.values.get(name)
            plain = written.replace(".", "", 1).isdigit()
            return "" if value is None or plain else show(value, "length", system=system)

        self.values.fill(
            {name: (told, out(name.removeprefix("values."), told)) for name, told in values.items()},
            under="values.",
            docs={},
        )
        found = self.scene.part(part)
        docs = {name: spec.doc for name, spec in field_specs(type(found)).items()} if found else {}
        self.fields.fill({name: (told, "") for name, told in own.items()}, under=f"parts.{part}.", docs=docs)

    def _look_at_file(self) -> None:
        if not self.document.look():
            return
        if self.document.trouble:
            self._show_mistakes((Mistake(0, self.document.trouble),))
        elif self.document.news is not None:
            self.take_news.setEnabled(True)
            self.statusBar().showMessage(
                "The file was changed on disk; yours is not saved. Take it: File menu."
            )
        else:
            self.take_news.setEnabled(False)
            self.show_text()

    def take_what_is_on_disk(self) -> None:
        """Take what others wrote into the file, in place of what is not saved here; undo brings that back."""
        self.document.take_news()
        self.take_news.setEnabled(False)
        self.show_text()

    def saved(self) -> None:
        """Note that the file holds the text that is shown."""
        self._saved_version = self.version
        if self.judged is not None and self.judged.version == self.version:
            self.saved_rows = self.judged.rows
            self.figures.fill(self.judged.rows, self.saved_rows, self.scene.style or "metric")
        self.take_news.setEnabled(False)
        self._show_title()

    def _look_in(self) -> None:
        for answer in self.judge.answers():
            self.take_answer(answer)
        self.looked_in.emit()

    def take_answer(self, answer: Answer) -> None:
        """Show an answer, if it is one to the text shown now."""
        if isinstance(answer, Felt) or answer.version != self.version:
            return
        if isinstance(answer, Looks):
            if answer.cut is not None and answer.cut != self.cut.place:
                return
            self._show_looks(answer)
        elif isinstance(answer, Judged):
            self.judged = answer
            if answer.version == self._saved_version:
                self.saved_rows = answer.rows
            self.findings.fill(answer.findings, answer.cautions)
            self.figures.fill(answer.rows, self.saved_rows, self.scene.style or "metric")
            self.figures.grey(False)
            count = sum(finding.severity == "fault" for finding in answer.findings)
            self.work.setText(f"{count} fault{'s' if count != 1 else ''}" if count else "no fault found")
        elif isinstance(answer, Near):
            self.canvas.rule(answer.ends)
            self.statusBar().showMessage(f"{answer.shown} between {' and '.join(answer.parts)}")
        elif isinstance(answer, Mistakes):
            self._show_mistakes(answer.mistakes)

    def _show_mistakes(self, mistakes: tuple[Mistake, ...]) -> None:
        self.findings.fill_mistakes(mistakes)
        count = len(mistakes)
        self.work.setText(f"not shown: {count} mistake{'s' if count != 1 else ''} in the file")
        self._docks["Findings"].raise_()

    def _show_looks(self, looks: Looks) -> None:
        first = self.looks is None
        self._filled = looks.cut is not None
        cut = None if self._filled else self.cut.place
        self.canvas.clip(None if cut is None else (*cut, TOWARDS[cut[0]]))
        self.canvas.show_looks(looks)
        self.looks = looks
        if looks.cut is None:
            water = any(piece.body == WATER_NAME for piece in looks.pieces)
            self.parts.fill(looks.things, water=water)
            self.cut.reach(self._boxes())
            if self.cut.place is not None:
                self._ask_for_filled_cut()
        self.canvas.rule(None)
        self._apply_ticks()
        self._tint_chosen()
        if first:
            self.look_from("three_quarter", whole=True)

    # -- looking -------------------------------------------------------------------------------------

    def _boxes(self) -> list[Any]:
        return [thing.box for thing in self.looks.things] if self.looks else []

    def look_from(self, view: str, *, whole: bool = False) -> None:
        """Look from a side; as near as before, or at everything."""
        if self._boxes():
            self.canvas.look_from(view, self._boxes(), whole=whole)

    def _turn_view(self, around: float, over: float) -> None:
        self.canvas.look(eye.turned(self.canvas.eye, around, over))

    def _nearer(self, factor: float) -> None:
        self.canvas.look(eye.nearer(self.canvas.eye, factor))

    def _apply_ticks(self) -> None:
        hidden = self.parts.hidden
        bodies = {thing.name for thing in self.looks.things if thing.part in hidden} if self.looks else set()
        self.canvas.hide(bodies | (hidden & {WATER_NAME}))

    def _hide_chosen(self) -> None:
        row = self.parts.tree.currentItem()
        if row is not None:
            row.setCheckState(0, Qt.CheckState.Unchecked)

    def _picked(self, part: str, _point: object) -> None:
        self.parts.choose(part)
        self.canvas.setFocus()

    def _compare(self, part: str) -> None:
        chosen = self.parts.current
        if part and chosen not in ("", WATER_NAME, part):
            self.judge.ask(Between(chosen, part))

    def _part_chosen(self, _part: str) -> None:
        self.show_fields()
        self._tint_chosen()

    def _tint_chosen(self) -> None:
        part, things = self.parts.current, self.looks.things if self.looks else ()
        self.canvas.tint({thing.name: "note" for thing in things if thing.part == part})

    def _finding_chosen(self, finding: Finding | None) -> None:
        if finding is None or self.looks is None:
            return
        things = self.looks.things
        concerned = {
            thing.name: finding.severity for thing in things if {thing.name, thing.part} & set(finding.parts)
        }
        self.canvas.tint(concerned)
        boxes = {name: np.array(thing.box) for thing in things for name in (thing.part, thing.name)}
        at = finding_point(finding, boxes)
        if at is not None:
            every = np.array(self._boxes())
            reach = NEAR * float((every[:, 1].max(axis=0) - every[:, 0].min(axis=0)).max())
            now = self.canvas.eye
            distance = min(
                reach / np.tan(now.angle / 2.0) / 2.0, float(np.linalg.norm(np.subtract(now.position, at)))
            )
            self.canvas.look(eye.to_focal(now, at, distance), fly=True)

    def _step_finding(self, by: int) -> None:
        count = len(self.findings.findings)
        if count:
            self._docks["Findings"].raise_()
            row = self.findings.currentRow()
            self.findings.setCurrentRow((row + by) % count if row >= 0 or by > 0 else count - 1)

    def _go_to(self, dock: QDockWidget) -> None:
        dock.show()
        dock.raise_()
        panel = dock.widget()
        (panel.tree if isinstance(panel, PartsPanel) else panel).setFocus()

    def _frame_drawn(self, seconds: float) -> None:
        self.frame_time = seconds
        self.frame.setText(f"{1000.0 * seconds:.0f} ms a frame")

    # -- cutting -------------------------------------------------------------------------------------

    def _cut_moved(self, cut: Place | None) -> None:
        self.canvas.clip(None if cut is None else (*cut, TOWARDS[cut[0]]))
        self.canvas.moving()
        if cut is None and self._filled:
            self.judge.ask(Text(self.version, self.document.text, ("looks",)))

    def _ask_for_filled_cut(self) -> None:
        if self.cut.place is not None:
            axis, place = self.cut.place
            self.judge.ask(Cutting((axis, place), CUT_VIEW[axis]))  # type: ignore[arg-type] # one of x, y, z

    # -- the end -------------------------------------------------------------------------------------

    def may_close(self) -> bool:
        """Ask what becomes of changes that are not saved; tell whether the window may close."""
        if not self.document.changed:
            return True
        button = QMessageBox.StandardButton
        asked = QMessageBox.question(
            self,
            "Not saved",
            "Your changes are not in the file yet. Close, and lose them?",
            button.Discard | button.Cancel,
            button.Cancel,
        )
        return asked == button.Discard

    def closeEvent(self, event: QCloseEvent) -> None:
        """Close at once, whatever is being computed or drawn; what isn't saved is asked about first."""
        if not self._closing and not self.may_close():
            event.ignore()
            return
        self._closing = True
        self._settings.setValue("geometry", self.saveGeometry())
        self._settings.setValue("panels", self.saveState())
        self.stop()
        event.accept()

    def stop(self) -> None:
        """Stop timers, processes and drawing."""
        self._poll.stop()
        self._watch.stop()
        self.cut.stop()
        self.judge.close()
        self.canvas.close()

    def end(self) -> None:
        """Close without a word, as a signal asks for it."""
        self._closing = True
        self.close()
