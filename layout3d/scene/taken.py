"""Names that a value or a part can't bear, because where they are used they mean something else."""

from __future__ import annotations

from collections.abc import Collection, Mapping

from layout3d.parts.base import GROUPS
from layout3d.scene.syntax import FUNCTIONS
from layout3d.units import known_units

__all__ = ["Reason", "taken_part", "taken_value"]

Reason = tuple[str, str]
"""What is wrong with a name, and what to do."""

_ANOTHER = "give it another name"
_MIXED_GROUPS = ("glass", "plumbing")
"""Groups that bodies of more than one part kind are in: a tank has panes and bulkheads."""


def taken_value(name: str) -> Reason | None:
    """Say why a value can't be called so; None where it can.

    A unit's name behind a number is that unit: ``2 h`` is two hours, whatever h stands for.
    """
    if name == "pi" or name in FUNCTIONS:
        return f"{name!r} is known to arithmetic already", _ANOTHER
    if name in known_units():
        return f"{name!r} is the name of a unit", f"give it a longer name, such as {name}_of_tank"
    return None


def taken_part(
    name: str, groups: Mapping[str, str], *, panels: Collection[str], holes: Collection[str]
) -> Reason | None:
    """Say why a part can't be called so; None where it can.

    Parameters
    ----------
    groups : the group of each part by its name
    panels, holes : the names of the tank's own
    """
    if name == "room":
        return "'room' is what things are fixed to that hang outside of the tank", _ANOTHER
    if name in holes:
        return f"{name!r} is a hole of the tank as well", "give one of the two another name"
    if name in panels:
        return f"{name!r} is a panel of the tank", _ANOTHER
    if name in GROUPS:
        alone = [other for other, group in groups.items() if group == name] == [name]
        if name in _MIXED_GROUPS or not alone:  # else part and group are the same bodies
            return f"{name!r} means all parts of that group", f"give it another name, such as {name}_1"
    return None
