"""Air lines of a model: from each air pump to each end under water, with depth, check valve and pressure.

Left out: what the tube itself takes (little at these flows), stones as parts: each end counts as a stone.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from layout3d.band import Band
from layout3d.flow.air import air_pressure
from layout3d.flow.running import water_of
from layout3d.flow.waters import water_at_point
from layout3d.model.model import Model
from layout3d.parts.base import Vector
from layout3d.parts.run_data import RunData
from layout3d.units import GRAVITY

__all__ = ["AirLine", "air_lines"]


@dataclass(frozen=True, slots=True, kw_only=True)
class AirLine:
    """One way from an air pump to an end under water.

    ``pump_height`` is that of the pump's outlet, ``level`` that of the water over the end, ``top`` the
    highest point on the way, all as z [m]. ``pressure`` is needed at the pump, ``greatest`` what it makes at
    no flow, its curve's head read as depth of water, [Pa]. ``check_valve`` tells whether one on the way
    lets air out of the pump only.
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

    @property
    def depth(self) -> float:
        """Depth of the end under the water, [m]."""
        return self.level - self.end[2]

    @property
    def below(self) -> float:
        """How far the pump's outlet lies below the water, [m]; 0 or less where it stands above."""
        return self.level - self.pump_height


@dataclass(frozen=True, slots=True)
class _Way:
    port: str
    top: float
    check_valve: bool


def air_lines(model: Model) -> tuple[AirLine, ...]:
    """Return the ways of air from the model's air pumps to ends under water."""
    return tuple(
        line
        for built in model.of_kind("pump")
        if built.part.air  # type: ignore[attr-defined] # a pump
        for line in _lines(model, built.part.name)
    )


def _lines(model: Model, pump: str) -> Iterator[AirLine]:
    built = model.built[pump]
    entry = model.scene.catalog.pump(built.part.model)  # type: ignore[attr-defined] # a pump
    water = water_of(model)
    outlet = built.ports[0]
    todo = [_Way(outlet.name, outlet.at[2], False)]
    seen: set[str] = set()
    while todo:
        way = todo.pop()
        for name, run in _runs(model):
            if name in seen or way.port not in (run.start_port, run.end_port):
                continue
            seen.add(name)
            forward = way.port == run.start_port
            top, valve = way.top, way.check_valve
            for element in run.elements if forward else reversed(run.elements):
                top = max(top, *(point[2] for point in element.path))
                # a run laid toward the pump has its check valve against the air
                valve = valve or (forward and element.kind == "check_valve")
                if element.branch:
                    todo.append(_Way(element.branch, top, valve))
            on = run.end_port if forward else run.start_port
            if on:
                todo.append(_Way(on, top, valve))
                continue
            end = run.end_at if forward else run.start
            found = water_at_point(model, end)
            if (forward and run.end == "cap") or found is None or end[2] >= found[1]:
                continue
            yield AirLine(
                pump=pump,
                run=name,
                end=end,
                water=found[0],
                level=found[1],
                pump_height=outlet.at[2],
                top=top,
                check_valve=valve,
                pressure=air_pressure(found[1] - end[2], water=water),
                greatest=entry.points[0][1] * water.density * GRAVITY,
            )


def _runs(model: Model) -> Iterator[tuple[str, RunData]]:
    for built in model.of_kind("run"):
        if isinstance(built.data, RunData):
            yield built.part.name, built.data
