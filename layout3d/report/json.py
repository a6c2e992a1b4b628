"""A checked scene and a refused one as JSON, SI units. The schemas stand in ``schema/`` beside this file."""

from __future__ import annotations

import dataclasses
import json
from collections.abc import Mapping, Sequence
from operator import attrgetter
from typing import Any

from layout3d.checks.base import Finding
from layout3d.errors import LayoutError, SceneRefused
from layout3d.model.model import Model
from layout3d.report.figures import Figures
from layout3d.report.rules import notes_of

__all__ = ["FORMAT", "check_json", "errors_json", "heading", "plain", "told", "written"]

FORMAT = 1
"""Version of what is printed; it rises when a key goes away or changes its meaning."""


def check_json(
    model: Model,
    findings: Sequence[Finding],
    figures: Figures,
    *,
    cautions: Sequence[str] = (),
    **more: object,
) -> dict[str, Any]:
    """Return the object that ``check --json`` prints; findings stay in their order, worst first.

    ``more`` are further results as plain data, by their key.
    """
    severities = [finding.severity for finding in findings]
    return heading(model) | {
        "faults": severities.count("fault"),
        "warnings": severities.count("warning"),
        "findings": plain(findings),
        "figures": dict(figures),
        **more,
        "notes": list(notes_of(model)),
        "cautions": list(cautions),
    }


def plain(value: Any) -> Any:
    """Return data as JSON holds it: a dataclass by its own fields, a tuple as a list, all the way down."""
    if dataclasses.is_dataclass(value):
        return {field.name: plain(getattr(value, field.name)) for field in dataclasses.fields(value)}
    if isinstance(value, Mapping):
        return {name: plain(item) for name, item in value.items()}
    return [plain(item) for item in value] if isinstance(value, list | tuple) else value


def told(item: object, names: str) -> dict[str, Any]:
    """Return some attributes of a result as plain data: by name, or under a key of their own.

    >>> told(3 + 4j, "real height=imag")
    {'real': 3.0, 'height': 4.0}
    """
    pairs = (name.partition("=") for name in names.split())
    return {key: plain(attrgetter(path or key)(item)) for key, _, path in pairs}


def heading(model: Model) -> dict[str, Any]:
    """Return what the object of every command begins with."""
    return {"format": FORMAT, "scene": model.scene.file, "title": model.scene.title}


def errors_json(error: LayoutError) -> dict[str, Any]:
    """Return the object that a command with --json prints for a scene that it refuses."""
    mistakes = error.mistakes if isinstance(error, SceneRefused) else (error,)
    return {"format": FORMAT, "errors": [mistake.facts() for mistake in mistakes]}


def written(facts: dict[str, Any]) -> str:
    """Return an object as JSON text in ASCII, which every terminal and pipe passes on.

    Raises
    ------
    ValueError : a figure is not finite, which JSON can't say.
    """
    return json.dumps(facts, indent=2, allow_nan=False) + "\n"
