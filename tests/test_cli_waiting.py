"""Who waits at a terminal is told that work goes on; nobody else is."""

import io
import time

import pytest

from layout3d.commands import scene
from layout3d.commands.scene import refusals_told


class Terminal(io.StringIO):
    def __init__(self, is_one: bool) -> None:
        super().__init__()
        self.is_one = is_one

    def isatty(self) -> bool:
        return self.is_one


@pytest.mark.parametrize(
    ("terminal", "as_json", "wait", "told"),
    [
        (True, False, 0.0, True),
        (True, False, 60.0, False),
        (False, False, 0.0, False),
        (True, True, 0.0, False),
    ],
    ids=["long at a terminal", "soon done", "to a file", "for a program"],
)
def test_long_work_is_told_at_a_terminal_only(monkeypatch, terminal, as_json, wait, told):
    err = Terminal(terminal)
    monkeypatch.setattr("sys.stderr", err)
    monkeypatch.setattr(scene, "WAITS_FOR", wait)
    with refusals_told(as_json=as_json):
        begin = time.monotonic()
        while told and not err.getvalue() and time.monotonic() - begin < 20.0:
            time.sleep(0.01)
    assert ("still working" in err.getvalue()) == told
