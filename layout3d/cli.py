"""The command line: names the commands, and sees to it that no traceback reaches a user.

Each command stands in a file of its own in ``layout3d.commands``; nothing heavy is imported here, so that
``layout3d --help`` answers at once.
"""

from __future__ import annotations

import gc
import os
import signal
import sys
import traceback
from collections.abc import Callable, Mapping, Sequence
from functools import cache
from pathlib import Path
from types import TracebackType
from typing import Annotated, Any

import typer
import typer.core
import typer.main

from layout3d.commands.check import check
from layout3d.commands.ending import (
    DONE,
    EXIT_CODES,
    NOT_TOLD,
    OWN_FAULT,
    REFUSED,
    SIGNALLED,
    Ended,
    OutputLost,
    guarded,
)
from layout3d.commands.export import export
from layout3d.commands.flow import flow
from layout3d.commands.make import make
from layout3d.commands.new import new
from layout3d.commands.outage import outage
from layout3d.commands.picture import picture
from layout3d.commands.place import place
from layout3d.commands.report import report
from layout3d.commands.sequence import sequence
from layout3d.commands.sheet import sheet
from layout3d.commands.sweep import sweep
from layout3d.commands.tell import kinds, rules, schema
from layout3d.commands.view import view
from layout3d.commands.volume import volume

__all__ = ["app", "main"]

GARBAGE = 50_000  # things made and not let go of, after which circles of garbage are looked for


class _AsWritten:
    """Takes what stands on the command line as it is; for anything else the library loads a checker of data.

    That takes longer to load than all else that it does; a file's name, a text or a flag needs no checking.
    """

    types: Mapping[object, Callable[[Any], Any]] = {str: str, list[str]: list, Path: Path, bool: bool}

    def __init__(self, take: Callable[[Any], Any]) -> None:
        self._take = take

    def coerce(self, value: Any, *, param: Any, ctx: object) -> Any:
        """Return an option's value as its type; what wasn't given as the library does."""
        return (() if param.multiple else None) if value is None else self._take(value)


class _Quick:
    """A command whose options are taken as written where that will do."""

    def get_params(self, ctx: Any) -> list[Any]:
        """Return all options, that for help with them."""
        options: list[Any] = super().get_params(ctx)  # type: ignore[misc] # of the command it is mixed with
        for option in options:
            take = _AsWritten.types.get(getattr(getattr(option, "type_descriptor", None), "annotation", None))
            if take is not None and getattr(option, "_runtime_param", take) is None:
                option._runtime_param = _AsWritten(take)
        return options


class _Command(_Quick, typer.core.TyperCommand):
    pass


class _Group(_Quick, typer.core.TyperGroup):
    pass


app = typer.Typer(
    cls=_Group,
    name="layout3d",
    help="Lay out a drilled, planted display tank in one scene file, and compute whether it fits and flows.",
    epilog="Exit codes. " + ". ".join(f"{code}: {meaning}" for code, meaning in EXIT_CODES.items()) + ".",
    no_args_is_help=True,
    add_completion=False,
    rich_markup_mode=None,  # plain help: it starts in half the time, and reads the same in a pipe
    pretty_exceptions_enable=False,
    context_settings={"help_option_names": ["-h", "--help"]},
)
for command in (
    check,
    volume,
    flow,
    outage,
    place,
    sweep,
    picture,
    sequence,
    sheet,
    report,
    view,
    export,
    make,
    new,
    kinds,
    rules,
    schema,
):
    app.command(cls=_Command)(command)


def _tell_version(wanted: bool) -> None:
    if wanted:
        from importlib.metadata import version

        typer.echo(f"layout3d {version('layout3d')}")
        raise typer.Exit


@app.callback()
def _options(
    version: Annotated[
        bool, typer.Option("--version", callback=_tell_version, is_eager=True, help="Print the version.")
    ] = False,
) -> None:
    pass


def main(arguments: Sequence[str] | None = None) -> int:
    """Run one command and return its exit code, as ``commands.ending`` lists them.

    A fault of the program is told in one line; the traceback comes only with LAYOUT3D_TRACE=1.
    """
    # matrices are small here, and threads of the linear algebra wait for each other busily
    os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
    # thousands of small objects that live to the end: to look through them for what is in circles takes long
    gc.set_threshold(GARBAGE, 20, 20)
    try:
        with guarded():
            return _run(arguments)
    except Ended as end:
        return end.code
    except KeyboardInterrupt:
        return SIGNALLED + signal.SIGINT


@cache
def _command() -> typer.core.TyperGroup:
    """Read the commands' options once: who runs many commands in a process need not wait for it each time."""
    made = typer.main.get_command(app)
    assert isinstance(made, typer.core.TyperGroup), "many commands are a group (cli._command)"
    return made


def _run(arguments: Sequence[str] | None) -> int:
    try:
        try:
            _command()(args=None if arguments is None else list(arguments))
            code = DONE
        except SystemExit as done:
            code = done.code if isinstance(done.code, int) else DONE if done.code is None else REFUSED
        sys.stdout.flush()
        return code
    except OutputLost as lost:
        if lost.code == NOT_TOLD:
            sys.stderr.write(f"the standard output can't be written: {lost}\n")
        return lost.code
    except Exception as error:  # noqa: BLE001 - the last stop before the user
        if os.environ.get("LAYOUT3D_TRACE"):
            traceback.print_exc()
        reason = " ".join(str(error).split()) or "no reason given"
        sys.stderr.write(
            f"a fault of layout3d in {_function(error.__traceback__)}: {type(error).__name__}: {reason}; "
            "run with LAYOUT3D_TRACE=1 for the traceback\n"
        )
        return OWN_FAULT


def _function(trace: TracebackType | None) -> str:
    """Return the innermost function of ours that an error came through."""
    name = "cli.main"
    while trace is not None:
        frame = trace.tb_frame
        module = str(frame.f_globals.get("__name__", ""))
        if module.startswith("layout3d."):
            name = f"{module.removeprefix('layout3d.')}.{frame.f_code.co_qualname}"
        trace = trace.tb_next
    return name
