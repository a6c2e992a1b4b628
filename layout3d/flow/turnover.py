"""How often an hour pumps move the tank's water. No word on what passes the filter of a pump in the tank."""

from __future__ import annotations

from dataclasses import dataclass

from layout3d.band import Band
from layout3d.flow.result import PumpRun, RunningFlow
from layout3d.model.model import Model
from layout3d.pipework.read import pipework
from layout3d.water.figures import figures

__all__ = ["Turnover", "turnovers"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Turnover:
    """Flow of pumps that stand in the sump ('return') or in the tank ('circulation').

    ``flow`` is their sum [m³/s], ``volume`` the water in the tank [m³], pores included.
    """

    kind: str
    pumps: tuple[str, ...]
    flow: Band
    volume: float

    @property
    def per_hour(self) -> Band:
        """Volumes an hour, [1/h]."""
        return self.flow.map(lambda flow: flow * 3600.0 / self.volume)


def turnovers(model: Model, flow: RunningFlow) -> tuple[Turnover, ...]:
    """Return the turnover of return pumps and of circulation pumps, where there are any.

    A pump outside the tank that brings it nothing, such as one that tops up the sump, counts for neither.
    """
    volume = figures(model)["water_volume_net"]
    assert isinstance(volume, float), "the net volume is one figure (turnovers)"
    if not volume > 0.0:
        return ()
    by_kind: dict[str, list[PumpRun]] = {"return": [], "circulation": []}
    ways = [part for part in pipework(model).parts if any(m.vessel == model.tank_name for m in part.mouths)]
    bring = {pump.name for part in ways for pump in part.water_pumps}
    for pump in flow.pumps:
        if pump.water != model.tank_name and pump.pump not in bring:
            continue
        by_kind["circulation" if pump.water == model.tank_name else "return"].append(pump)
    return tuple(
        Turnover(
            kind=kind,
            pumps=tuple(one.pump for one in several),
            flow=Band.total(one.flow for one in several),
            volume=volume,
        )
        for kind, several in by_kind.items()
        if several
    )
