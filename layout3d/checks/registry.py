"""The rules, found by looking through ``checks.rules``: adding a rule is adding one file."""

from __future__ import annotations

from functools import cache

from layout3d.checks.base import Rule
from layout3d.registry import found_in

__all__ = ["rules"]


@cache
def rules() -> dict[str, Rule]:
    """Return all rules by name, sorted."""
    import layout3d.checks.rules as package

    return found_in(package, Rule, lambda rule: rule.name)
