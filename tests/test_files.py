"""Files and folders are written whole or not at all, through links, and nothing else is touched."""

import os
import stat
from pathlib import Path

import pytest

from layout3d.errors import LayoutError
from layout3d.files import folder_made, folder_written, is_folder, written


def half(file, fault=ZeroDivisionError):
    file.write_text("half")
    raise fault


def test_a_file_is_there_whole_with_the_usual_rights_and_nothing_beside_it(tmp_path):
    to = tmp_path / "a.txt"
    with written(to) as partial:
        assert partial.suffix == ".txt"
        assert not to.exists()
        partial.write_text("whole")
    assert to.read_text() == "whole"
    (tmp_path / "usual").touch()
    assert to.stat().st_mode == (tmp_path / "usual").stat().st_mode
    assert len(list(tmp_path.iterdir())) == 2


def test_a_file_that_is_replaced_keeps_its_rights(tmp_path):
    to = tmp_path / "a.txt"
    to.write_text("old")
    to.chmod(0o640)
    with written(to) as partial:
        partial.write_text("new")
    assert (to.read_text(), stat.S_IMODE(to.stat().st_mode)) == ("new", 0o640)


def test_a_file_that_is_read_only_is_left_alone(tmp_path):
    to = tmp_path / "a.txt"
    to.write_text("old")
    to.chmod(0o444)
    with pytest.raises(LayoutError, match="read-only"), written(to) as partial:
        partial.write_text("new")
    assert to.read_text() == "old"


@pytest.mark.parametrize("fault", [KeyboardInterrupt, SystemExit, ZeroDivisionError])
def test_what_breaks_off_leaves_the_old_file_and_nothing_else(tmp_path, fault):
    to = tmp_path / "a.txt"
    to.write_text("old")
    with pytest.raises(fault), written(to) as partial:
        half(partial, fault)
    assert [path.name for path in tmp_path.iterdir()] == ["a.txt"]
    assert to.read_text() == "old"


def test_a_link_is_written_through(tmp_path):
    (tmp_path / "real").mkdir()
    real, link = tmp_path / "real" / "a.txt", tmp_path / "link.txt"
    link.symlink_to("real/a.txt")
    with written(link) as partial:  # one that leads nowhere yet
        partial.write_text("new")
    assert link.is_symlink()
    assert real.read_text() == "new"
    folder = tmp_path / "folder"
    folder.symlink_to("real2")
    with folder_written(folder, clear=lambda _: None) as partial:
        (partial / "b").write_text("new")
    assert folder.is_symlink()
    assert (tmp_path / "real2" / "b").read_text() == "new"


def test_what_is_no_file_is_refused_and_left(tmp_path):
    loop, pipe, folder = tmp_path / "loop", tmp_path / "pipe", tmp_path / "folder"
    loop.symlink_to("loop")
    os.mkfifo(pipe)
    folder.mkdir()
    for to, told in ((loop, "symbolic"), (pipe, "not an ordinary"), (folder, "is a folder")):
        with pytest.raises(LayoutError, match=told), written(to):
            raise AssertionError("nothing may be begun")
    for to, told in ((tmp_path / ("a" * 300), "too long"), (tmp_path / "a\0b", "null")):
        assert not is_folder(to)
        with pytest.raises(LayoutError, match=told), written(to):
            raise AssertionError("nothing may be begun")
    assert len(list(tmp_path.iterdir())) == 3


@pytest.mark.parametrize("links", [True, False])
def test_what_is_there_is_not_replaced_unless_asked(tmp_path, monkeypatch, links):
    """On a file system without hard links too; a link that leads nowhere is something that is there."""
    if not links:
        monkeypatch.setattr(os, "link", lambda *_: (_ for _ in ()).throw(PermissionError(1, "none here")))
    to = tmp_path / "a.txt"
    with written(to, replace=False) as partial:
        partial.write_text("mine")
    (tmp_path / "nowhere").symlink_to("none")
    for there in (to, tmp_path / "nowhere"):
        with pytest.raises(LayoutError, match="such a file already"), written(there, replace=False):
            raise AssertionError("nothing may be begun")
    late = tmp_path / "late.txt"
    with pytest.raises(LayoutError, match="such a file already"), written(late, replace=False) as partial:
        late.write_text("another's")  # it came while this was written
    assert (to.read_text(), late.read_text()) == ("mine", "another's")
    assert len(list(tmp_path.iterdir())) == 3


def test_a_full_disk_leaves_nothing(tmp_path):
    """The kernel's own answer to a file past the allowed size, in a process of its own."""
    pid = os.fork()
    if not pid:
        import resource
        import signal

        code = 1
        signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
        resource.setrlimit(resource.RLIMIT_FSIZE, (1000, 1000))
        try:
            with written(tmp_path / "a.txt") as partial:
                partial.write_bytes(b"x" * 5000)
        except LayoutError as error:
            code = 0 if "can't be written: File too large" in str(error) else 2
        finally:
            os._exit(code)
    assert os.waitstatus_to_exitcode(os.waitpid(pid, 0)[1]) == 0
    assert list(tmp_path.iterdir()) == []


def test_folders_made_for_nothing_are_taken_out_again(tmp_path):
    with pytest.raises(ZeroDivisionError), folder_made(tmp_path / "a" / "b"):
        raise ZeroDivisionError
    assert list(tmp_path.iterdir()) == []
    with pytest.raises(ZeroDivisionError), folder_made(tmp_path / "a" / "b"):
        half(tmp_path / "a" / "mine")
    assert sorted(path.name for path in tmp_path.rglob("*")) == ["a", "mine"]


def test_a_folder_is_replaced_whole_and_only_what_may_go_is_deleted(tmp_path):
    to = tmp_path / "out"
    to.mkdir(mode=0o750)
    (to / "old").touch()
    with pytest.raises(ZeroDivisionError), folder_written(to, clear=lambda _: None) as partial:
        half(partial / "half")
    assert [path.name for path in tmp_path.rglob("*")] == ["out", "old"]
    with folder_written(to, clear=lambda aside: (aside / "old").unlink()) as partial:
        (partial / "new").touch()
    assert [path.name for path in tmp_path.rglob("*")] == ["out", "new"]
    assert stat.S_IMODE(to.stat().st_mode) == 0o750
    (to / "mine").write_text("mine")
    told = r"they are kept in (.*)"
    with pytest.raises(LayoutError, match=told) as kept, folder_written(to, clear=lambda _: None):
        pass
    assert (Path(kept.value.remedy.removeprefix("they are kept in ")) / "mine").read_text() == "mine"
