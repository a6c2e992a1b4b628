"""One or two values or fields of a scene varied over a range: the figures and the faults of each scene."""

from __future__ import annotations

import itertools
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from functools import partial

from layout3d.checks.examine import examine
from layout3d.errors import LayoutError, SceneMistake
from layout3d.model.build import build_model
from layout3d.place.asked import asked
from layout3d.place.engine import Engine, each
from layout3d.scene.reader import SECTIONS, read_scene
from layout3d.scene.syntax import steps_of
from layout3d.scene.words import ArithmeticMistake, Literal
from layout3d.units import shown_in

__all__ = ["Axis", "Row", "axis_of", "in_scene", "sweep"]

MOST_ROWS = 5000
Setting = tuple[tuple[str, str], ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Axis:
    """What is varied: a named value or the path of a field, the values' texts and figures in ``unit``."""

    name: str
    path: str
    texts: tuple[str, ...]
    figures: tuple[float, ...]
    unit: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Row:
    """One scene of a sweep: its figures, SI, the rules with faults, or why it could not be built."""

    values: Mapping[str, str]
    figures: Mapping[str, float | None]
    faults: tuple[str, ...] = ()
    refused: str = ""


def axis_of(text: str) -> Axis:
    """Read what ``--vary`` says: 'bar_z=600..800:20', 'return_pump.speed=40%..100%:5%'.

    The last value is the end, or the last step before it. A path may leave out its 'parts.'.

    Raises
    ------
    SceneMistake : it can't be read, or the step leads away from the end.

    Examples
    --------
    >>> axis_of("depth=3/4 in..1 in:1/8 in").texts
    ('0.75 in', '0.875 in', '1 in')
    """
    name, sign, rest = text.partition("=")
    span, colon, step = rest.partition(":")
    ends = span.split("..")
    name = name.strip()
    if not (name and sign and colon and len(ends) == 2 and step.strip() and all(end.strip() for end in ends)):
        raise SceneMistake(
            f"--vary {text}", expected="NAME=A..B:STEP, such as bar_z=600..800:20 or speed=40%..100%:5%"
        )
    (low, high, by), unit = _alike([*ends, step], f"--vary {text}")
    if by == 0 or (high - low) / by < 0:
        raise SceneMistake(
            f"--vary {text}: steps of {step.strip()} never get from {ends[0].strip()} to {ends[1].strip()}",
            expected="a step that leads there",
        )
    count = int((high - low) / by) + 1
    if count > MOST_ROWS:
        raise SceneMistake(f"--vary {text}: {count} values", expected=f"at most {MOST_ROWS}")
    figures = [low + number * by for number in range(count)]
    behind = unit.unit if unit.unit in ("%", "°", "") else f" {unit.unit}"
    path = name if "." not in name or name.split(".")[0] in SECTIONS else f"parts.{name}"
    return Axis(
        name=name,
        path=path,
        texts=tuple(f"{float(figure):.10g}{behind}" for figure in figures),
        figures=tuple(float(figure) for figure in figures),
        unit=unit.unit,
    )


def in_scene(path: str, axis: Axis, *, settings: Mapping[str, str] | None = None) -> Axis:
    """Return an axis with the unit that its bare figures have in a scene: a length's, an angle's, or none.

    It is the one with which the scene reads the first of them as it does without: a bare figure where a
    length is wanted is one in the scene's unit, where an angle is wanted one in degrees.
    """
    if axis.unit:
        return axis
    given, first = dict(settings or {}), axis.texts[0]
    try:
        bare = read_scene(path, overrides={**given, axis.path: first})
    except LayoutError:
        return axis
    for unit, sign in ((bare.units, bare.units), ("deg", "°")):
        try:
            told = read_scene(path, overrides={**given, axis.path: f"{first} {unit}"})
        except LayoutError:
            continue
        if told.parts == bare.parts and told.waterline == bare.waterline:
            return replace(axis, unit=sign)
    return axis


def sweep(
    path: str,
    axes: Sequence[Axis],
    show: Sequence[str],
    *,
    settings: Mapping[str, str] | None = None,
    engine: Engine | None = None,
    done: Callable[[int, int], None] = lambda count, of: None,
) -> tuple[Row, ...]:
    """Evaluate a scene at every combination of the axes' values, the last axis fastest.

    Parameters
    ----------
    path : the scene file
    show : names of figures (``asked``)
    settings : values and fields set in all of them
    done : is told how many are done, of how many

    Returns
    -------
    A row for each; those only that were reached when Ctrl-C came. A scene that can't be built is told in its
    row.

    Raises
    ------
    LayoutError : no scene at all can be read, and then what the first one lacks; a figure has no such name.
    """
    tasks: list[Setting] = list(
        itertools.product(*(tuple((axis.path, text) for text in axis.texts) for axis in axes))
    )
    if len(tasks) > MOST_ROWS:
        raise LayoutError(f"{len(tasks)} scenes", expected=f"at most {MOST_ROWS}", remedy="take wider steps")
    names = {axis.path: axis.name for axis in axes}
    work = partial(_row, path, tuple(show), tuple((settings or {}).items()), names)
    rows = [row for row in each(work, tasks, engine=engine or Engine(), done=done) if row is not None]
    if rows and all(row.refused for row in rows):
        read_scene(path, overrides={**(settings or {}), **dict(tasks[0])})
    return tuple(rows)


def _row(path: str, show: Sequence[str], settings: Setting, names: Mapping[str, str], task: Setting) -> Row:
    values = {names[at]: text for at, text in task}
    try:
        model = build_model(read_scene(path, overrides={**dict(settings), **dict(task)}))
        findings = examine(model)
    except LayoutError as error:
        return Row(values=values, figures=dict.fromkeys(show), refused=str(error))
    with shown_in(model.scene.style):
        figures = asked(model, show)
    faults = dict.fromkeys(finding.rule for finding in findings if finding.severity == "fault")
    return Row(values=values, figures=figures, faults=tuple(faults))


def _alike(texts: Sequence[str], where: str) -> tuple[list[Fraction], Literal]:
    """Return plain figures in one unit, the first that is named; a bare one counts in it."""
    literals = [_plain(text.strip(), where) for text in texts]
    unit = next((literal for _, literal in literals if literal.unit), literals[0][1])
    figures = []
    for sign, literal in literals:
        if literal.unit and literal.dims != unit.dims:
            raise SceneMistake(f"{where}: {unit.unit} and {literal.unit}", expected="figures of one kind")
        factor = literal.factor / unit.factor if literal.unit else Fraction(1)
        figures.append(sign * literal.number * factor)
    return figures, unit


def _plain(text: str, where: str) -> tuple[int, Literal]:
    try:
        steps = steps_of(text)
    except ArithmeticMistake as mistake:
        mistake.path = where
        raise
    literal = steps[0].literal
    negative = len(steps) == 2 and (steps[1].kind, steps[1].text) == ("sign", "negative")
    if literal is None or not (len(steps) == 1 or negative) or steps[0].negated or literal.point:
        raise SceneMistake(f"{where}: {text!r}", expected="a plain figure, with or without a unit")
    return (-1 if negative else 1), literal
