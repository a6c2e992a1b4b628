"""Air lines of a model: from each air pump to each end under water, with depth, check valve and pressure.

No air lift. Left out: what the tube itself takes (little at these flows). An end in an air stone takes the
stone's pressure, an open end none.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from layout3d.band import Band
from layout3d.flow.water import Water, water_of
from layout3d.guards import not_negative
from layout3d.model.model import Model
from layout3d.parts.base import Vector
from layout3d.pipework.read import pipework
from layout3d.pipework.waters import water_at_point
from layout3d.units import GRAVITY

__all__ = ["STONE", "AirLine", "air_lines", "air_pressure", "highest_loop"]

# pressure an air stone takes, new to clogged, [Pa]. Common practice, no source
STONE = Band(
    low=500.0, likely=1500.0, high=4000.0, note="air stone, new to clogged: common practice, no source"
)


def air_pressure(depth: float, *, stone: Band = STONE, water: Water) -> Band:
    """Pressure an air pump needs, [Pa].

    Parameters
    ----------
    depth : of the stone or the open end under the water, [m], 0 or more
    stone : pressure the stone takes, [Pa]; ``Band.exact(0.0)`` for an open end

    Sources
    -------
    Hydrostatics: rho g depth, 9.8 kPa a metre.
    """
    not_negative(depth, "depth of the air stone", "m")
    standing = water.density * GRAVITY * depth
    return stone.map(lambda own: standing + own)


def highest_loop(waterline: float, pump_outlet: float) -> float:
    """Height an air line must loop up to, z [m], so that no water can siphon back into a stopped pump.

    The pump's own outlet, where that is 50 mm above the waterline; else so far above it, with a check valve
    (common practice, no source).
    """
    return max(pump_outlet, waterline + 0.05)


@dataclass(frozen=True, slots=True, kw_only=True)
class AirLine:
    """One way from an air pump to an end under water.

    ``pump_height`` is that of the pump's outlet, ``level`` that of the water over the end, ``top`` the
    highest point on the way, all as z [m]. ``pressure`` is needed at the pump, ``greatest`` what it makes at
    no flow, its curve's head read as depth of water, [Pa]. ``check_valve`` tells whether one on the way
    lets air out of the pump only, ``stone`` whether the end is an air stone.
    """

    pump: str
    run: str
    end: Vector
    water: str
    level: float
    pump_height: float
    top: float
    check_valve: bool
    pressure: Band
    greatest: float
    stone: bool

    @property
    def depth(self) -> float:
        """Depth of the end under the water, [m]."""
        return self.level - self.end[2]

    @property
    def below(self) -> float:
        """How far the pump's outlet lies below the water, [m]; 0 or less where it stands above."""
        return self.level - self.pump_height


def air_lines(model: Model) -> tuple[AirLine, ...]:
    """Return the ways of air from the model's air pumps to ends under water."""
    return tuple(_lines(model))


def _lines(model: Model) -> Iterator[AirLine]:
    water = water_of(model)
    models = {built.part.name: built.part.model for built in model.pumps}
    for part in pipework(model).parts:
        for pump in part.pumps:
            if not pump.air:
                continue
            entry = model.scene.catalog.pump(models[pump.name])
            height = part.heights[pump.node]
            for mouth in part.mouths:
                way, found = part.way(pump.node, mouth.node), water_at_point(model, mouth.at)
                if way is None or not way.steps or found is None or mouth.at[2] >= found[1]:
                    continue
                stone = mouth.kind == "air_stone"
                yield AirLine(
                    pump=pump.name,
                    run=mouth.part,
                    end=mouth.at,
                    water=found[0],
                    level=found[1],
                    pump_height=height,
                    top=max(height, way.top),
                    check_valve=bool(way.valve_for()),
                    pressure=air_pressure(
                        found[1] - mouth.at[2], stone=STONE if stone else Band.exact(0.0), water=water
                    ),
                    stone=stone,
                    greatest=entry.points[0][1] * water.density * GRAVITY,
                )
