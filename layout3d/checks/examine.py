"""Runs every rule over a model: findings worst first; those the builder accepts become notes."""

from __future__ import annotations

from dataclasses import replace

from layout3d.checks.base import Finding, rules
from layout3d.errors import LayoutError
from layout3d.model.model import Model
from layout3d.units import shown_in
from layout3d.wanted import go_on
from layout3d.water.remembered import kept

__all__ = ["examine", "found_by"]

_ORDER = {"fault": 0, "warning": 1, "note": 2}


def examine(model: Model, *, only: tuple[str, ...] = ()) -> tuple[Finding, ...]:
    """Run all rules, or ``only`` these.

    Returns
    -------
    Findings: faults, then warnings, then notes; within each, the largest miss first.
    """
    found: list[Finding] = []
    failed: dict[str, int] = {}  # where it is told why rules could not be judged, by that reason
    with shown_in(model.scene.style):
        for name in rules():
            if only and name not in only:
                continue
            go_on()
            findings, error = found_by(model, name)
            found += [_accepted(model, finding) for finding in findings]
            if error is not None:
                # a figure that could not be computed is a finding too, never a silent pass; told once for all
                expected = f" (expected {error.expected})" if error.expected else ""
                unjudged = Finding(
                    rule=name,
                    parts=(),
                    message=f"could not be judged: {error.found}{expected}",
                    remedy=error.remedy or "give the scene a figure that the tables know",
                )
                finding = _accepted(model, unjudged)
                first = failed.setdefault(finding.message, len(found))
                if first == len(found):
                    found.append(finding)
                else:
                    also = f"{name}: could not be judged for the same reason"
                    found[first] = replace(found[first], also=(*found[first].also, also))
    told = _by_cause(model, found)
    return tuple(sorted(told, key=lambda f: (_ORDER[f.severity], -f.miss, f.rule, f.parts)))


@kept
def found_by(model: Model, rule: str) -> tuple[tuple[Finding, ...], LayoutError | None]:
    """Return the findings of a rule, as far as it came, and why it came no farther."""
    found: list[Finding] = []
    try:
        for finding in rules()[rule].find(model):
            found.append(replace(finding, rule=rule))
    except LayoutError as error:
        return tuple(found), error
    return tuple(found), None


def _by_cause(model: Model, found: list[Finding]) -> list[Finding]:
    """Tell what follows from another finding of the same bodies under that, if it is no worse."""
    kept, under = [], dict[int, list[str]]()
    alike: dict[frozenset[str], list[int]] = {}
    about = [_names(model, finding) for finding in found]
    for number, names in enumerate(about):
        alike.setdefault(names, []).append(number)
    for finding, names in zip(found, about, strict=True):
        causes = rules()[finding.rule].follows
        cause = next(
            (
                number
                for number in alike[names]
                if found[number].rule in causes
                and len(names) > 1
                and _ORDER[found[number].severity] <= _ORDER[finding.severity]
            ),
            None,
        )
        if cause is None:
            kept.append(finding)
        else:
            under.setdefault(cause, []).append(f"{finding.rule}: {finding.message}")
    also = {id(found[number]): tuple(told) for number, told in under.items()}
    return [replace(f, also=(*f.also, *also[id(f)])) if id(f) in also else f for f in kept]


def _names(model: Model, finding: Finding) -> frozenset[str]:
    """Return what a finding is about: parts, and of the tank its panes and holes."""
    parts = (name.split(".")[0] for name in finding.parts)
    return frozenset(
        name if part == model.tank_name else part for name, part in zip(finding.parts, parts, strict=True)
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
