"""Independent evaluations on all cores or a cluster; told as they come, kept where somebody stops them."""

from __future__ import annotations

import contextlib
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from typing import Any, TypeVar

from layout3d.errors import LayoutError

__all__ = ["Engine", "each"]

Task = TypeVar("Task")
Result = TypeVar("Result")


@dataclass(frozen=True, slots=True, kw_only=True)
class Engine:
    """Where evaluations run: ``jobs`` processes (-1: all cores), or the dask scheduler at an address."""

    jobs: int = -1
    cluster: str = ""


def each(
    work: Callable[[Task], Result],
    tasks: Sequence[Task],
    *,
    engine: Engine,
    done: Callable[[int, int], None] = lambda count, of: None,
) -> list[Result | None]:
    """Return what ``work`` gives for each task, in their order, wherever and in whichever order they ran.

    Parameters
    ----------
    work : a function at the top of a module, or a partial of one, for it is sent to other processes
    done : is told how many are done, of how many

    Returns
    -------
    Results; None for those that were not reached when Ctrl-C came.

    Raises
    ------
    LayoutError : no cluster answers at the address. What ``work`` raises.
    """
    results: list[Result | None] = [None] * len(tasks)
    done(0, len(tasks))
    with contextlib.suppress(KeyboardInterrupt):
        for count, (number, result) in enumerate(_run(work, tasks, engine), start=1):
            results[number] = result
            done(count, len(tasks))
    return results


def _run(
    work: Callable[[Task], Result], tasks: Sequence[Task], engine: Engine
) -> Iterator[tuple[int, Result]]:
    if not engine.cluster and (engine.jobs == 1 or len(tasks) < 2):
        yield from ((number, work(task)) for number, task in enumerate(tasks))
        return
    import joblib

    with _where(engine):
        parallel = joblib.Parallel(return_as="generator_unordered")
        yield from parallel(joblib.delayed(_numbered)(work, n, task) for n, task in enumerate(tasks))


def _numbered(work: Callable[[Task], Result], number: int, task: Task) -> tuple[int, Result]:
    return number, work(task)


@contextlib.contextmanager
def _where(engine: Engine) -> Iterator[None]:
    import joblib

    if not engine.cluster:
        with joblib.parallel_config("loky", n_jobs=engine.jobs, inner_max_num_threads=1):
            yield
        return
    try:
        import dask.distributed

        scheduler: Any = dask.distributed
        client = scheduler.Client(engine.cluster, timeout=10)
    except (ImportError, OSError, ValueError) as error:
        raise LayoutError(
            f"no cluster answers at {engine.cluster}: {error}",
            expected="the address of a dask scheduler, such as tcp://127.0.0.1:8786",
            remedy="start one, or leave --cluster out: all cores of this machine are used then",
        ) from error
    with client, joblib.parallel_config("dask", n_jobs=-1):
        yield
