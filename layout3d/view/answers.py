"""What the window asks of a scene's text, answered by a process of its own: looks, findings, figures.

The window never waits for any of it. Of questions that wait only the last of each sort is answered. Nothing
here draws on a screen or knows of the window.
"""

from __future__ import annotations

import contextlib
import gc
import signal
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

from layout3d.checks.base import Finding
from layout3d.checks.examine import examine
from layout3d.errors import LayoutError, SceneRefused
from layout3d.files import Noted, noted
from layout3d.keep import write_waiting
from layout3d.live import Mover
from layout3d.model.build import build_model
from layout3d.model.model import Model
from layout3d.model.way import way_to
from layout3d.parts.base import PlacedPart, Vector, vector
from layout3d.report.cautions import FLOW, OUTAGE, cautions_of
from layout3d.report.rules import known_rules
from layout3d.scene.reader import read_scene
from layout3d.solid.distance import gap
from layout3d.solid.placement import Placement
from layout3d.units import show, shown_in
from layout3d.view.edits import there
from layout3d.view.levels import Stand, stands_of, table_of
from layout3d.view.looks import Looks, Thing, get_ready, looks_of, shortened, things_of
from layout3d.view.shot import Shoot, Shot, take_shot
from layout3d.view.taking_out import Left, Without, left_without
from layout3d.wanted import NotWanted, wanted_unless
from layout3d.water.figures import figures
from layout3d.water.level_table import LevelTable

if TYPE_CHECKING:
    from multiprocessing.connection import Connection

    from layout3d.draw.cut import Cut

__all__ = [
    "FIT",
    "JUDGED_FIRST",
    "LOOKS_FIRST",
    "Ahead",
    "Answer",
    "At",
    "Bench",
    "Dress",
    "Felt",
    "Files",
    "Fit",
    "Judged",
    "Levels",
    "Mistake",
    "Mistakes",
    "Placed",
    "Row",
    "Text",
    "Trouble",
    "serve",
]

FIT = ("overlap", "clearance", "outside", "keep-clear")
"""The rules that are asked first: what a part that is moved is looked at for."""
LOOKS_FIRST = "looks", "judged"
JUDGED_FIRST = "judged", "looks"
MOST_WAITING = 64 * 2**20  # of results that are still to be filed, in between, [bytes]
CALM = 0.25  # for the next change to come, before looks are begun that it would make past, [s]


@dataclass(frozen=True, slots=True)
class Text:
    """Question: the scene as ``text``. ``wants`` are 'looks' and 'judged', in the order they are wanted.

    Looks don't come first where things moved alone, which ``Placed`` tells.

    ``colour`` is what its looks are coloured by, one of ``COLOURS``, and ``over`` what their key spans too.
    """

    version: int
    text: str
    wants: tuple[str, ...] = LOOKS_FIRST
    colour: str = ""
    over: tuple[float, float] | None = None


@dataclass(frozen=True, slots=True)
class Ahead:
    """Question: judge ``text`` ahead, for it may be shown next, so that it is told at once then; '' for none.

    Nothing is told of it, and its mistakes are for when it is shown.
    """

    text: str


@dataclass(frozen=True, slots=True)
class Ready:
    """Question that is asked while nobody asks any other: get ready for the first change."""


@dataclass(frozen=True, slots=True)
class At:
    """Question: how does ``part`` go, with its ``at`` farther by ``by``, [m], and what would it touch there.

    ``along`` are the parts that go with it.
    """

    part: str
    by: Vector
    along: frozenset[str] = frozenset()


@dataclass(frozen=True, slots=True)
class Dress:
    """Question: the last text's looks in another colour, and cut open; ``view`` tells from which side.

    ``over`` are figures that the key of the colours spans as well.
    """

    colour: str = ""
    cut: Cut | None = None
    view: str = "three_quarter"
    over: tuple[float, float] | None = None


@dataclass(frozen=True, slots=True)
class Between:
    """Question: how near two parts of the last text come to each other."""

    one: str
    other: str


@dataclass(frozen=True, slots=True)
class Mistake:
    """One mistake of the text: where (line 0: unknown), and the whole message."""

    line: int
    message: str


@dataclass(frozen=True, slots=True)
class Mistakes:
    """Answer: the text can't be read or built."""

    version: int
    mistakes: tuple[Mistake, ...]


@dataclass(frozen=True, slots=True)
class Trouble:
    """Answer: what else was asked of a text can't be had, and why; what is told of it stays."""

    version: int
    told: str


@dataclass(frozen=True, slots=True)
class Files:
    """Answer: other files that the text names: what they hold is a part of the scene."""

    version: int
    paths: tuple[Path, ...]


@dataclass(frozen=True, slots=True)
class Row:
    """A key figure: its name, the value in SI or None where there is none, and the words shown."""

    name: str
    value: float | None
    kind: str
    shown: str


@dataclass(frozen=True, slots=True)
class Placed:
    """Answer: where the bodies stand in a text, known before it is judged and drawn."""

    version: int
    things: tuple[Thing, ...]


@dataclass(frozen=True, slots=True)
class Fit:
    """Answer: what the rules in ``FIT`` find, known before the others are asked: a part of it all."""

    version: int
    findings: tuple[Finding, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Judged:
    """Answer: what ``check`` says of the text, with the cautions that stand under its report."""

    version: int
    findings: tuple[Finding, ...]
    figures: dict[str, Any]
    rows: tuple[Row, ...]
    cautions: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Levels:
    """Answer: the tank's water by level, if there is any to be had; where it stands after failures."""

    version: int
    table: LevelTable | None
    stands: tuple[Stand, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Felt:
    """Answer: the bodies that a moved part would meet, clearances it comes short of, whether it is inside.

    ``move`` is how it goes there from where it stands, on the ground or on its face; where it can't stand
    there ``trouble`` tells why, and nothing else is told.
    """

    part: str
    by: Vector
    move: Placement
    meets: tuple[tuple[str, str], ...] = ()
    short: tuple[str, ...] = ()
    inside: bool = True
    trouble: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Near:
    """Answer: the nearest distance of two parts, [m], where it is, and the same in the scene's units."""

    version: int
    parts: tuple[str, str]
    distance: float
    ends: tuple[Vector, Vector]
    shown: str


Answer = Mistakes | Trouble | Files | Placed | Looks | Fit | Judged | Levels | Felt | Near | Shot | Left


Question = Text | Ahead | Ready | At | Dress | Between | Shoot | Without


class Bench:
    """One scene file's text, built and asked again and again; what a change doesn't touch is kept."""

    def __init__(self, path: Path) -> None:
        self._path = path
        self._model: Model | None = None
        self._last: Model | None = None  # built last, told of or ahead
        self.version = self._drawn = 0
        self._drawn_as: object = None
        self._mover: tuple[str, frozenset[str], Mover] | None = None
        self._files: tuple[Path, ...] = ()

    def answers(self, question: Question) -> Iterator[Answer]:
        """Yield what there is to be told, each as it is computed; the rest isn't, once nobody asks on."""
        if isinstance(question, Text):
            with noted() as note:
                for answer in self._read(question):
                    yield from self._other_files(note, question.version)
                    yield answer
                yield from self._other_files(note, question.version)
        elif isinstance(question, Ahead):
            with contextlib.suppress(LayoutError):
                self._judge_ahead(question.text)
        elif self._model is None:
            return
        elif isinstance(question, Ready):
            with contextlib.suppress(LayoutError):  # told of the text already
                get_ready(self._model)
        else:
            try:
                yield self._answer(self._model, question)
            except LayoutError as error:
                yield Trouble(self.version, str(error))

    def _answer(self, model: Model, question: At | Dress | Between | Shoot | Without) -> Answer:
        if isinstance(question, At):
            return self._feel(model, question)
        if isinstance(question, Shoot):
            take_shot(model, question)
            return Shot(self.version, question.to)
        if isinstance(question, Without):
            if question.version != self.version:
                raise LayoutError("the scene has mistakes", remedy="mend these first")
            return left_without(self._path, question, model)
        if isinstance(question, Between):
            return near(model, question.one, question.other, self.version)
        return self._looks(model, question)

    def _other_files(self, note: Noted, version: int) -> Iterator[Files]:
        named = {Path(name) for name in (*note.contents, *note.links.values())}
        files = tuple(sorted(path for path in named if not path.is_dir()))
        if files != self._files:
            self._files = files
            yield Files(version, files)

    def _read(self, question: Text) -> Iterator[Answer]:
        try:
            self._model = model = self._build(question.text)
            self.version, self._mover = question.version, None
            if question.wants:
                yield Placed(question.version, things_of(model))
            moved = question.wants == LOOKS_FIRST and self._drawn_as == _drawn_as(model)
            for want in JUDGED_FIRST if moved else question.wants:
                if want == "looks":
                    yield self._looks(model, Dress(question.colour, over=question.over))
                else:
                    yield Fit(question.version, examine(model, only=FIT))
                    yield judged(model, question.version)
                    yield Levels(version=question.version, table=table_of(model), stands=stands_of(model))
        except LayoutError as error:
            yield Mistakes(question.version, _mistakes(error))
            if self._model is not None and self.version not in (self._drawn, question.version):
                # the last that could be used
                yield self._looks(self._model, Dress(question.colour, over=question.over))

    def _build(self, text: str) -> Model:
        last = self._last
        scene = read_scene(self._path, text=text, last=None if last is None else last.scene)
        self._last = build_model(scene, last=last)
        return self._last

    def _judge_ahead(self, text: str) -> None:
        if text:
            model = self._build(text)
            examine(model, only=FIT)
            judged(model)

    def _looks(self, model: Model, dress: Dress) -> Looks:
        looks = looks_of(
            model, self.version, cut=dress.cut, view=dress.view, colour=dress.colour, over=dress.over
        )
        self._drawn, self._drawn_as = self.version, _drawn_as(model)
        return looks

    def _feel(self, model: Model, question: At) -> Felt:
        part, along = question.part, question.along
        found = model.scene.part(part)
        if not isinstance(found, PlacedPart):
            raise RuntimeError(f"{part} has no place to be moved from (Bench._feel)")
        try:
            move = way_to(model, found, there(found.at, question.by))
        except LayoutError as error:
            return Felt(part=part, by=question.by, move=Placement.at(question.by), trouble=error.found)
        if self._mover is None or self._mover[:2] != (part, along):
            self._mover = (part, along, Mover(model, part, along))
        touch = self._mover[2].at(move)
        system = model.scene.style
        return Felt(
            part=part,
            by=question.by,
            move=move,
            meets=touch.meets,
            short=tuple(
                f"{' and '.join(one.bodies)}: {show(one.short, 'length', system=system)} short of "
                f"{show(one.clearance.at_least, 'length', system=system)}"
                for one in touch.short
            ),
            inside=touch.inside,
        )


def _drawn_as(model: Model) -> tuple[float, dict[str, str]]:
    """Return the waterline, and each body's shape by its name, before others are cut out of it."""
    return model.waterline, {body.name: (body.uncut or body.solid).shape.key for body in model.bodies}


def judged(model: Model, version: int = 0) -> Judged:
    """Return what ``check`` says of a model, and the figures that the window shows."""
    with shown_in(model.scene.style):
        found, findings = figures(model), examine(model)
        return Judged(
            version=version,
            findings=findings,
            figures=found,
            rows=_rows(model, found),
            cautions=tuple(cautions_of(findings, known_rules(), *FLOW, *OUTAGE)),
        )


def near(model: Model, one: str, other: str, version: int = 0) -> Near:
    """Return the nearest distance between two parts, bodies taken as they are; 0 where they touch."""
    pairs = [(a.solid, b.solid) for a in model.bodies_of(one) for b in model.bodies_of(other)]
    found = min((gap(a, b) for a, b in pairs), key=lambda each: each.distance)
    shown = show(found.distance, "length", system=model.scene.style)
    ends = (vector(found.at_a), vector(found.at_b))
    return Near(version=version, parts=(one, other), distance=found.distance, ends=ends, shown=shown)


def _rows(model: Model, found: dict[str, Any]) -> tuple[Row, ...]:
    """Return the key figures that are looked at while deciding; one that can't be had says so."""
    from layout3d.flow.running import running
    from layout3d.outage.outages import outages

    def row(name: str, value: float, kind: str) -> Row:
        return Row(name, value, kind, show(value, kind, system=model.scene.style))

    rows = [
        row("water, net", found["water_volume_net"], "volume"),
        row("weight, all together", found["mass_total"], "mass"),
    ]
    try:
        flow = running(model)
        for pump in flow.pumps:
            rows.append(row(f"{pump.pump}: flow", pump.flow.likely, "flow"))
            rows.append(row(f"{pump.pump}: head", pump.head.likely, "length"))
        rows += [row(f"{bar.run}: wall flow", bar.flow.likely, "flow") for bar in flow.bars]
        rows += [Row("flow", None, "", failure.message) for failure in flow.failures()]
    except LayoutError as error:
        rows.append(Row("flow", None, "", f"no figure: {error.found}"))
    try:
        out = outages(model)
        if out is not None:
            rows.append(row("fill line: room", out.mark.line.room, "volume"))
    except LayoutError as error:
        rows.append(Row("fill line: room", None, "", f"no figure: {error.found}"))
    return tuple(rows)


def _mistakes(error: LayoutError) -> tuple[Mistake, ...]:
    every = error.mistakes if isinstance(error, SceneRefused) else (error,)
    return tuple(Mistake(one.place.line, str(one)) for one in every)


def serve(connection: Connection, path: str, garbage: tuple[int, int, int]) -> None:
    """Answer what comes through a connection until it is closed; of each sort of question only the last.

    ``garbage`` are the thresholds of garbage collection of who asks: this is an interpreter of its own.

    What is being made for an older one, or for a text where another one waits, is broken off: the newest
    change wins.
    """
    signal.signal(signal.SIGINT, signal.SIG_IGN)  # the window ends this process, by closing the connection
    gc.set_threshold(*garbage)
    bench, waiting = Bench(Path(path)), dict[type, Any]()
    sent: Looks | None = None
    unready = True

    def hear() -> None:
        question = connection.recv()
        waiting.pop(type(question), None)
        if isinstance(question, Text):
            waiting.clear()  # what was asked of an older text is past
        waiting[type(question)] = question

    def past() -> bool:
        while connection.poll():
            hear()
        if isinstance(question, Shoot):
            return False  # a file is asked for, not what is on the screen
        if isinstance(question, Ahead) and Text in waiting:
            return bool(waiting[Text].text != question.text)  # what was judged ahead is wanted now
        if isinstance(question, Ready):
            return bool(waiting)
        return not waiting.keys().isdisjoint({Text, type(question)})

    with contextlib.suppress(EOFError, OSError):
        while True:
            if not waiting and not connection.poll(CALM):  # nobody waits for anything
                write_waiting(MOST_WAITING)
                if unready and sent is not None and not sent.colour:
                    waiting[Ready], unready = Ready(), False
            while not waiting or connection.poll():
                hear()
            question = waiting.pop(next(iter(waiting)))
            try:
                with wanted_unless(past):
                    for answer in bench.answers(question):
                        if isinstance(answer, Looks):
                            connection.send(shortened(answer, sent))
                            sent = answer
                        else:
                            connection.send(answer)
                        if isinstance(answer, Levels):
                            connection.poll(CALM)
                        if past():
                            break
            except NotWanted:
                unready |= isinstance(question, Ready)
            except (EOFError, OSError):
                raise
            except Exception as fault:  # noqa: BLE001 # a fault of ours is told, and the window lives on
                told = f"a fault of the program: {type(fault).__name__}: {fault}"
                if isinstance(question, Text):
                    connection.send(Mistakes(question.version, (Mistake(0, told),)))
                else:
                    connection.send(Trouble(bench.version, told))
