import sqlite3
import subprocess
import sys

import pytest

from layout3d.solid import pairs
from layout3d.solid.pairs import PairCache
from layout3d.solid.primitives import box
from layout3d.solid.shape import Placement

A, B = box((1, 1, 1)), box((1, 2, 3))
HERE = Placement.identity()


@pytest.fixture
def file(tmp_path, monkeypatch):
    monkeypatch.setenv("LAYOUT3D_CACHE", str(tmp_path / "cache"))
    return tmp_path / "cache" / pairs.FILE_NAME


def ask(cache, place=0.0, figures=(1.0, 2.5), what="gap", a=A, b=B):
    return cache.of(what, a, b, Placement.at((place, 0, 0)), lambda: figures)


def test_a_pair_is_measured_once(file):
    cache = PairCache()
    assert ask(cache) == (1.0, 2.5)
    assert ask(cache, figures=(9.0,)) == (1.0, 2.5)
    assert ask(cache, place=1e-12, figures=(9.0,)) == (1.0, 2.5)  # rounding of a long way round
    assert ask(cache, place=1e-6, figures=(3.0,)) == (3.0,)
    assert ask(cache, what="overlap", figures=()) == ()
    assert ask(cache, a=B, b=A, figures=(4.0,)) == (4.0,)
    assert (cache.hits, cache.misses, len(cache)) == (2, 4, 4)
    assert not file.exists()


def test_the_oldest_are_forgotten():
    cache = PairCache(size=2)
    for place in (0.0, 1.0, 0.0, 2.0):
        ask(cache, place)
    assert len(cache) == 2
    assert ask(cache, 0.0, (9.0,)) == (1.0, 2.5)
    assert ask(cache, 1.0, (9.0,)) == (9.0,)


def test_the_next_run_finds_it(file):
    first = PairCache(filed=True)
    ask(first)
    ask(first, what="overlap", figures=())
    first.save()
    second = PairCache(filed=True)
    assert ask(second, figures=(9.0,)) == (1.0, 2.5)
    assert ask(second, what="overlap", figures=(9.0,)) == ()
    assert (second.hits, second.misses) == (2, 0)
    first.close()
    second.close()


def test_another_process_saves_when_it_ends(file, tmp_path):
    script = (
        "from layout3d.solid.distance import gap, pair_cache\n"
        "from layout3d.solid.primitives import box\nfrom layout3d.solid.shape import Placement\n"
        "a = box((1, 1, 1)).solid()\n"
        "print(gap(a, a.moved(Placement.at((1.5, 0, 0)))).distance, pair_cache.hits)\n"
    )
    command = [sys.executable, "-c", script]
    outputs = [subprocess.run(command, capture_output=True, text=True, check=True) for _ in range(2)]
    assert [run.stdout.split() for run in outputs] == [["0.5", "0"], ["0.5", "1"]]
    assert [run.stderr for run in outputs] == ["", ""]


@pytest.mark.parametrize("damage", ["garbage", "empty", "cut", "other table", "changed figure", "folder"])
def test_a_damaged_file_only_costs_time(file, damage):
    first = PairCache(filed=True)
    ask(first)
    first.save()
    first.close()
    if damage == "garbage":
        file.write_bytes(b"garbage " * 1000)
    elif damage == "empty":
        file.write_bytes(b"")
    elif damage == "cut":
        file.write_bytes(file.read_bytes()[:5000])
    elif damage == "folder":
        file.unlink()
        file.mkdir()
    else:
        connection = sqlite3.connect(file)
        with connection:
            if damage == "other table":
                connection.execute("DROP TABLE pairs")
            else:
                connection.execute("UPDATE pairs SET figures = zeroblob(20)")
        connection.close()
    second = PairCache(filed=True)
    assert ask(second, figures=(7.0,)) == (7.0,)
    second.save()
    second.close()
    if damage != "folder":
        third = PairCache(filed=True)
        ask(third, figures=(7.0,))
        third.save()
        third.close()
        fourth = PairCache(filed=True)
        assert ask(fourth, figures=(9.0,)) == (7.0,)
        fourth.close()


def test_off_and_folders_that_can_not_be_made(file, tmp_path, monkeypatch):
    for wish in ("off", str(tmp_path / "text" / "cache")):
        (tmp_path / "text").write_text("in the way")
        monkeypatch.setenv("LAYOUT3D_CACHE", wish)
        cache = PairCache(filed=True)
        assert ask(cache) == (1.0, 2.5)
        cache.save()
    assert not file.exists()


def test_the_file_is_bounded(file, monkeypatch):
    monkeypatch.setattr(pairs, "FILED_PAIRS", 3)
    cache = PairCache(filed=True)
    for place in range(8):
        ask(cache, float(place))
        cache.save()
    cache.close()
    connection = sqlite3.connect(file)
    assert connection.execute("SELECT count(*) FROM pairs").fetchone() == (3,)
    connection.close()


def test_figures_of_another_kernel_are_not_used(file, monkeypatch):
    first = PairCache(filed=True)
    ask(first)
    first.save()
    first.close()
    monkeypatch.setattr(pairs, "ground", lambda module: "another")
    second = PairCache(filed=True)
    assert ask(second, figures=(9.0,)) == (9.0,)
    second.clear()
    second.close()


def test_a_run_that_finds_the_file_locked_does_without(file, monkeypatch):
    monkeypatch.setattr(pairs, "BUSY_FOR", 0.01)
    first = PairCache(filed=True)
    ask(first)
    first.save()
    first.close()
    other = sqlite3.connect(file, isolation_level=None)
    other.execute("BEGIN EXCLUSIVE")
    second = PairCache(filed=True)
    assert ask(second, figures=(9.0,)) == (9.0,)
    second.save()
    second.close()
    other.execute("ROLLBACK")
    other.close()
    third = PairCache(filed=True)
    assert ask(third, figures=(8.0,)) == (1.0, 2.5)
    third.close()
