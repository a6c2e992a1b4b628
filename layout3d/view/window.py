"""The window itself: panels around the picture, and what passes between them, the file and the answers.

The file is the truth: what is shown is always what one text of it says. Nothing here computes.
"""

from __future__ import annotations

import contextlib
import re
from collections.abc import Mapping
from pathlib import Path
from typing import Any

import numpy as np
from PySide6.QtCore import QSettings, Qt, QTimer, Signal
from PySide6.QtGui import QAction, QCloseEvent, QKeySequence, QShowEvent
from PySide6.QtWidgets import QDockWidget, QLabel, QMainWindow, QSplitter, QWidget

from layout3d.draw.pieces import WATER_NAME
from layout3d.errors import LayoutError
from layout3d.fields import field_specs
from layout3d.parts.base import Vector, vector
from layout3d.scene.reader import read_scene
from layout3d.scene.scene import Scene
from layout3d.units import show
from layout3d.view.answers import (
    FIT,
    LOOKS_FIRST,
    Answer,
    Dress,
    Felt,
    Files,
    Fit,
    Judged,
    Levels,
    Mistake,
    Mistakes,
    Near,
    Placed,
    Row,
    Text,
    Trouble,
)
from layout3d.view.beside import Beside
from layout3d.view.canvas import Canvas
from layout3d.view.cut_bar import CutBar, Place
from layout3d.view.document import Document, Watch
from layout3d.view.edits import fields_under
from layout3d.view.framed import Framed
from layout3d.view.looks import Looks
from layout3d.view.opening import never_let_go_of_none
from layout3d.view.panels import FieldsPanel, FiguresPanel, FindingsPanel, PartsPanel, ValuesPanel
from layout3d.view.questions import asked_for

__all__ = ["LOOK_IN", "Window"]

LOOK_IN = 5  # for answers of the processes beside, and whether the file changed on disk, [ms]
SIZE = (1280, 720)
ABOVE = 0.05  # the ground, where what is looked at lies lower, [m]
FINDINGS_WIDE = 300  # so many pixels, until it is made wider or narrower by hand
NARROWEST = 220  # pixels: that much of a panel stays readable in a small window
ENDED = (
    "The process that computes this scene was ended, by the system or for want of memory. "
    "Any change has it started again."
)
_LIST = re.compile("expected one of: [^;]*; (nearest: )")  # what is nearest is to be read in one line
_WIDE, _HIGH, _SIDE = Qt.Orientation.Horizontal, Qt.Orientation.Vertical, Qt.DockWidgetArea


class Window(QMainWindow):
    """The window over one scene file.

    ``judged`` are the findings and figures last told, ``version`` counts the texts; ``colour`` is what things
    are coloured by, and ``span`` what its key spans as well. ``pictures`` takes what stands beside the
    picture, and ``middle`` what stands below.
    Signals: ``texted`` another text is shown, ``looked_in`` answers were looked for, ``dressed`` new looks
    are shown, ``told`` new findings and figures are, ``levelled`` the water by level is, ``poured`` the water
    is drawn at other ``levels``, after a ``failure`` by name or by the slider, ``saving`` the file is to be
    saved, ``kept`` it was, ``mistaken`` the text turned out not to be usable.

    Raises
    ------
    SceneRefused : the file can't be read.
    """

    texted = Signal()
    looked_in = Signal()
    dressed = Signal()
    told = Signal()
    levelled = Signal(object)
    poured = Signal()
    saving = Signal()
    kept = Signal()
    mistaken = Signal()

    def __init__(self, path: Path, *, settings: QSettings | None = None) -> None:
        never_let_go_of_none()
        super().__init__()
        self.document = Document(path)
        self.scene: Scene = read_scene(path, text=self.document.text)
        self.version = 0
        self.colour = ""
        self.span: tuple[float, float] | None = None
        self.levels: Mapping[str, float] = {}
        self.failure = ""
        self.looks: Looks | None = None
        self.judged: Judged | None = None
        self._saved: tuple[str, tuple[Row, ...]] = "", ()  # a text of the file, and its figures
        self.frame_time = 0.0
        self._settings = settings or QSettings("layout3d", "view")
        self._filled = False
        self._closing = self._recalled = False
        self._to_choose = ""
        self._others = Watch(())  # files that the scene names
        self.judge = Beside(path)
        self.canvas = Canvas(self)
        self.pictures, self.middle = QSplitter(_WIDE, childrenCollapsible=False), QSplitter(_HIGH)
        self.pictures.addWidget(Framed(self.canvas))
        self.middle.addWidget(self.pictures)
        self.setCentralWidget(self.middle)
        self.parts, self.findings, self.figures = PartsPanel(), FindingsPanel(), FiguresPanel()
        self.values = ValuesPanel(self.scene.units)
        self.fields = FieldsPanel(("Field", "In the file"))
        self.docks = {
            "Parts": self._dock("Parts", self.parts, _SIDE.LeftDockWidgetArea),
            "Findings": self._dock("Findings", self.findings, _SIDE.RightDockWidgetArea),
            "Part": self._dock("Part", self.fields, _SIDE.RightDockWidgetArea),
            "Values": self._dock("Values", self.values, _SIDE.RightDockWidgetArea),
            "Figures": self._dock("Figures", self.figures, _SIDE.LeftDockWidgetArea),
        }
        self.tabifyDockWidget(self.docks["Findings"], self.docks["Part"])
        self.tabifyDockWidget(self.docks["Part"], self.docks["Values"])
        self.docks["Findings"].raise_()
        self.over, self.work = QLabel(), QLabel()
        self.statusBar().addWidget(self.over, 1)
        self.statusBar().addPermanentWidget(self.work)
        self.cut = CutBar(self.scene.units, lambda: self.canvas.eye.axes()[2])
        self.addToolBar(Qt.ToolBarArea.BottomToolBarArea, self.cut)
        bar = self.menuBar()
        self.file_menu, self.edit_menu, self.view_menu = map(bar.addMenu, ("&File", "&Edit", "&View"))
        self.take_news = self.act(
            self.file_menu, "&Take what is on disk", "Ctrl+R", self.take_what_is_on_disk
        )
        self.act(self.file_menu, "&Close", QKeySequence.StandardKey.Quit, self.close)
        self._connect()
        self.resize(*SIZE)
        self.resizeDocks([self.docks["Findings"]], [FINDINGS_WIDE], _WIDE)

        self._poll = QTimer(self, interval=LOOK_IN)
        self._poll.timeout.connect(self._look_at_file)
        self._poll.timeout.connect(self._look_in)
        self._poll.start()
        self.show_text()

    # -- making it -----------------------------------------------------------------------------------

    def _dock(self, name: str, panel: QWidget, area: Qt.DockWidgetArea) -> QDockWidget:
        dock = QDockWidget(name, self)
        dock.setObjectName(name)
        panel.setMinimumWidth(NARROWEST)
        dock.setWidget(panel)
        dock.visibilityChanged.connect(panel.setEnabled)  # else Tab goes to what is behind another tab
        self.addDockWidget(area, dock)
        return dock

    def add_panel(self, name: str, panel: QWidget, *, beside: str) -> QDockWidget:
        """Add a panel as a tab beside another one, by that one's name."""
        dock = self.docks[name] = self._dock(name, panel, _SIDE.RightDockWidgetArea)
        self.tabifyDockWidget(self.docks[beside], dock)
        self.docks["Findings"].raise_()
        return dock

    def act(self, menu: Any, words: str, keys: str | QKeySequence.StandardKey, do: Any) -> QAction:
        """Add an action to a menu, with its keys, which Qt shows beside it."""
        action = QAction(words, self)
        action.setShortcut(QKeySequence(keys))
        action.triggered.connect(lambda _checked=False: do())
        menu.addAction(action)
        return action

    def _connect(self) -> None:
        self.parts.ticked.connect(self._apply_ticks)
        self.parts.chosen.connect(self._part_chosen)
        self.canvas.hovered.connect(lambda part, _: self.over.setText(part))
        self.canvas.picked.connect(self._picked)
        self.cut.moved.connect(self._cut_moved)
        self.cut.rested.connect(self._ask_for_filled_cut)
        self.canvas.drawn.connect(self._frame_drawn)

    def showEvent(self, event: QShowEvent) -> None:
        """Recall the layout, once all panels and bars are there."""
        if not self._recalled:
            self._recalled = True
            self._recall_layout()
            self.canvas.setFocus()
        super().showEvent(event)

    def _recall_layout(self) -> None:
        for name, restore in (("geometry", self.restoreGeometry), ("panels", self.restoreState)):
            kept = self._settings.value(name)
            if kept is not None:
                restore(kept)

    # -- file, text, answers -------------------------------------------------------------------------

    def show_text(self, wants: tuple[str, ...] = LOOKS_FIRST) -> None:
        """Show what the document's text says: at once what is read off it, the rest as it is computed."""
        self.version += 1
        text = self.document.text
        self.statusBar().clearMessage()  # what was told of a text before is past
        # begun while the rest is shown here
        self.judge.ask(Text(self.version, text, wants, self.colour, self.span))
        if self.looks is not None:
            self.canvas.wait()
        with contextlib.suppress(LayoutError):  # its mistakes come with the answers
            self.scene = read_scene(self.document.path, text=text, last=self.scene)
        self.show_fields()
        self.figures.grey(True)
        self.work.setText("computing …")
        self.texted.emit()
        self._show_title()

    def _show_title(self) -> None:
        title = self.scene.title or self.document.path.stem
        news = "  ·  changed on disk" if self.document.news is not None else ""
        self.setWindowTitle(f"{title}  ·  {self.document.path.name}[*]{news}")
        self.setWindowModified(self.document.changed)
        self.take_news.setEnabled(self.document.news is not None)

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
        self.fields.setHorizontalHeaderLabels(["Field", part if own else "In the file"])
        self.fields.fill({name: (told, "") for name, told in own.items()}, under=f"parts.{part}.", docs=docs)

    def _look_at_file(self) -> None:
        if not self.document.look():
            if self._others.changed():
                self.show_text()
            return
        if self.document.trouble:
            self._show_mistakes((Mistake(0, self.document.trouble),))
        elif self.document.news is None or self.findings.mistakes:  # such as that there was no such file
            self.show_text()
        if self.document.news is not None:
            self._show_title()
            self.statusBar().showMessage("The file changed on disk; yours is not saved. Take it: File menu.")

    def take_what_is_on_disk(self) -> None:
        """Take what others wrote into the file, in place of what is not saved here; undo brings that back."""
        self.document.take_news()
        self.show_text()

    def saved(self) -> None:
        """Note that the file holds the text that is shown."""
        if self.judged is not None and self.is_told:
            self._show_figures(self.judged.rows)
        self.kept.emit()
        if self.findings.mistakes:  # they may be those of what was there on disk
            self.show_text()
        self._show_title()
        self.statusBar().showMessage(f"{self.document.path.name} is saved.", 5000)

    @property
    def is_told(self) -> bool:
        """Tell whether findings and figures are those of the text that is shown."""
        return self.judged is not None and self.judged.version == self.version

    def _look_in(self) -> None:
        for answer in self.judge.answers():
            self.take_answer(answer)
        if self.judge.ended:
            self.judge.close()  # asked anew, it is started anew
            if not (self.is_told and self.looks is not None and self.looks.version == self.version):
                self._show_mistakes((Mistake(0, ENDED),))
        self.looked_in.emit()

    def take_answer(self, answer: Answer) -> None:
        """Show an answer, if it is one to the text shown now."""
        if isinstance(answer, Files):  # also of a text before: they are told where they are others
            self._others = Watch(answer.paths)
        if isinstance(answer, Felt | Files):
            return
        # of a text that can't be used, what was drawn last is coloured and cut all the same
        if answer.version != self.version and not (isinstance(answer, Looks) and self.findings.mistakes):
            return
        if isinstance(answer, Looks) and not self.is_told and self.looks is not None:
            self.canvas.moving()  # lightly, until all is told
        elif isinstance(answer, Judged | Looks | Mistakes | Trouble):
            self.canvas.draw_all()
        if isinstance(answer, Looks):
            asked = answer.cut is None or (answer.cut, answer.view) == (self.cut.place, self.cut.view)
            if not asked or answer.colour != self.colour:
                return
            self._show_looks(answer)
        elif isinstance(answer, Placed):
            self._show_places(answer)
        elif isinstance(answer, Fit):
            before = self.judged.findings if self.judged else ()
            self.findings.fill_fit(answer.findings, [one for one in before if one.rule not in FIT])
            self.work.setText("fit is told, all else: computing …")
        elif isinstance(answer, Judged):
            self.judged = answer
            self.findings.fill(answer.findings, answer.cautions)
            self._show_figures(answer.rows)
            self.figures.grey(False)
            self._tell_count()
            self.told.emit()
        elif isinstance(answer, Levels):
            self.levelled.emit(answer)
        elif isinstance(answer, Near):
            self.canvas.rule(answer.ends)
            self.statusBar().showMessage(f"{answer.shown} between {' and '.join(answer.parts)}")
        elif isinstance(answer, Mistakes):
            self._show_mistakes(answer.mistakes)
        elif isinstance(answer, Trouble):
            self.tell(answer.told)

    def _show_figures(self, rows: tuple[Row, ...]) -> None:
        """Show the text's figures, beside those of the file as it was saved last, where they were told."""
        if not self.document.changed:
            self._saved = self.document.saved, rows
        before = self._saved[1] if self._saved[0] == self.document.saved else ()
        self.figures.fill(rows, before, self.scene.style or "metric")

    def _tell_count(self) -> None:
        """Tell how many faults were found, and where the picture is still that of an older text."""
        if self.judged is None or not self.is_told:
            return
        count = sum(finding.severity == "fault" for finding in self.judged.findings)
        told = f"{count} fault{'s' if count != 1 else ''}" if count else "no fault found"
        behind = self.looks is None or self.looks.version != self.version
        self.work.setText(f"{told}; picture: computing …" if behind else told)

    def _show_places(self, placed: Placed) -> None:
        """Show what only moved where it stands now, and pipes as long as they were; all else waits."""
        if self.looks is None or self._filled:
            return
        drawn = {thing.name: thing for thing in self.looks.things}
        moves = {
            thing.name: thing.stands @ drawn[thing.name].stands.inverse()
            for thing in placed.things
            if thing.name in drawn
            and (thing.shape == drawn[thing.name].shape or thing.group == "plumbing")
            and thing.stands != drawn[thing.name].stands
        }
        self.canvas.place(moves)

    def tell(self, trouble: str) -> None:
        """Tell in one line below what is wrong: the file by name alone, and what to do."""
        lines = (" ".join(line.split()) for line in self.document.by_name(trouble).splitlines())
        self.statusBar().showMessage(_LIST.sub(r"\1", "; ".join(lines)), 15_000)

    def _show_mistakes(self, mistakes: tuple[Mistake, ...]) -> None:
        self.findings.fill_mistakes(mistakes, self.document.by_name)
        self.work.setText(f"not shown: {len(mistakes)} mistake{'s' * (len(mistakes) != 1)} in the file")
        own, keys = self.docks["Findings"], self.focusWidget()
        if any(dock.isAncestorOf(keys) for dock in self.tabifiedDockWidgets(own) if keys is not None):
            # who types there is not sent away, nor what is typed into the picture
            self.tell(mistakes[0].message)
        else:
            own.raise_()
        self.mistaken.emit()

    def _show_looks(self, looks: Looks) -> None:
        self._filled = looks.cut is not None
        self.canvas.clip(None if self._filled else self.cut.clip)
        self.canvas.show_looks(looks)
        self.looks = looks
        if looks.cut is None:
            water = any(piece.body == WATER_NAME for piece in looks.pieces)
            self.parts.fill(looks.things, water=water)
            self.cut.reach([thing.box for thing in looks.things])
            if self.cut.place is not None:
                self._ask_for_filled_cut()
        self._apply_ticks()
        self._tint_chosen()
        if self._to_choose in {thing.part for thing in looks.things}:
            self.parts.choose(self._to_choose)
            self._to_choose = ""
        self._tell_count()
        self.dressed.emit()

    # -- looking -------------------------------------------------------------------------------------

    def box_of(self, part: str) -> Any:
        """Return the box around a part's bodies, (low, high) [m]; None where it has none."""
        boxes = [thing.box for thing in self.looks.things if thing.part == part] if self.looks else []
        every = np.array(boxes)
        return (every[:, 0].min(axis=0), every[:, 1].max(axis=0)) if boxes else None

    def looked_at(self) -> Vector:
        """Return the place over the ground in the tank nearest to what the window looks at, [m]."""
        at = np.array(self.canvas.eye.focal)
        ground = self.looks.ground if self.looks else None
        if ground is not None:
            low, high = np.array([ground.x[0], ground.y[0]]), np.array([ground.x[-1], ground.y[-1]])
            at[:2] = np.clip(at[:2], low + (high - low) * 0.1, high - (high - low) * 0.1)
            at[2] = max(at[2], ground.at(at[0], at[1]) + ABOVE)
        return vector(at)

    def _apply_ticks(self) -> None:
        if self.looks is not None:
            self.canvas.hide(self.looks.bodies_of(self.parts.hidden))

    def choose_when_shown(self, part: str) -> None:
        """Choose a part as soon as the looks have it, if none is chosen by hand until then."""
        self._to_choose = part

    def _picked(self, part: str, _point: object) -> None:
        self.parts.choose(part)
        self.canvas.setFocus()

    def _part_chosen(self, part: str) -> None:
        if part:
            self._to_choose = ""
        self.show_fields()
        self._tint_chosen()

    def _tint_chosen(self) -> None:
        part, things = self.parts.current, self.looks.things if self.looks and not self.colour else ()
        # colours that tell a figure are left as they are
        self.canvas.tint({thing.name: "note" for thing in things if thing.part == part})

    def _frame_drawn(self, seconds: float) -> None:
        self.frame_time = seconds
        self.work.setToolTip(f"{1000.0 * seconds:.0f} ms a frame")

    # -- cutting -------------------------------------------------------------------------------------

    def _cut_moved(self, cut: Place | None) -> None:
        self.canvas.clip(self.cut.clip)
        self.canvas.moving()
        if cut is None and self._filled:
            self.ask_for_looks()

    def ask_for_looks(self) -> None:
        """Have the same text drawn anew, as it is to be coloured and cut now."""
        self.judge.ask(Dress(self.colour, over=self.span))

    def _ask_for_filled_cut(self) -> None:
        if self.cut.place is not None:
            cut: Any = self.cut.place
            self.judge.ask(Dress(self.colour, cut, self.cut.view, self.span))

    # -- the end -------------------------------------------------------------------------------------

    def may_close(self) -> bool:
        """Ask what becomes of changes that are not saved; tell whether the window may close."""
        if not self.document.changed:
            return True
        told, answers = "Your changes are not in the file yet.", ("Save …", "Close, and lose them")
        save = asked_for(self, "Not saved", told, answers)
        if save:
            self.saving.emit()
        return save is False or not self.document.changed

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
        self.cut.stop()
        self.judge.close()
        self.canvas.close()

    def end(self) -> None:
        """Close without a word, unless it is closed."""
        if not self._closing:
            self._closing = True
            self.close()
