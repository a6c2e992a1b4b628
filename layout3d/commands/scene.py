"""What the commands share: the scene's argument and options, and how its mistakes are told."""

from __future__ import annotations

import sys
import threading
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from layout3d.commands.ending import REFUSED

if TYPE_CHECKING:
    from layout3d.model.model import Model
    from layout3d.scene.scene import Scene

__all__ = [
    "AsJson",
    "NoFaults",
    "SceneFile",
    "Settings",
    "model_of",
    "option",
    "overrides_of",
    "progress",
    "quantity_of",
    "refusals_told",
    "refuse_file",
    "scene_of",
]


def option(flag: str, does: str) -> Any:
    """Return an option, by its name and what stands for its value: ``--bar RUN``, ``--json`` for none."""
    name, _, value = flag.partition(" ")
    return typer.Option(name, metavar=value or None, help=does)


SceneFile = Annotated[Path, typer.Argument(help="The scene file.", show_default=False)]
Settings = Annotated[
    list[str] | None,
    option(
        "--set NAME=VALUE",
        "Set a named value of the scene, or a field by its path; may be given more than once.",
    ),
]
NoFaults = Annotated[bool, option("--no-faults", "Don't check, and mark no findings.")]
WAITS_FOR = 2.0  # before a word is said that work goes on, [s]

AsJson = Annotated[bool, option("--json", "Print one JSON object, in SI units.")]


def model_of(file: Path, settings: list[str] | None) -> Model:
    """Read a scene and build it, from the model of its last check where there is one.

    Raises
    ------
    LayoutError : with every mistake of the file, or a setting that is not ``name=value``.
    """
    from layout3d.model.build import build_model
    from layout3d.water.last_model import last_model

    scene = scene_of(file, settings)
    return build_model(scene, last=last_model(file))


def scene_of(file: Path, settings: list[str] | None) -> Scene:
    """Read a scene, with settings over its values; raises as ``model_of`` does."""
    from layout3d.scene.reader import read_scene

    return read_scene(file, overrides=overrides_of(settings))


def quantity_of(text: str, scene: Scene, kind: str, option: str) -> float:
    """Read an option's figure, SI; a bare length counts in the scene's own units.

    Raises
    ------
    LayoutError : no quantity of this kind stands there.
    """
    from layout3d.errors import LayoutError, UnknownName
    from layout3d.scene.arithmetic import Quantity, as_kind, evaluate
    from layout3d.units import KINDS

    def refuse(name: str) -> Quantity:
        example = "10 mm or 1/2 in" if kind == "length" else KINDS[kind].example
        raise UnknownName(f"the name {name!r}", expected=f"a figure such as {example}")

    bare_length = 0.0254 if scene.units == "in" else 0.001
    try:
        return as_kind(evaluate(text, lookup=refuse, bare_length=bare_length), kind, bare_length=bare_length)
    except LayoutError as error:
        error.path = f"{option}{text}" if option.endswith("=") else f"{option} {text}"
        raise


def refuse_file(to: Path, option: str, *, expected: str) -> None:
    """Refuse a path that reads as a file where a folder is to be made, if no folder is there already.

    Raises
    ------
    LayoutError : it ends in the suffix of a file.
    """
    from layout3d.errors import LayoutError, Place
    from layout3d.files import is_folder

    if to.suffix[1:2].isalpha() and not is_folder(to):
        raise LayoutError(
            f"{option} ends in {to.suffix!r}, as a file does", expected=expected, place=Place(str(to))
        )


def overrides_of(settings: list[str] | None) -> dict[str, str]:
    """Return the values that --set gives, as text by name.

    Raises
    ------
    LayoutError : one of them is not ``name=value``.
    """
    from layout3d.errors import LayoutError

    overrides = {}
    for setting in settings or []:
        name, sign, value = setting.partition("=")
        if not sign or not name.strip() or not value.strip():
            raise LayoutError(f"--set {setting}", expected="name=value, such as --set depth=600mm")
        overrides[name.strip()] = value.strip()
    return overrides


@contextmanager
def _waiting_told(wanted: bool) -> Iterator[None]:
    timer = threading.Timer(
        WAITS_FOR, lambda: sys.stderr.write("still working; many or fine parts take time\n")
    )
    timer.daemon = True
    if wanted:
        timer.start()
    try:
        yield
    finally:
        timer.cancel()


@contextmanager
def refusals_told(*, as_json: bool = False) -> Iterator[None]:
    """Tell an error that the user can mend (text to stderr, or JSON to stdout) and end with exit code 2.

    Who waits at a terminal is told after a while that work goes on.
    """
    from layout3d.errors import LayoutError

    try:
        with _waiting_told(not as_json and sys.stderr.isatty()):
            yield
    except LayoutError as error:
        if as_json:
            from layout3d.report.json import errors_json, written

            sys.stdout.write(written(errors_json(error)))
        else:
            from layout3d.report.text import error_lines
            from layout3d.report.writing import write

            write(error_lines(error), sys.stderr)
        raise typer.Exit(REFUSED) from None


@contextmanager
def progress(what: str, *, quiet: bool = False) -> Iterator[Callable[[int, int], None]]:
    """Show how far it is, and what time is left, to somebody who waits at a terminal."""
    if quiet or not sys.stderr.isatty():
        yield lambda count, of: None
        return
    from rich.console import Console
    from rich.progress import BarColumn, MofNCompleteColumn, Progress, TextColumn, TimeRemainingColumn

    columns = (BarColumn(), MofNCompleteColumn(), TextColumn(f"{what}, left"), TimeRemainingColumn())
    with Progress(*columns, console=Console(stderr=True), transient=True) as bar:
        task = bar.add_task(what, total=None)
        yield lambda count, of: bar.update(task, completed=count, total=of)
