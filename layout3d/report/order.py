"""The order of building as text and as JSON."""

from __future__ import annotations

from collections.abc import Sequence

from layout3d.model.model import Model
from layout3d.report.cautions import BENCH
from layout3d.report.json import heading, plain, told, written
from layout3d.report.writing import Line, section
from layout3d.shop.step import BuildOrder, Step
from layout3d.units import show

__all__ = ["NOT_PROVEN", "order_files", "order_lines", "step_facts"]

_DAY = 86_400.0
NOT_PROVEN = (
    "ways are straight pulls, and one aside before; rock and wood are led past the exact meshes, turned if "
    "need be. A slab that goes in turned passes the opening; a way to its wall is looked for in the bare "
    "tank alone (rule way-in): try with a board of its size. The room's own walls are not in the scene: "
    "leave a way to whatever is reached from behind"
)


def order_files(model: Model, order: BuildOrder) -> dict[str, bytes]:
    """Return order.json as a file: path -> content."""
    facts = heading(model) | {
        "steps": [
            told(step, "number does tools parts needs wait tests hides ways earliest waits")
            for step in order.steps
        ],
        "never_again": list(order.never_again),
        "no_way_out": list(order.no_way_out),
        "turned": list(order.turned),
        "faults": plain(order.faults),
        "cautions": [BENCH],
    }
    return {"order.json": written(facts).encode()}


def order_lines(model: Model, order: BuildOrder) -> list[Line]:
    """Return the steps as text, each with what it waits for, what is looked at, and what it hides."""
    steps = []
    for step in order.steps:
        steps.append(Line(f"{step.number:>3}  {step.does}"))
        steps += [Line(text, 7) for text in step_facts(step)]
    sources = {wait.source: wait.why for step in order.steps for wait in step.waits}
    waits = [Line(f"{why}: {source}", 2, "faint") for source, why in sources.items()]
    return [
        *section("Order of building", steps),
        *section("Never to be reached again once the background is in", _named(order.never_again)),
        *section("No way found out of the finished tank, for service", _named(order.no_way_out)),
        *section("Waits, and ways", [*waits, Line(NOT_PROVEN, 2, "faint")] if waits else ()),
    ]


def _named(names: Sequence[str]) -> list[Line]:
    return [Line(", ".join(names), 2)] if names else []


def step_facts(step: Step) -> list[str]:
    """Return what is told of a step beside what it does: waits, tools, tests, ways, what it hides."""
    said = []
    numbers = ", ".join(map(str, step.needs))
    if step.earliest >= _DAY:
        said.append(f"after {numbers}; known waits take {show(step.earliest, 'time')} until here")
    elif numbers:
        said.append(f"after {numbers}")
    said += [
        f"then wait {show(wait.time, 'time')}: {wait.why}"
        if wait.time is not None
        else f"then wait as its maker says: {wait.why}"
        for wait in step.waits
    ]
    said += [f"with: {step.tools}"] if step.tools else []
    said += [f"look: {test}" for test in step.tests]
    turned = [f"{name} ({way})" for name, way in step.ways.items() if name in step.big]
    if turned:
        said.append(f"goes in turned: {', '.join(turned)}")
    oddly = [f"{name} {way}" for name, way in step.ways.items() if name in step.odd]
    if oddly:
        said.append(f"goes in: {', '.join(oddly)}")
    if step.hides:
        said.append(f"hides: {', '.join(step.hides)}")
    return said
