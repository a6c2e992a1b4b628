"""What a window asks before the file's text is changed or saved."""

from __future__ import annotations

from collections.abc import Sequence

from PySide6.QtWidgets import QDialog, QDialogButtonBox, QMessageBox, QVBoxLayout, QWidget

from layout3d.view.changed_lines import ChangedLines

__all__ = ["agreed", "asked_everywhere", "asked_for", "asked_for_sums"]


def asked_everywhere(parent: QWidget, name: str, text: str) -> bool | None:
    """Ask whether a figure is to be a named value's, or stand in this place alone; None for neither."""
    return asked_for(
        parent,
        "A named value stands there",
        f"{name} stands there, which may stand in other places too.",
        (f"Make {name} {text} everywhere", f"Write {text} here alone"),
    )


def asked_for_sums(parent: QWidget, told: Sequence[str]) -> bool | None:
    """Ask whether arithmetic is to stay arithmetic, or figures are to stand there; None for neither."""
    answers = "Keep the arithmetic, from now on", "Write figures in its place"
    return asked_for(parent, "Arithmetic stands there", "\n\n".join(told), answers)


def asked_for(parent: QWidget, title: str, told: str, answers: tuple[str, str]) -> bool | None:
    """Ask for one of two answers; tell whether it was the first, None where it was neither."""
    asked = QMessageBox(parent)
    asked.setWindowTitle(title)
    asked.setText(told)
    first = asked.addButton(answers[0], QMessageBox.ButtonRole.AcceptRole)
    other = asked.addButton(answers[1], QMessageBox.ButtonRole.ActionRole)
    asked.addButton(QMessageBox.StandardButton.Cancel)
    asked.exec()
    clicked = asked.clickedButton()
    return True if clicked is first else False if clicked is other else None


def agreed(parent: QWidget, difference: str) -> bool:
    """Show the lines that saving changes; tell whether they are to be saved."""
    asked = QDialog(parent)
    asked.setWindowTitle("What saving changes")
    asked.resize(760, 420)
    lines = ChangedLines()
    lines.setPlainText(difference)
    buttons = QDialogButtonBox(QDialogButtonBox.StandardButton.Save | QDialogButtonBox.StandardButton.Cancel)
    buttons.accepted.connect(asked.accept)
    buttons.rejected.connect(asked.reject)
    layout = QVBoxLayout(asked)
    layout.addWidget(lines)
    layout.addWidget(buttons)
    return asked.exec() == QDialog.DialogCode.Accepted.value
