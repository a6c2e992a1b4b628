"""Figures of a model by name, as sweeps ask for them: water, weight, drip holes, pumps."""

from __future__ import annotations

from collections.abc import Iterable

from layout3d.errors import UnknownName, nearest
from layout3d.flow.running import running
from layout3d.model.model import Model
from layout3d.water.figures import figures

__all__ = ["FLOW_FIGURES", "asked", "kind_of_figure"]

FLOW_FIGURES = {
    "drip_flow": ("flow", "of all drip holes"),
    "drip_uniformity": ("number", "of the drip bar: the weakest quarter of the holes over the mean"),
    "pump_flow": ("flow", "of all pumps that run"),
}
"""What is asked of the running water: kind of quantity, and of what. ``pump_flow.NAME`` is one pump's."""


def asked(model: Model, names: Iterable[str]) -> dict[str, float | None]:
    """Return figures, SI, by the names that ``check --json`` has, 'displaced.log' for one of several.

    None stands for a flow that can't be had; why, a rule tells as a fault.

    Raises
    ------
    UnknownName : there is no such figure.
    """
    names = list(names)
    found: dict[str, float | None] = {}
    if any(name.partition(".")[0] not in FLOW_FIGURES for name in names):
        for name, value in figures(model).items():
            if isinstance(value, dict):
                found |= {f"{name}.{key}": each for key, each in value.items()}
            else:
                found[name] = value
    if any(name.partition(".")[0] in FLOW_FIGURES for name in names):
        found |= _flows(model)
    for name in names:
        if name not in found:
            known = [*found, *FLOW_FIGURES]
            raise UnknownName(f"no figure is called {name!r}", expected=nearest(name, known))
    return {name: found[name] for name in names}


def _flows(model: Model) -> dict[str, float | None]:
    flow = running(model)
    failed = bool(list(flow.failures()))
    bars = flow.bars
    told: dict[str, float | None] = {
        "drip_flow": sum(bar.flow.likely for bar in bars) if not failed or bars else None,
        "drip_uniformity": min((bar.uniformity.likely for bar in bars), default=None),
        "pump_flow": sum(pump.flow.likely for pump in flow.pumps) if not failed else None,
    }
    return told | {f"pump_flow.{pump.pump}": pump.flow.likely for pump in flow.pumps}


def kind_of_figure(name: str) -> str:
    """Return the kind of quantity that a figure is, one of ``units.KINDS``.

    >>> kind_of_figure("displaced.log"), kind_of_figure("mass_total"), kind_of_figure("drip_flow")
    ('volume', 'mass', 'flow')
    """
    first = name.partition(".")[0]
    if first in FLOW_FIGURES:
        return FLOW_FIGURES[first][0]
    kinds = {
        "floor_pressure": "pressure",
        "waterline": "length",
        "body_count": "number",
        "triangle_count": "number",
    }
    return kinds.get(first, "mass" if first.startswith("mass") else "volume")
