"""A run that ends open where it would spray or drain the tank, and is not told to end so."""

from __future__ import annotations

from collections.abc import Iterator

from layout3d.checks.base import Finding, rule
from layout3d.checks.measure import runs
from layout3d.model.model import Model
from layout3d.parts.base import Vector

__all__ = ["open_ends", "within"]


@rule("open-end", asks="A run ends in a fitting, in a port, or open over the tank or the sump.")
def open_ends(model: Model) -> Iterator[Finding]:
    """Find runs that end open, and tees whose branch nothing takes up, outside tank and sump."""
    for name, run in runs(model):
        part = model.built[name].part
        meant = bool(part.end_at) or run.end not in ("open", "nozzle")  # type: ignore[attr-defined] # a run
        if not meant and not within(model, run.end_at) and not _gives_port(model, f"{name}.end"):
            yield Finding(
                rule="open-end",
                severity="fault",
                parts=(name,),
                at=run.end_at,
                message=f"{name} ends open outside the tank and the sump",
                remedy="end it in a port (`join:`), in a cap, or over the tank or sump",
            )
        for element in run.elements:
            if element.branch and not _gives_port(model, element.branch):
                yield Finding(
                    rule="open-end",
                    severity="fault",
                    parts=(element.branch,),
                    at=element.path[1],
                    message=f"nothing joins the branch of {element.body}",
                    remedy=f"start a run at {element.branch}, or take the tee out",
                )


def within(model: Model, point: Vector) -> bool:
    """Tell whether a point lies over or in the tank's or a sump's plan, not below its floor."""
    spaces = [
        space for name, space in model.spaces.items() if name == model.tank_name or _of_sump(model, name)
    ]
    return any(
        space.low[0] <= point[0] <= space.high[0]
        and space.low[1] <= point[1] <= space.high[1]
        and space.low[2] - 1e-9 <= point[2] <= space.high[2] + 1.0
        for space in spaces
    )


def _of_sump(model: Model, name: str) -> bool:
    return name in model.built and model.built[name].part.kind == "sump"


def _gives_port(model: Model, port: str) -> bool:
    return any(
        port in (run.start_port, run.end_port, model.built[name].part.end_at)  # type: ignore[attr-defined] # a run
        for name, run in runs(model)
    )
