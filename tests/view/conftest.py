"""A display that nobody sees, for windows that nobody sees."""

import atexit
import os
import shutil
import sys

import pytest
from PySide6.QtCore import Qt
from screens import unseen_screen
from windows import done, settle

SCENE = """\
# a small tank, with a remark that has to last
format: 1
units: mm
title: Small
values:
  water: 120   # over the floor
waterline: water
parts:
  tank: {kind: tank, inside: [400, 250, 250], glass: 6}
  stone:
    kind: rock
    seed: 3
    size: [70, 60, 50]
    at: {left: 110, front: 120, bottom: 0}   # where it lay by hand
    fixed_to: tank
  other:
    kind: rock
    seed: 5
    size: [70, 60, 50]
    at: {left: 290, front: 120, bottom: 0}
    fixed_to: tank
"""


def pytest_sessionfinish(session):
    """End the process with the tests' code, and at once.

    The libraries of the window miss their screen while they are cleared away, and end it with another code.
    """

    def end():
        sys.stdout.flush()
        sys.stderr.flush()
        os._exit(int(session.exitstatus))

    atexit.register(end)


@pytest.fixture(scope="session")
def qapp_args():
    """Start a display of our own before Qt is asked for one."""
    if shutil.which("Xvfb") is None:
        pytest.skip("windows are tested on Xvfb, which is not installed")
    with unseen_screen():
        yield ["layout3d"]


@pytest.fixture
def scene_file(tmp_path):
    file = tmp_path / "small.yaml"
    file.write_text(SCENE)
    return file


def open_window(file):
    from PySide6.QtCore import QSettings

    from layout3d.view.session import whole_window

    whole = whole_window(
        file, settings=QSettings(str(file.with_name("kept.ini")), QSettings.Format.IniFormat)
    )
    made = whole.window
    made.end_all = whole.end
    for name in ("looking", "hands", "closer", "furnishing", "variants"):
        setattr(made, name, getattr(whole, name))
    made.resize(720, 500)
    made.show()
    return made


@pytest.fixture(scope="session")
def opened(qapp, tmp_path_factory):
    """One window for all that leave it open: opening it costs more than all that is tried in it."""
    file = tmp_path_factory.mktemp("window") / "small.yaml"
    file.write_text(SCENE)
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr("layout3d.view.canvas.FLIGHT", 0.01)  # one frame; each costs as much as a test may
        window = open_window(file)
        yield window
        window.end_all()


@pytest.fixture
def as_opened(qtbot, opened):
    """Set the window back as it opens on a text: nothing is chosen, hidden, locked, cut or undone."""

    def window(text):
        from layout3d.view.document import Document

        shown = opened.document.text == opened.document.saved == text
        shown = (
            shown and done(opened) and not (opened.findings.mistakes or opened.looks.colour or opened._filled)
        )
        opened.document.path.write_text(text)
        vars(opened.document).update(vars(Document(opened.document.path)))
        opened.parts.search.clear()
        for row in opened.parts._rows.values():
            row.setCheckState(0, Qt.CheckState.Checked)
            row.setCheckState(1, Qt.CheckState.Unchecked)
        opened.cut.axis.setCurrentIndex(0)
        opened.closer.water.choice.setCurrentIndex(0)
        opened.parts.choose("")
        opened.choose_when_shown("")
        opened.statusBar().clearMessage()
        opened.canvas.rule(None)
        opened.closer._part, opened.closer._marked, opened.closer._point = "", None, None
        if not shown:
            opened.show_text()
        opened.raise_()
        with qtbot.waitActive(opened, timeout=60_000):
            opened.activateWindow()
        settle(qtbot, opened)
        opened.looking.look_from("three_quarter", whole=True)
        qtbot.waitUntil(lambda: opened.canvas._flight is None, timeout=60_000)
        return opened

    return window


@pytest.fixture
def window(as_opened):
    return as_opened(SCENE)


@pytest.fixture
def window_file(window):
    """The file that the window shows."""
    return window.document.path


@pytest.fixture
def own_window(qtbot, scene_file):
    """A window that may be closed."""
    made = open_window(scene_file)
    settle(qtbot, made)
    yield made
    made.end_all()


@pytest.fixture
def opened_again(own_window):
    """Return what closes the window, and opens another one on the same file."""
    made = []

    def again():
        own_window.close()
        made.append(open_window(own_window.document.path))
        return made[0]

    yield again
    for one in made:
        one.end_all()
