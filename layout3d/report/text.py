"""A checked scene and a refused one as lines of text. Figures are shown in the scene's own units."""

from __future__ import annotations

from collections.abc import Sequence

from layout3d.checks.base import Finding
from layout3d.errors import LayoutError, SceneRefused
from layout3d.model.model import Model
from layout3d.parts.base import Vector
from layout3d.report.figures import Figures, figure_lines
from layout3d.report.rules import notes_of
from layout3d.report.writing import Line, section
from layout3d.units import in_own_units, show

__all__ = [
    "caution_lines",
    "check_lines",
    "count_of",
    "error_lines",
    "place_of",
    "tank_lines",
    "title_lines",
]


def title_lines(model: Model) -> list[Line]:
    """Return the line that every report begins with."""
    return [Line(f"{model.scene.title}  ({model.scene.file})", style="head")]


@in_own_units
def check_lines(
    model: Model,
    findings: Sequence[Finding],
    figures: Figures,
    *,
    rules_asked: int,
    more: Sequence[Line] = (),
    cautions: Sequence[str] = (),
) -> list[Line]:
    """Return the report of a checked scene: findings worst first, then the key figures and the cautions.

    Parameters
    ----------
    findings : as ``checks.examine`` sorts them
    figures : as ``water.figures`` computes them
    rules_asked : how many rules were run
    more : lines that follow the key figures
    """
    lines = title_lines(model)
    for number, finding in enumerate(findings, start=1):
        lines += [Line(""), *_finding(number, finding)]
    severities = [finding.severity for finding in findings]
    counts = [count_of(severities.count(each), each) for each in ("fault", "warning", "note")]
    lines += [Line(""), Line(f"{', '.join(counts)}, from {count_of(rules_asked, 'rule')}", style="head")]
    lines += [Line(""), *figure_lines(figures), *more]
    lines += section("Built and judged with", (Line(note, 2) for note in notes_of(model)))
    return lines + caution_lines(cautions)


@in_own_units
def tank_lines(_model: Model, findings: Sequence[Finding]) -> list[Line]:
    """Return what was found of the tank by itself in a scene that can't be built; empty for nothing."""
    lines = [Line("Of the tank by itself, which could be built:", style="head")]
    for number, finding in enumerate(findings, start=1):
        lines += [Line(""), *_finding(number, finding)]
    return [*lines, Line("")] if findings else []


def caution_lines(cautions: Sequence[str]) -> list[Line]:
    """Return cautions under their head; empty for none."""
    return section("Caution", (Line(text, 2) for text in cautions))


def error_lines(error: LayoutError) -> list[Line]:
    """Return an error as text: every mistake with its place, what was expected and what to do."""
    mistakes = error.mistakes if isinstance(error, SceneRefused) else (error,)
    lines = []
    for mistake in mistakes:
        first, *rest = str(mistake).splitlines()
        lines += [Line(first, style="fault"), *(Line(text.strip(), 4) for text in rest)]
    if len(mistakes) > 1:
        lines.append(Line(f"{len(mistakes)} mistakes; nothing was computed", style="head"))
    return lines


def place_of(at: Vector) -> str:
    """Say where a point of the tank is, from its inside front left bottom corner.

    >>> place_of((0.4, 0.6, 0.43))
    'x 400 mm, y 600 mm, z 430 mm'
    """
    return ", ".join(f"{axis} {show(value, 'length')}" for axis, value in zip("xyz", at, strict=True))


def count_of(count: int, noun: str) -> str:
    """Return a count with its noun.

    >>> count_of(1, "fault"), count_of(0, "fault")
    ('1 fault', '0 faults')
    """
    return f"{count} {noun}{'' if count == 1 else 's'}"


def _finding(number: int, finding: Finding) -> list[Line]:
    head = f"{number}  {finding.severity}  {finding.rule}  {', '.join(finding.parts)}".rstrip()
    lines = [Line(head, style=finding.severity), Line(finding.message, 3)]
    if finding.remedy:
        lines.append(Line(f"to mend it: {finding.remedy}", 3))
    lines += [Line(f"and with it {told}", 3) for told in finding.also]
    if finding.at is not None:
        lines.append(Line(f"at {place_of(finding.at)}", 3, "faint"))
    return lines
