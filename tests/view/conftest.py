"""A display that nobody sees, for windows that nobody sees."""

import os
import shutil
import subprocess

import pytest
from windows import settle

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


@pytest.fixture(scope="session")
def qapp_args():
    """Start a display of our own before Qt is asked for one."""
    if shutil.which("Xvfb") is None:
        pytest.skip("windows are tested on Xvfb, which is not installed")
    read, write = os.pipe()
    server = subprocess.Popen(
        ["Xvfb", "-displayfd", str(write), "-screen", "0", "1920x1080x24", "-nolisten", "tcp"],
        pass_fds=[write],
        stderr=subprocess.DEVNULL,
    )
    os.close(write)
    with os.fdopen(read) as told:
        number = told.readline().strip()
    before = {name: os.environ.get(name) for name in ("DISPLAY", "QT_QPA_PLATFORM")}
    os.environ |= {"DISPLAY": f":{number}", "QT_QPA_PLATFORM": "xcb"}
    yield ["layout3d"]
    for name, value in before.items():
        os.environ.pop(name)
        if value is not None:
            os.environ[name] = value
    server.terminate()
    server.wait()


@pytest.fixture
def scene_file(tmp_path):
    file = tmp_path / "small.yaml"
    file.write_text(SCENE)
    return file


@pytest.fixture
def window(qtbot, scene_file, tmp_path):
    from PySide6.QtCore import QSettings

    from layout3d.view.closer import Closer
    from layout3d.view.furnishing import Furnishing
    from layout3d.view.hands import Hands
    from layout3d.view.window import Window

    made = Window(scene_file, settings=QSettings(str(tmp_path / "kept.ini"), QSettings.Format.IniFormat))
    qtbot.addWidget(made, before_close_func=lambda one: setattr(one, "_closing", True))
    made.hands = Hands(made)
    made.closer, made.furnishing = Closer(made, made.hands), Furnishing(made, made.hands)
    made.resize(1000, 700)
    made.show()
    with qtbot.waitActive(made, timeout=60_000):
        made.activateWindow()
    settle(qtbot, made)
    yield made
    made.hands.close()
    made.end()
