"""What all tests have in common; small scenes with plumbing (``small_scenes``), for those that ask for them.

Nothing heavy is imported before a test asks for it: the process that hands the tests out runs none.
"""

import atexit
import gc
import os
import sys
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest

WORKER = "PYTEST_XDIST_WORKER" in os.environ
if WORKER:
    atexit.register(os._exit, 0)  # after all else: to clear away thousands of tests one by one takes seconds
OURS = Path(__file__).parent.parent / ".pytest_cache"
gc.disable()  # nothing that is collected is rubbish
# shapes are kept for the other workers and the next run, and apart from the user's own
os.environ.setdefault("LAYOUT3D_CACHE", str(OURS / "shapes"))
# what modules compile to is kept beside them, also by commands that run in processes of their own
sys.dont_write_bytecode = False
os.environ.pop("PYTHONDONTWRITEBYTECODE", None)


def runs_tests(config: pytest.Config) -> bool:
    """Whether this process runs tests, and doesn't only hand them out to others."""
    return not config.getoption("numprocesses", None)


@pytest.hookimpl(tryfirst=True)
def pytest_configure(config: pytest.Config) -> None:
    """Set how many examples are tried; an example's time says nothing of its truth.

    For more of them: ``pytest --hypothesis-profile thorough``.
    """
    if runs_tests(config):
        from hypothesis import settings

        settings.register_profile("busy machine", deadline=None, max_examples=20)
        settings.register_profile("thorough", deadline=None, max_examples=1000)
        settings.load_profile("busy machine")


SHIPPED = ("film/test_kinds", "page/", "sheets/", "shop/test_order", "shop/test_parts", "water/test_figures")


@pytest.hookimpl(optionalhook=True)
def pytest_xdist_make_scheduler(config: pytest.Config, log: Any) -> object:
    """Hand out file by file, and those that look at scenes which ship together: each is built once."""
    from xdist.scheduler import LoadFileScheduling

    class Scheduling(LoadFileScheduling):
        def _split_scope(self, nodeid: str) -> str:
            file = str(super()._split_scope(nodeid))
            return "shipped" if file.removeprefix("tests/").startswith(SHIPPED) else file

    return Scheduling(config, log)


@pytest.fixture(autouse=True, scope="session")
def computed() -> Iterator[None]:
    """Let tests see what is computed, not what was told of a scene before; ``test_cli_answer`` does.

    And the room to swim measured on a coarse grid in each check; ``tests/swim`` holds the fine one. What is
    drawn is lighted on a coarse grid.
    """
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr("layout3d.commands.answer.KEEP", False)
        patch.setattr("layout3d.swim.room.CELLS", 20_000)
        patch.setattr("layout3d.draw.stage.GRID", 80)
        patch.setattr("layout3d.draw.ground.GRID", 80)
        yield


@pytest.fixture
def memory_alone(monkeypatch: pytest.MonkeyPatch) -> Iterator[None]:
    """Keep results in memory alone, from none on, and leave none there."""
    from layout3d.keep import forget

    monkeypatch.setenv("LAYOUT3D_CACHE", "off")
    forget()
    yield
    forget()


@pytest.hookimpl(trylast=True)
def pytest_collection_finish() -> None:
    """Look less often for rubbish: thousands of tests lie in memory, and none of them is any."""
    gc.enable()
    gc.freeze()
    gc.set_threshold(5_000, 20, 50)


def pytest_sessionfinish() -> None:
    """Let all be cleared away in its order, where this is not a worker, which ends at once."""
    if not WORKER:
        gc.unfreeze()


@pytest.hookimpl(tryfirst=True)
def pytest_runtest_protocol(item: pytest.Item, nextitem: pytest.Item | None) -> bool | None:
    """Tell the process that hands the tests out what came of each, not how each step of it went.

    Thousands of messages fewer; what went wrong before a test or after it is told as ever.
    """
    if not WORKER:
        return None
    from _pytest.runner import runtestprotocol

    for report in runtestprotocol(item, log=False, nextitem=nextitem):
        if report.when == "call" or not report.passed:
            item.ihook.pytest_runtest_logreport(report=report)
    item.ihook.pytest_runtest_logfinish(nodeid=item.nodeid, location=item.location)
    return True


@pytest.hookimpl(trylast=True)
def pytest_sessionstart() -> None:
    """Keep each process to a core where there is one for each, as ``scripts/test`` tells linear algebra to.

    Threads of the booleans would only be in the way of the other processes, and cost a tenth more.
    """
    if not WORKER or not hasattr(os, "sched_setaffinity"):
        return
    number, cores = int(os.environ["PYTEST_XDIST_WORKER"].removeprefix("gw")), sorted(os.sched_getaffinity(0))
    if int(os.environ["PYTEST_XDIST_WORKER_COUNT"]) == len(cores):
        os.sched_setaffinity(0, {cores[number]})


@pytest.fixture(scope="session")
def scene() -> Callable[..., object]:
    """Build a model from parts."""
    from small_scenes import build

    return build


@pytest.fixture(scope="session")
def bar_scene() -> Callable[..., object]:
    """Build a model with a drip bar and a nozzle."""
    from small_scenes import with_bar

    return with_bar


@pytest.fixture(scope="session")
def sump_scene() -> Callable[..., object]:
    """Build a tank over a sump, with an overflow and a return."""
    from small_scenes import with_sump

    return with_sump


@pytest.fixture(scope="session")
def solve_bar() -> Callable[..., object]:
    """Solve one drilled pipe by itself."""
    from small_scenes import bar_alone

    return bar_alone
