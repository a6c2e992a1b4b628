"""Words and columns that the flow report shares: bands as low, likely, high; assumptions; cautions."""

from __future__ import annotations

from collections.abc import Callable, Iterable

from layout3d.band import Band
from layout3d.fittings.losses import losses_table
from layout3d.flow.result import RunningFlow
from layout3d.model.model import Model
from layout3d.units import show

__all__ = [
    "RANGE",
    "assumptions",
    "band_cells",
    "likely_cell",
    "loss_sources",
    "one_line",
    "share_cells",
]

RANGE = (
    "low, likely, high: losses of all fittings and holes over their published range, all at once and one "
    "branch against the others; pumps weaker and stronger than their curve by its tolerance"
)


def band_cells(band: Band, kind: str, style: str, *, digits: int = 3) -> tuple[str, str, str]:
    """Return a band as three cells in the scene's units, with no more figures than its width bears.

    >>> band_cells(Band(low=1e-4, likely=2e-4, high=3e-4), "flow", "metric")
    ('400 L/h', '700 L/h', '1,100 L/h')
    """
    low, likely, high = (
        show(value, kind, system=style, digits=digits, give=band.half) for value in _figures(band)
    )
    return low, likely, high


def likely_cell(band: Band, kind: str, style: str, *, digits: int = 3) -> str:
    """Return the likely figure of a band, with no more figures than its width bears."""
    return band_cells(band, kind, style, digits=digits)[1]


def share_cells(band: Band) -> tuple[str, str, str]:
    """Return shares in per cent, with no more figures than the width of their band bears.

    >>> share_cells(Band(low=0.001, likely=0.1034, high=0.2))
    ('0.1%', '10%', '20%')
    """
    low, likely, high = (
        f"{show(100.0 * value, 'number', digits=3, give=100.0 * band.half)}%" for value in _figures(band)
    )
    return low, likely, high


def one_line(band: Band, cells: Callable[[Band], tuple[str, str, str]]) -> str:
    """Return a band in running text, likely first.

    >>> one_line(Band(low=0.5, likely=1.0, high=2.0), lambda band: band_cells(band, "head", "metric"))
    '1 m (0.5 m to 2 m)'
    """
    low, likely, high = cells(band)
    return likely if low == likely == high else f"{likely} ({low} to {high})"


def _figures(band: Band) -> tuple[float, float, float]:
    return band.low, band.likely, band.high


def assumptions(model: Model, flow: RunningFlow) -> tuple[str, ...]:
    """Return what was taken as given, so that a reader can judge the figures."""
    told = [
        f"water {show(flow.temperature + 273.15, 'temperature', system=model.scene.style)}, levels as in the "
        "scene and held there; pipes new and smooth: slime and lime take flow, plan for a tenth less",
        "bends, tees and valves one by one, without what they do to each other when close; no velocity head "
        "at tees",
        "gravity drains, the overflow and air lines are not in here (see `layout3d outage`)",
    ]
    sources = {f"{pump.model}: {model.scene.catalog.pump(pump.model).source}" for pump in flow.pumps}
    told += [f"pump curve {text}" for text in sorted(sources)]
    told += [
        f"{pump.pump} at {pump.speed:.0%} speed: flow goes with the speed, head with its square"
        for pump in flow.pumps
        if pump.speed != 1.0
    ]
    fitted = sorted({pump.model for pump in flow.pumps if pump.curve.parabola})
    told += [f"the three points of {name} are joined by a parabola" for name in fitted]
    if flow.bars:
        told.append(
            "holes drilled clean and free of burrs; share of the speed that comes back as pressure behind a "
            "hole 0.7 to 1.0 (from memory); a burr inside takes up to a quarter of the flow"
        )
    return (*told, *flow.notes)


def loss_sources(sources: Iterable[str]) -> tuple[str, ...]:
    """Return the full titles of the sets that loss sources name, each once."""
    text = " ".join(sources)
    return tuple(title for name, title in losses_table()["sets"].items() if name in text)
