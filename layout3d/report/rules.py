"""The rules as a list: what each asks, and the limits that rules judge by."""

from __future__ import annotations

from collections.abc import Iterable

from layout3d.catalog import Limit, default
from layout3d.checks.base import Rule, rules
from layout3d.errors import SceneRefused, UnknownName, nearest
from layout3d.fittings.registry import fittings
from layout3d.model.model import Model
from layout3d.report.writing import Line
from layout3d.scene.own import limit_kind
from layout3d.scene.scene import Scene
from layout3d.units import show, shown_in

__all__ = [
    "LAID_LIMITS",
    "TOLD_LIMITS",
    "known_rules",
    "limit_text",
    "misses_are",
    "notes_of",
    "refuse_unknown_rules",
    "rules_lines",
]

TOLD_LIMITS = (
    "drip_hole_widest",
    "drip_spurt_speed",
    "drip_weep_heads",
    "floor_load",
    "floor_mass_ask",
    "turnover_usual_high",
    "turnover_usual_low",
)
"""Limits that no rule judges by: figures are told or sized by them, for a person to judge."""

LAID_LIMITS = tuple(sorted({each.give for each in fittings().values()}))
"""Limits that a run is laid by: a step that breaks one is refused with its line."""


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


def refuse_unknown_rules(scene: Scene) -> None:
    """Refuse a scene that accepts findings of a rule that there is not.

    Raises
    ------
    SceneRefused : with each such entry.
    """
    known = rules()
    unknown = [
        UnknownName(
            f"no rule is called {entry.rule!r}",
            expected=nearest(entry.rule, known, most=60),
            path=f"accept[{number}].rule",
            place=scene.place_of(f"accept[{number}].rule"),
        )
        for number, entry in enumerate(scene.accept, start=1)
        if entry.rule not in known
    ]
    if unknown:
        raise SceneRefused(unknown)


def limit_text(limit: Limit) -> str:
    """Return a limit's value with its unit, as the trade has it.

    >>> limit_text(default().limit("freeboard"))
    '25 mm'
    """
    kind = limit_kind(limit.unit)
    if kind != "number":
        return show(limit.value, kind)
    return f"{limit.value:g} {limit.unit}" if limit.unit != "-" else f"{limit.value:g}"


def notes_of(model: Model) -> tuple[str, ...]:
    """Return what a scene was built with or taken for, and its own limits beside those as shipped."""
    bare = "no stand is in the scene: the tank's bottom is taken to lie flat all over, and isn't judged"
    ground = () if model.of_kind("stand") else (bare,)
    own, shipped = model.scene.catalog.own.get("limits", {}), default()
    with shown_in(model.scene.style):
        return (
            model.notes
            + ground
            + tuple(
                f"limit {name} of the scene's own: {limit_text(limit)}; as shipped "
                f"{limit_text(shipped.limit(name))}"
                for name, limit in own.items()
                if limit.value != shipped.limit(name).value
            )
        )


def misses_are(limit: Limit) -> str:
    """Return what a miss of this limit is; rules judge by all but those told, or that runs are laid by."""
    if limit.name in LAID_LIMITS:
        return "refused where the run is laid"
    return "told with the figures, not judged" if limit.name in TOLD_LIMITS else limit.severity


def rules_lines() -> list[Line]:
    """Return every rule with what it asks, then every limit with its value and source."""
    lines = [Line("Rules", style="head")]
    for name, rule in rules().items():
        lines += [Line(name, 2), Line(rule.asks, 6, "faint")]
        if rule.limits:
            lines.append(Line(f"limits: {', '.join(rule.limits)}", 6, "faint"))
    lines += [Line(""), Line("Limits, each to be set under `limits:` in a scene", style="head")]
    catalog = default()
    for name in catalog.names("limits"):
        limit = catalog.limit(name)
        note = f": {limit.note}" if limit.note else ""
        lines += [
            Line(f"{name}  {limit_text(limit)}  ({misses_are(limit)}){note}", 2),
            Line(f"source: {limit.source}", 6, "faint"),
        ]
    return lines
