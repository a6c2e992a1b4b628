"""Pipe that runs too far without anything that holds it."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from layout3d.checks.base import Finding, Severity, rule
from layout3d.checks.measure import length, limit, runs
from layout3d.errors import LayoutError
from layout3d.model.model import Model
from layout3d.parts.background_data import BackgroundData
from layout3d.parts.run_data import Element, RunData

__all__ = ["longest_span", "support_spacing"]

STEP = 0.005  # a run is looked at every so far, [m]


@rule(
    "support-spacing", asks="Rigid pipe is held often enough: by ports, clips, cups, or the slab it lies in."
)
def support_spacing(model: Model) -> Iterator[Finding]:
    """Find the longest stretch of each run that nothing holds."""
    share = limit(model, "support_spacing_share")
    for name, run in runs(model):
        if run.flexible:
            continue
        try:
            allowed, source = model.scene.catalog.support_spacing(run.size)
        except LayoutError as unknown:
            yield Finding(
                rule="support-spacing",
                severity="warning",
                parts=(name,),
                message=f"how often {run.size} has to be held is not known: {unknown.found}",
                remedy="ask the pipe's maker",
            )
            continue
        span, element, along = longest_span(model, name, run)
        if span <= allowed:
            continue
        severity: Severity = "fault" if span > share * allowed else "warning"
        yield Finding(
            rule="support-spacing",
            severity=severity,
            parts=(element.body,),
            measured=span,
            limit=allowed,
            unit="m",
            at=element.path[len(element.path) // 2],
            message=(
                f"{name} runs {length(model, span)} without a support: {length(model, span - allowed)} over "
                f"{length(model, allowed)} for {run.size} ({source})"
            ),
            remedy=f"add a support about {length(model, along + span / 2)} along the run",
        )


def longest_span(model: Model, name: str, run: RunData) -> tuple[float, Element, float]:
    """Return the longest stretch that nothing holds, [m], the element in its middle, and where it begins.

    A run is held at ports it starts or ends at, at its supports, and wherever a background is foamed around it.
    An upright stretch carries itself on its lower end, but counts: it sways.
    """
    total = sum(element.flow_length for element in run.elements)
    held = [support.along for support in run.supports]
    if run.start_port:
        held.append(0.0)
    if run.end_port:
        held.append(total)
    held += _in_slabs(model, name, run)
    marks = np.array(sorted({min(max(m, 0.0), total) for m in held}))
    ends = np.concatenate([[0.0], marks, [total]])
    gaps = np.diff(ends)
    index = int(gaps.argmax())
    middle = ends[index] + gaps[index] / 2
    done = 0.0
    for element in run.elements:
        done += element.flow_length
        if done >= middle:
            return float(gaps[index]), element, float(ends[index])
    return float(gaps[index]), run.elements[-1], float(ends[index])


def _in_slabs(model: Model, name: str, run: RunData) -> list[float]:
    """Return marks along the run wherever its middle lies in a slab that hides it."""
    marks: list[float] = []
    for built in model.of_kind("background"):
        data = built.data
        if not isinstance(data, BackgroundData) or name not in data.hides:
            continue
        done = 0.0
        for element in run.elements:
            for a, b in zip(element.path[:-1], element.path[1:], strict=True):
                step = float(np.linalg.norm(np.subtract(b, a)))
                count = max(2, int(step / STEP))
                shares = np.linspace(0.0, 1.0, count)
                points = np.array(a) + shares[:, None] * np.subtract(b, a)
                inside = np.zeros(count, dtype=bool)
                for slab in data.slabs:
                    local = slab.panel.local(points)
                    over = slab.covers(local[:, 0], local[:, 1])
                    inside |= over & (local[:, 2] < slab.front_at(local[:, 0], local[:, 1]))
                marks += [done + float(share) * step for share in shares[inside]]
                done += step
    return marks
