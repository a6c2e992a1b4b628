"""Runs every rule over a model: findings worst first; those the builder accepts become notes."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

from layout3d.checks.base import Finding, Rule
from layout3d.checks.registry import rules
from layout3d.errors import LayoutError
from layout3d.model.model import Model

__all__ = ["examine"]

_ORDER = {"fault": 0, "warning": 1, "note": 2}


def examine(model: Model, *, only: tuple[str, ...] = ()) -> tuple[Finding, ...]:
    """Run all rules, or ``only`` these.

    Returns
    -------
    Findings: faults, then warnings, then notes; within each, the largest miss first.
    """
    found = [
        _accepted(model, finding)
        for name, rule in rules().items()
        if not only or name in only
        for finding in _found_by(rule, model)
    ]
    return tuple(sorted(found, key=lambda f: (_ORDER[f.severity], -f.miss, f.rule, f.parts)))


def _found_by(rule: Rule, model: Model) -> Iterator[Finding]:
    """Return what a rule finds; a figure that it could not compute is a finding too, never a silent pass."""
    try:
        yield from rule.find(model)
    except LayoutError as error:
        yield Finding(
            rule=rule.name,
            severity="fault",
            parts=(),
            message=f"could not be judged: {error.found}"
            + (f" (expected {error.expected})" if error.expected else ""),
            remedy=error.remedy or "give the scene a figure that the tables know",
        )


def _accepted(model: Model, finding: Finding) -> Finding:
    """Turn a finding into a note where the scene accepts this rule for these parts."""
    names = {
        *finding.parts,
        *(f"{model.tank_name}.{part}" for part in finding.parts if part in model.tank.holes),
    }
    for entry in model.scene.accept:
        if entry.rule == finding.rule and all(
            any(name == part or part.startswith(f"{name}.") for part in names) for name in entry.parts
        ):
            return replace(
                finding, severity="note", message=f"{finding.message}; accepted in the scene: {entry.why}"
            )
    return finding
