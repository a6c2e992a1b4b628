"""Parts added from the kinds, copied, taken out and let go, and a run's steps: all in the file's text."""

from __future__ import annotations

from PySide6.QtCore import QObject, Qt
from PySide6.QtWidgets import (
    QComboBox,
    QDialog,
    QDialogButtonBox,
    QFormLayout,
    QLabel,
    QLineEdit,
    QVBoxLayout,
    QWidget,
)

from layout3d.errors import LayoutError, SceneRefused
from layout3d.fields import field_specs
from layout3d.parts.registry import is_tank, kinds
from layout3d.scene.entries import copied, removed
from layout3d.scene.reader import read_scene
from layout3d.scene.write_back import changed
from layout3d.view import edits
from layout3d.view.hands import Hands
from layout3d.view.looking import Looking
from layout3d.view.questions import asked_for
from layout3d.view.steps import StepsPanel
from layout3d.view.taking_out import Left, Without
from layout3d.view.window import Window

__all__ = ["AddPart", "Furnishing"]

REST = ("rock", "wood")  # kinds that can be let go


class Furnishing(QObject):
    """The menu for parts and the table of steps; made with a window and what hands and eyes do in it."""

    def __init__(self, window: Window, hands: Hands, looking: Looking) -> None:
        super().__init__(window)
        self.window, self.hands = window, hands
        menu = window.menuBar().addMenu("&Parts")
        window.act(menu, "&Add a part …", "Ins", self.ask_part)
        window.act(menu, "&Copy the chosen part", "Ctrl+D", self.copy)
        window.act(menu, "&Take the chosen part out", "Ctrl+Del", self.take_out)
        menu.addSeparator()
        window.act(menu, "&Let it come to rest, or stay where it is put", "Ctrl+L", self.let_go)
        self.steps = StepsPanel(window.scene.units)
        dock = window.add_panel("Steps", self.steps, beside="Part")
        window.act(looking.panels, "Steps", "Alt+6", lambda: looking.go_to(dock))
        self.steps.written.connect(self._write_steps)
        window.parts.chosen.connect(lambda _: self._show_steps())
        window.texted.connect(self._show_steps)
        hands.answered.connect(self._answered)

    # -- parts ---------------------------------------------------------------------------------------

    def ask_part(self) -> None:
        """Ask what part to add, and add it."""
        asked = AddPart(self.window)
        if asked.exec() == QDialog.DialogCode.Accepted.value:
            self.add(asked.text, asked.name.text().strip())

    def add(self, text: str, part: str) -> None:
        """Take a text that has a new part, and choose that; until it is shown, none is."""
        self.hands.take(text)
        self.window.parts.choose("")
        self.window.choose_when_shown(part)

    def copy(self) -> None:
        """Write the chosen part a second time, beside itself where it has a place of its own."""
        window, document = self.window, self.window.document
        part, scene = window.parts.current, window.scene
        if scene.part(part) is None:
            return
        name = edits.free_name(scene, part)
        try:
            text = copied(document.text, ("parts", part), name)
            box = window.box_of(part)
            wide = 0.0 if box is None else box[1][0] - box[0][0]
            new = read_scene(document.path, text=text)
            if wide and name in edits.movable(new):
                on_face = edits.towards_face(new, name) is not None  # beside itself there may be none
                aside = 2.0 * edits.step_of(new) if on_face else 1.1 * wide
                by = (aside, 0.0, 0.0)  # the copy alone: what it names stays with the first one
                changes = edits.moved(document.path, text, new, name, by, figures=True)
                text = changed(text, changes, file=str(document.path), here=True)
        except LayoutError as error:
            self.hands.refused(error)
        else:
            self.add(text, name)

    def take_out(self) -> None:
        """Take the chosen part out of the file; what needs it is asked about, once it is known."""
        window = self.window
        part, text = window.parts.current, window.document.text
        if window.scene.part(part) is None:
            return
        if not window.findings.mistakes:
            self.hands.show_to_feel()
            self.hands.feel.ask(Without(window.version, text, part))
            window.statusBar().showMessage(f"Looking for what needs {part} …")
            return
        try:  # what can't be built now can't tell what needs what
            self._without(part, removed(text, ("parts", part)))
        except LayoutError as error:
            self.hands.refused(error)

    def _without(self, part: str, text: str) -> None:
        """Take a text that a part is taken out of; where undo brings it back it is chosen again."""
        self.hands.take(text)
        self.window.choose_when_shown(part)

    def _answered(self, left: object) -> None:
        if not isinstance(left, Left) or left.version != self.window.version:
            return
        together: bool | None = True
        before = self.window.document.text
        if left.needs:
            told = (
                f"These need {left.part}, and can't stay as they are without it:\n\n{', '.join(left.needs)}"
            )
            answers = "Take them out as well", f"Take {left.part} out alone"
            together = asked_for(self.window, "More hangs on it", told, answers)
        self.window.statusBar().clearMessage()
        if together is not None and not self.hands.overtaken(before):
            self._without(left.part, left.together if together else left.alone)

    def let_go(self) -> None:
        """Let the chosen piece come to rest from where it is put; or let it stay there again."""
        part = self.window.scene.part(self.window.parts.current)
        if part is None or part.kind not in REST:
            self.window.statusBar().showMessage("Choose a rock or a piece of wood first.", 5000)
            return
        try:
            if getattr(part, "rest", False):
                self.hands.take(removed(self.window.document.text, ("parts", part.name, "rest")))
            else:
                self.hands.write({f"parts.{part.name}.rest": "true"})
        except LayoutError as error:
            self.hands.refused(error)

    # -- steps ---------------------------------------------------------------------------------------

    def _show_steps(self) -> None:
        self.steps.fill(self.window.document.text, self.window.parts.current)

    def _write_steps(self, text: str) -> None:
        try:
            read_scene(self.window.document.path, text=text)
        except SceneRefused as error:
            first = error.mistakes[0]
            self.hands.refused(LayoutError(first.found, expected=first.expected, remedy=first.remedy))
            self._show_steps()
        else:
            self.hands.take(text)


class AddPart(QDialog):
    """What part to add: its kind, its name, and the fields that have to be given.

    ``text`` is the scene with it, once it was agreed to; what the reader refuses is told, and asked again.
    """

    def __init__(self, window: Window) -> None:
        super().__init__(window)
        self.setWindowTitle("Add a part")
        self._window, self.text = window, ""
        things = window.looks.things if window.looks else ()
        ports = (port for thing in things if thing.part == window.parts.current for port in thing.ports)
        self._port = next(ports, "")  # where a run may begin
        self.kind, self.name = QComboBox(), QLineEdit()
        self.kind.addItems(sorted(name for name in kinds() if not is_tank(name)))
        self.told = QLabel(wordWrap=True)
        self.fields: dict[str, QLineEdit] = {}
        self._form = QFormLayout()
        self._own = QWidget()
        self._own.setLayout(self._form)
        head = QFormLayout()
        head.addRow("&Kind", self.kind)
        head.addRow("&Name", self.name)
        buttons = QDialogButtonBox(
            QDialogButtonBox.StandardButton.Ok | QDialogButtonBox.StandardButton.Cancel
        )
        buttons.accepted.connect(self._agree)
        buttons.rejected.connect(self.reject)
        layout = QVBoxLayout(self)
        layout.addLayout(head)
        layout.addWidget(self._own)
        layout.addWidget(self.told)
        layout.addWidget(buttons)
        self.kind.currentTextChanged.connect(self._fill)
        self.kind.setCurrentText("rock")
        self._fill()
        self.resize(440, self.sizeHint().height())

    def _fill(self) -> None:
        while self._form.rowCount():
            self._form.removeRow(0)
        kind = self.kind.currentText()
        scene = self._window.scene
        self.name.setText(edits.free_name(scene, kind))
        begun = edits.starter(scene, kind, self._window.looked_at())
        if self._port and "start" in begun:
            begun["start"] = self._port
        specs = field_specs(kinds()[kind])
        wanted = [*(name for name, spec in specs.items() if spec.required), *begun]
        self.fields = {}
        for name in dict.fromkeys(wanted):
            line = QLineEdit(begun.get(name, ""))
            line.setToolTip(specs[name].doc)
            line.setPlaceholderText(specs[name].type.words())
            self.fields[name] = line
            self._form.addRow(name, line)
        self.told.clear()

    def _agree(self) -> None:
        given = {name: line.text().strip() for name, line in self.fields.items() if line.text().strip()}
        path, text = self._window.document.path, self._window.document.text
        try:
            text = edits.with_part(text, self.name.text().strip(), self.kind.currentText(), given)
            read_scene(path, text=text)
        except SceneRefused as error:
            first = error.mistakes[0]
            self.told.setText("\n".join(word for word in (first.found, first.expected, first.remedy) if word))
        except LayoutError as error:
            self.told.setText(str(error))
        else:
            self.text = text
            self.accept()
            return
        self.told.setAccessibleName(self.told.text())
        layout = self.layout()
        if layout is not None:  # all of it is to be read
            self.resize(self.width(), layout.totalHeightForWidth(self.width()))
        self.name.setFocus(Qt.FocusReason.OtherFocusReason)
