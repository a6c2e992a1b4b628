"""What a rule is and what it finds. The rules themselves stand in ``checks.rules``."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING, Literal, TypeAlias

from layout3d.files import own_data
from layout3d.registry import found_in
from layout3d.solid.placement import Vector

if TYPE_CHECKING:
    from layout3d.model.model import Model

__all__ = [
    *("CURRENT", "DRILLING", "FLOOD", "FLOOD_TEST"),
    *("Finding", "Findings", "Rule", "Severity", "rule", "rules"),
]

_SHARED = own_data(Path(__file__).with_name("cautions.yaml"))
CURRENT, DRILLING, FLOOD, FLOOD_TEST = (
    str(_SHARED[name]) for name in ("current", "drilling", "flood", "flood_test")
)
"""Cautions that several rules carry."""

Severity = Literal["fault", "warning", "note"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Finding:
    """What a rule found: the measured value beside its limit, where it is, and what would mend it. SI values.

    ``rule`` is stamped on it as the rule is run. ``measured`` and ``limit`` are None where there is nothing
    to measure (a part that lacks something); then ``unit`` is ''. ``also`` tells what other rules found that
    has the same cause and goes away with it.
    """

    rule: str = ""
    severity: Severity = "fault"
    parts: tuple[str, ...]
    message: str
    remedy: str
    measured: float | None = None
    limit: float | None = None
    unit: str = "m"
    at: Vector | None = None
    also: tuple[str, ...] = ()

    def __post_init__(self) -> None:
        if self.measured is None and self.limit is None:
            object.__setattr__(self, "unit", "")

    @property
    def miss(self) -> float:
        """Return how far off it is, as a share of the larger of measure and limit, to sort worst first."""
        if self.measured is None or self.limit is None:
            return 0.0
        return abs(self.measured - self.limit) / max(abs(self.limit), abs(self.measured), 1e-9)


Findings: TypeAlias = Iterator[Finding]
"""What a rule yields, as it finds them."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Rule:
    """A rule: its name in findings, what it asks, its caution, the function, and the limits it judges by.

    What it finds of two bodies follows from what the rules in ``follows`` found of the same two, and is told
    there.
    """

    name: str
    asks: str
    caution: str
    find: Callable[[Model], Findings]
    limits: tuple[str, ...] = ()
    follows: tuple[str, ...] = ()


def rule(
    name: str,
    *,
    asks: str,
    caution: str = "",
    limits: tuple[str, ...] = (),
    follows: tuple[str, ...] = (),
) -> Callable[[Callable[[Model], Findings]], Rule]:
    """Make a function from a model to findings into a rule, found by ``rules``.

    Parameters
    ----------
    name : words with hyphens, as findings bear it
    asks : one sentence, what must hold; stands in the docs
    caution : shown under the report when this rule found something that can hurt someone
    limits : names of the limits that it judges by: all that it reads, wherever
    follows : rules whose findings of the same bodies are the cause of its own
    """

    def made(find: Callable[[Model], Findings]) -> Rule:
        return Rule(name=name, asks=asks, caution=caution, find=find, limits=limits, follows=follows)

    return made


@cache
def rules() -> dict[str, Rule]:
    """Return all rules by name, sorted: what stands in ``checks.rules``, one file each."""
    import layout3d.checks.rules as package

    return found_in(package, Rule, lambda rule: rule.name)
