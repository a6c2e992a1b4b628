"""An air pump and the depth it must push against: the pressure it needs. No air lift."""

from __future__ import annotations

from layout3d.band import Band
from layout3d.flow.water import Water, water_at
from layout3d.guards import not_negative
from layout3d.units import GRAVITY

__all__ = ["STONE", "air_pressure", "highest_loop"]

# pressure an air stone takes, new to clogged, [Pa]. Common practice, no source
STONE = Band(
    low=500.0, likely=1500.0, high=4000.0, note="air stone, new to clogged: common practice, no source"
)


def air_pressure(
    depth: float, *, stone: Band = STONE, line_loss: float = 0.0, water: Water | None = None
) -> Band:
    """Pressure an air pump needs, [Pa].

    Parameters
    ----------
    depth : of the stone or the open end under the water, [m], 0 or more
    stone : pressure the stone takes, [Pa]; ``Band.exact(0.0)`` for an open end
    line_loss : of tube and valves, [Pa]

    Sources
    -------
    Hydrostatics: rho g depth, 9.8 kPa a metre.
    """
    not_negative(depth, "depth of the air stone", "m")
    not_negative(line_loss, "loss of the air line", "Pa")
    standing = (water or water_at()).density * GRAVITY * depth + line_loss
    return stone.map(lambda own: standing + own)


def highest_loop(waterline: float, pump_outlet: float, *, margin: float = 0.05) -> float:
    """Height an air line must loop up to, z [m], so that no water can siphon back into a stopped pump.

    The pump's own outlet, where that is ``margin`` above the waterline; else the waterline and the margin,
    with a check valve (common practice, no source).
    """
    return max(pump_outlet, waterline + not_negative(margin, "margin of the loop", "m"))
