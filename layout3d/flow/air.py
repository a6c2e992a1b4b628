"""An air pump and the depth it must push against: pressure needed, and what it gives there. No air lift."""

from __future__ import annotations

from dataclasses import dataclass

from layout3d.band import Band
from layout3d.errors import NoOperatingPoint, OutOfRange
from layout3d.flow.monotone import Monotone
from layout3d.flow.water import Water, water_at
from layout3d.guards import not_negative
from layout3d.units import GRAVITY

__all__ = ["STONE", "AirPump", "air_flow", "air_pressure", "highest_loop"]

# pressure an air stone takes, new to clogged, [Pa]. Common practice, no source
STONE = Band(
    low=500.0, likely=1500.0, high=4000.0, note="air stone, new to clogged: common practice, no source"
)


@dataclass(frozen=True, slots=True, kw_only=True)
class AirPump:
    """An air pump as points: ``flows`` of free air [m³/s] rising from 0, ``pressures`` [Pa] falling."""

    flows: tuple[float, ...]
    pressures: tuple[float, ...]
    name: str = "air pump"

    def __post_init__(self) -> None:
        object.__setattr__(self, "flows", tuple(float(flow) for flow in self.flows))
        object.__setattr__(self, "pressures", tuple(float(pressure) for pressure in self.pressures))
        count = len(self.flows)
        rising = all(b > a for a, b in zip(self.flows[:-1], self.flows[1:], strict=True))
        falling = all(b < a for a, b in zip(self.pressures[:-1], self.pressures[1:], strict=False))
        whole = (
            count >= 2 and len(self.pressures) == count and self.flows[0] == 0.0 and self.pressures[-1] >= 0.0
        )
        if not (whole and rising and falling):
            raise OutOfRange(
                f"the points of {self.name} must be two or more, flows rising from 0, pressures falling"
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


def air_flow(pump: AirPump, pressure: float) -> float:
    """Flow of free air [m³/s] that a pump gives against ``pressure`` [Pa].

    Raises
    ------
    NoOperatingPoint : more pressure than the pump can make, with the miss.
    OutOfRange : less than its last point, where its curve is not known.
    """
    not_negative(pressure, "pressure of the air", "Pa")
    if pressure > pump.pressures[0]:
        raise NoOperatingPoint(
            f"{pump.name} makes at most {pump.pressures[0] / 1000:.3g} kPa and {pressure / 1000:.3g} kPa is "
            f"needed: {(pressure - pump.pressures[0]) / 1000:.2g} kPa short",
            remedy="set the stone less deep, clean or change it, or use a stronger pump",
        )
    if pressure < pump.pressures[-1]:
        raise OutOfRange(
            f"{pump.name} is not known below {pump.pressures[-1]:g} Pa, asked at {pressure:g} Pa"
        )
    return max(0.0, Monotone(pump.pressures[::-1], pump.flows[::-1]).at(pressure)[0])


def highest_loop(waterline: float, pump_outlet: float, *, margin: float = 0.05) -> float:
    """Height an air line must loop up to, z [m], so that no water can siphon back into a stopped pump.

    The pump's own outlet, where that is ``margin`` above the waterline; else the waterline and the margin,
    with a check valve (common practice, no source).
    """
    return max(pump_outlet, waterline + not_negative(margin, "margin of the loop", "m"))
