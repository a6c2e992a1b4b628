"""What a process beside makes comes here once; what it fails at is made here."""

import multiprocessing
import os
import sys
import time

import pytest

from layout3d import beside, keep
from layout3d.beside import made_beside
from layout3d.keep import FIGURES, kept, key_of

HERE = float(os.getpid())


def who(name):
    """Return which process makes a result, or made it."""
    return kept(key_of("who makes it", name, HERE), FIGURES, lambda: (float(os.getpid()),))[0]


@pytest.fixture(autouse=True)
def copies(monkeypatch):
    if not hasattr(os, "fork"):
        pytest.skip("no process can be copied here")
    monkeypatch.setattr(beside, "_can_copy", lambda: True)


def test_what_is_asked_for_meanwhile_comes_from_the_process_beside():
    def steps():
        yield who("first")
        yield who("second")

    with made_beside((FIGURES,), steps):
        made = who("second"), who("first"), who("never made there")
    assert made[0] == made[1] != HERE
    assert made[2] == HERE
    assert who("first") == made[0]  # kept as if it had been made here
    assert FIGURES.name not in keep.ahead


def test_what_comes_after_an_error_beside_is_made_here():
    def steps():
        yield who("before the error")
        raise ValueError("told by nobody: whoever asks meets it")
        yield who("after it")

    with made_beside((FIGURES,), steps):
        assert who("before the error") != HERE
        assert who("after it") == HERE


def test_nobody_waits_for_a_process_that_is_not_needed_any_more():
    def steps():
        yield who("made in time")
        time.sleep(3600)

    def interrupted():
        with made_beside((FIGURES,), steps):
            assert who("made in time") != HERE
            raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        interrupted()


def test_a_process_that_sends_nothing_more_is_given_up(monkeypatch):
    monkeypatch.setattr(beside, "STUCK", 0.05)

    def steps():
        time.sleep(3600)
        yield

    with made_beside((FIGURES,), steps):
        assert who("while it is stuck") == HERE
        assert who("and from then on") == HERE


def test_its_end_is_seen_once_and_for_all(monkeypatch):
    """Whoever waits when it ends waits no second time, which nothing would end but the patience."""
    monkeypatch.setattr(beside, "STUCK", 0.5)
    ours, theirs = multiprocessing.Pipe(duplex=False)
    made, waits = beside._Made(ours), []
    wait = made._more.wait

    def ends_meanwhile(limit):
        waits.append(limit)
        theirs.close()
        return wait(limit)

    monkeypatch.setattr(made._more, "wait", ends_meanwhile)
    assert made.wait_for(FIGURES, b"never made") is None
    assert waits == [0.5]
    made.close()


@pytest.mark.parametrize("reason", ["one core", "a screen"])
def test_where_a_copy_is_unsound_all_is_made_here(monkeypatch, reason):
    monkeypatch.undo()
    if reason == "one core":
        monkeypatch.setattr(os, "sched_getaffinity", lambda _: {0})
    else:
        monkeypatch.setitem(sys.modules, "pyvista", keep)
    with made_beside((FIGURES,), lambda: iter([who(reason)])):
        assert who(f"{reason}, here") == HERE
