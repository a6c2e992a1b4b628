"""The rules as a list: what each asks, and the limits that rules judge by."""

from __future__ import annotations

from collections.abc import Iterable

from layout3d.catalog import default
from layout3d.checks.base import Rule
from layout3d.checks.registry import rules
from layout3d.errors import UnknownName, nearest
from layout3d.report.writing import Line

__all__ = ["known_rules", "rules_lines"]


def known_rules(only: Iterable[str] = ()) -> dict[str, Rule]:
    """Return the rules of these names, or all rules for no names.

    Raises
    ------
    UnknownName : no rule is called so.
    """
    known = rules()
    for name in only:
        if name not in known:
            raise UnknownName(f"no rule is called {name!r}", expected=nearest(name, known, most=60))
    return {name: rule for name, rule in known.items() if not only or name in only}


def rules_lines() -> list[Line]:
    """Return every rule with what it asks, then every limit with its value and source."""
    lines = [Line("Rules", style="head")]
    for name, rule in rules().items():
        lines += [Line(name, 2), Line(rule.asks, 6, "faint")]
    lines += [Line(""), Line("Limits, each to be set under `limits:` in a scene", style="head")]
    catalog = default()
    for name in catalog.names("limits"):
        limit = catalog.limit(name)
        note = f": {limit.note}" if limit.note else ""
        lines += [
            Line(f"{name}  {limit.value:g} {limit.unit}  ({limit.severity}){note}", 2),
            Line(f"source: {limit.source}", 6, "faint"),
        ]
    return lines
