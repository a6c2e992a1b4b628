"""Answer an unchanged scene by what was told of it before, without building it.

What a command tells hangs on the scene's text, the files that it names, the options, and this program: an
answer is kept under the content of all of these. Nothing heavy is imported here.
"""

from __future__ import annotations

import os
import sys
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any, TypeVar

import typer

from layout3d.commands.ending import DONE
from layout3d.commands.scene import refusals_told
from layout3d.files import Noted, digest_of, note_again, noted, ordinary_content
from layout3d.keep import FIGURES, Form, code_of, file_away, key_of, recalled
from layout3d.plain import form_of
from layout3d.report.writing import Line, write

if TYPE_CHECKING:
    from layout3d.checks.base import Finding
    from layout3d.draw.pieces import Stage
    from layout3d.draw.scenery import Scenery
    from layout3d.model.model import Model

__all__ = ["KEEP", "LARGEST", "Answer", "Known", "end_with", "figures_of", "tell"]

KEEP = True
Value = TypeVar("Value")
LARGEST = 256 * 2**20  # a larger file is not read twice only to know whether it changed, [bytes]


@dataclass(frozen=True, slots=True)
class Answer:
    """What a command prints (a text as it is, or lines), and the exit code that it ends with."""

    code: int
    text: str = ""
    lines: tuple[Line, ...] = ()


def figures_of(
    code: int, facts: dict[str, Any] | None, lines: Iterable[Line], *, drawn: Iterable[Path] = ()
) -> Answer:
    """Return facts as JSON, or where there are none lines, with the files drawn under them."""
    if facts is not None:
        from layout3d.report.json import written

        return Answer(code, text=written(facts))
    return Answer(code, lines=(*lines, *(Line(f"drawn to {file}") for file in drawn)))


def end_with(answer: Answer) -> None:
    """Print an answer, and end with its exit code."""
    if answer.text:
        sys.stdout.write(answer.text)
    else:
        write(answer.lines, sys.stdout)
    if answer.code != DONE:
        raise typer.Exit(answer.code)


def tell(
    command: str,
    scene: Path,
    settings: list[str] | None,
    options: tuple[object, ...],
    make: Callable[[], Answer],
    *,
    as_json: bool,
    draws: bool = False,
) -> None:
    """Print a command's answer on a scene, and end with its exit code; what is refused is told.

    It is as it was told before where nothing changed, else made and kept.

    Parameters
    ----------
    command : its name
    settings, options : all that changes what it tells, beside ``as_json``
    draws : it writes files as well, so that it is made each time
    make : builds the scene and answers; reads files by ``files.read`` alone, and what it raises is not kept
    """
    with refusals_told(as_json=as_json):
        given = (tuple(settings or ()), *options, as_json)
        answer = make() if draws else _kept(command, scene, given, ANSWER, make)
    end_with(answer)


class Known:
    """A scene and what several commands tell of it: as it was before where nothing changed, else made.

    It is built at most once, where something asks for it. All raise as ``model_of`` does.
    """

    def __init__(self, scene: Path, settings: list[str] | None) -> None:
        self.scene, self.settings = scene, settings
        self._built: tuple[Model, Noted] | None = None

    def model(self) -> Model:
        """Return the scene, built."""
        from layout3d.commands.scene import model_of

        if self._built is None:
            with noted() as note:
                self._built = model_of(self.scene, self.settings), note
        else:
            note_again(self._built[1])  # what is made of it now hangs on these files as well
        return self._built[0]

    def findings(self) -> tuple[Finding, ...]:
        """Return what all rules find."""
        from layout3d.checks.base import Finding

        def make() -> tuple[Finding, ...]:
            from layout3d.checks.examine import examine

            return examine(self.model())

        form: Form[tuple[Finding, ...]]
        form = form_of("findings", Finding, size=lambda found: 1000 * len(found))
        return self._kept("findings", (), form, make)

    def net_volume(self) -> float:
        """Return how much water there is in the tank, [m³]."""

        def make() -> tuple[float]:
            from layout3d.water.figures import figures

            net = figures(self.model())["water_volume_net"]
            assert isinstance(net, float)
            return (net,)

        return self._kept("net volume", (), FIGURES, make)[0]

    def scenery(self) -> Scenery:
        """Return all that there is to draw of it, to be seen whole."""
        from layout3d.draw.scenery import SCENERY, scenery_of, seen_whole

        return self._kept("scenery", (), SCENERY, lambda: seen_whole(scenery_of(self.model())))

    def stage(self, hide: tuple[str, ...]) -> Stage:
        """Return it set up to be drawn, without what is hidden; raises as ``set_stage`` does too."""
        from layout3d.draw.pieces import STAGE

        def make() -> Stage:
            from layout3d.draw.stage import set_stage, stage_of

            scenery = None if hide else self.scenery()
            if scenery is None or scenery.scanned:
                return set_stage(self.model(), hide=hide)
            return stage_of(scenery)

        return self._kept("stage", hide, STAGE, make)

    def _kept(
        self, what: str, options: tuple[object, ...], form: Form[Any], make: Callable[[], Value]
    ) -> Value:
        return _kept(what, self.scene, (tuple(self.settings or ()), *options), form, make)


def _kept(
    what: str, scene: Path, options: tuple[object, ...], form: Form[Any], make: Callable[[], Value]
) -> Value:
    """Return what a scene and all files that it names lead to: as before where none changed, else made."""
    content = ordinary_content(scene, LARGEST) if KEEP else None
    if content is None:
        return make()  # and tells what is wrong with the file
    # the folder counts too, for files are found beside the scene, and the name as given, for it is printed
    key = key_of(what, code_of(), str(scene), str(scene.absolute()), content, options)
    before = recalled(key, NOTED)
    if before is not None:
        now = _now(before)
        found: Value | None = recalled(key_of("answer", key, now), form) if now is not None else None
        if found is not None:
            # what is made of it now hangs on these files as well
            note_again(Noted(before.contents | {str(scene): digest_of(content)}, before.links))
            return found
    with noted() as note:
        made = make()
    scene_read = note.contents.pop(str(scene), "")
    if scene_read == digest_of(content):  # else it was changed in between
        file_away(key, NOTED, note)
        file_away(key_of("answer", key, _told(note)), form, made)
    return made


def _told(note: Noted) -> tuple[tuple[tuple[str, str], ...], ...]:
    return tuple(sorted(note.contents.items())), tuple(sorted(note.links.items()))


def _now(before: Noted) -> tuple[tuple[tuple[str, str], ...], ...] | None:
    """Return the contents of the same files as they are now; None where one can't be had."""
    now = Noted()
    for name in before.contents:
        content = ordinary_content(Path(name), LARGEST)
        if content is None:
            return None
        now.contents[name] = digest_of(content)
    for name in before.links:
        now.links[name] = os.path.realpath(name)
    return _told(now)


NOTED: Form[Noted] = form_of("files read", Noted, size=lambda note: 200 * len(note.contents))
ANSWER: Form[Answer] = form_of("answer", Answer, Line, size=lambda answer: len(answer.text))
