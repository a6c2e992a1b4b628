"""What a catalogue holds: frozen entries in SI. No table and no name is read here (see ``shipped``)."""

from __future__ import annotations

import math
from dataclasses import dataclass
from itertools import pairwise
from typing import Final, Literal

from layout3d.units import show

__all__ = [
    "MEASURE_YOURS",
    "Bulkhead",
    "Family",
    "Limit",
    "Material",
    "Pipe",
    "Pump",
    "Severity",
    "Sources",
    "Tube",
]

Family = Literal["inch", "metric"]
Severity = Literal["fault", "warning", "note"]
Sources = tuple[tuple[str, str], ...]
"""(field, source) of the figures whose source is not the entry's own; a tuple can be hashed and sent on."""
MEASURE_YOURS: Final = "common practice, no source; makers differ: measure yours"


def _need(entry: Pipe | Tube | Bulkhead | Material | Pump, holds: bool, told: str, *lengths: float) -> None:
    """Refuse an entry of which something doesn't hold; ``lengths`` [m] go into the places of what is told."""
    if not holds:
        told = told.format(*(show(length, "length") for length in lengths)) if lengths else told
        raise ValueError(f"{type(entry).__name__.lower()} {entry.name!r}: {told}")


def _need_above_zero(entry: Pipe | Tube | Bulkhead | Material, *figures: str) -> None:
    for name in figures:
        value = getattr(entry, name)
        _need(entry, math.isfinite(value) and value > 0, f"{name} must be above 0, got {value!r}")


@dataclass(frozen=True, slots=True, kw_only=True)
class Sourced:
    """An entry whose figures may have sources of their own."""

    name: str
    source: str
    sources: Sources = ()

    def source_of(self, figure: str) -> str:
        """Return the source of one field: its own where it has one, else the entry's."""
        return dict(self.sources).get(figure, self.source)


@dataclass(frozen=True, slots=True, kw_only=True)
class Pipe(Sourced):
    """A rigid pipe and the sockets of the fittings made for it; lengths in metres.

    ``inside_diameter`` is the average bore (inch) or outside less two walls (metric). ``g_90`` and
    ``g_45`` are centre to socket bottom of elbows (a tee has ``g_90`` on all three ends); ``coupling_gap``
    is socket bottom to socket bottom of a coupling; ``hub_diameter`` is the outside of a fitting's hub.
    """

    family: Family
    size: str
    outside_diameter: float
    inside_diameter: float
    wall_min: float
    socket_depth: float
    g_90: float
    g_45: float
    coupling_gap: float
    hub_diameter: float

    def __post_init__(self) -> None:
        _need_above_zero(self, "outside_diameter", "inside_diameter", "wall_min", "socket_depth")
        _need_above_zero(self, "g_90", "g_45", "coupling_gap")
        _need(
            self,
            self.inside_diameter < self.outside_diameter < self.hub_diameter,
            "inside {}, outside {} and hub {} must rise in this order",
            self.inside_diameter,
            self.outside_diameter,
            self.hub_diameter,
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class Tube:
    """A flexible tube; lengths in metres. ``kind`` 'hose' is cemented into pipe sockets of its ``size``."""

    name: str
    kind: Literal["tube", "hose"]
    family: Family
    size: str
    inside: float
    outside: float
    min_bend_radius: float
    source: str

    def __post_init__(self) -> None:
        _need_above_zero(self, "inside", "min_bend_radius")
        told = "inside {} must be below outside {}"
        _need(self, self.inside < self.outside, told, self.inside, self.outside)


@dataclass(frozen=True, slots=True, kw_only=True)
class Bulkhead(Sourced):
    """A bulkhead: flange and gasket inside, thread through the glass, nut outside; lengths in metres.

    ``hole_diameter`` is the upper end of ``hole_range``; ``length`` is end to end; ``pipe_size`` names the
    pipe its two sockets take (``socket_depth`` each, ``bore`` between); ``grip_range`` is the wall it holds.
    """

    style: str
    family: Family
    size: str
    pipe_size: str
    hole_diameter: float
    hole_range: tuple[float, float]
    flange_diameter: float
    flange_thickness: float
    nut_diameter: float
    nut_thickness: float
    thread_diameter: float
    gasket_thickness: float
    grip_range: tuple[float, float]
    length: float
    bore: float
    socket_diameter: float
    socket_depth: float

    def __post_init__(self) -> None:
        _need_above_zero(
            self, "flange_thickness", "nut_thickness", "gasket_thickness", "bore", "socket_depth"
        )
        names = ("bore", "socket_diameter", "thread_diameter", "hole_diameter", "flange_diameter")
        rising = [getattr(self, name) for name in names]
        _need(
            self,
            all(low < high for low, high in pairwise(rising)),
            "bore, socket, thread, hole and flange diameters must rise, got {}, {}, {}, {}, {}",
            *rising,
        )
        told = "the nut ({}) must cover the hole"
        _need(self, self.hole_diameter < self.nut_diameter, told, self.nut_diameter)
        _need(self, self.length >= 2 * self.socket_depth, "length {} is below two socket depths", self.length)

    @property
    def inside_height(self) -> float:
        """How far it stands into the tank from the inside glass face, [m]: gasket and flange."""
        return self.gasket_thickness + self.flange_thickness

    @property
    def outside_length(self) -> float:
        """How far it reaches from the inside glass face to the outside, [m], the glass included."""
        return self.length - self.inside_height


@dataclass(frozen=True, slots=True, kw_only=True)
class Material:
    """A material; densities in kg/m³.

    ``density`` is that of the stuff itself: of a sand, its grains. ``porosity`` is the share of the volume
    that fills with water; 0 for solid stuff. A volume V as it lies displaces (1 - porosity) V of water.
    """

    name: str
    density: float
    density_range: tuple[float, float]
    source: str
    porosity: float = 0.0
    also: tuple[str, ...] = ()
    note: str = ""

    def __post_init__(self) -> None:
        _need_above_zero(self, "density")
        told = f"porosity must be from 0 to below 1, got {self.porosity!r}"
        _need(self, 0.0 <= self.porosity < 1.0, told)
        told = f"density {self.density} is outside {self.density_range} kg/m³"
        _need(self, self.density_range[0] <= self.density <= self.density_range[1], told)


@dataclass(frozen=True, slots=True, kw_only=True)
class Limit:
    """A figure that a rule judges by; ``unit`` names what ``value`` counts ('m', 'hole diameters', ...)."""

    name: str
    value: float
    unit: str
    severity: Severity
    source: str
    note: str = ""


# share of the head of a generic curve; ISO 9906 allows 5 to 7 % even of a pump tested one by one (grades 2B
# and 3B, from memory, check before relying on it)
PUMP_TOLERANCE = 0.10


@dataclass(frozen=True, slots=True, kw_only=True)
class Pump:
    """A pump as a curve; flow in m³/s, head in m, power in W.

    ``points`` (flow, head) run from shut-off to zero head, flow rising and head falling; ``size`` is its box
    (length, width, height); ``outlet`` the bore of the tube that fits its outlet. ``air`` tells an air pump,
    whose flow is free air and whose head is the depth of water that its pressure holds. ``tolerance`` is the
    share by which the head of a single pump may differ from the curve, either way, [-].
    """

    name: str
    points: tuple[tuple[float, float], ...]
    power: float
    source: str
    size: tuple[float, float, float] = (0.10, 0.07, 0.09)
    outlet: float = 0.016
    note: str = ""
    air: bool = False
    tolerance: float = PUMP_TOLERANCE

    def __post_init__(self) -> None:
        _need(self, 0.0 <= self.tolerance <= 0.5, f"tolerance must be 0 to 50 %, got {self.tolerance:.0%}")
        _need(self, len(self.points) > 1, f"a curve takes 2 points or more, got {len(self.points)}")
        rising = all(high[0] > low[0] and high[1] < low[1] for low, high in pairwise(self.points))
        _need(self, rising, "flow must rise and head must fall along the points")
        told = "points start at zero flow (shut-off head) and end at 0 m or above"
        _need(self, self.points[0][0] == 0.0 and self.points[-1][1] >= 0.0, told)

    @property
    def shut_off_head(self) -> float:
        """Head at no flow, [m]."""
        return self.points[0][1]

    @property
    def greatest_flow(self) -> float:
        """Flow at the last point, [m³/s]."""
        return self.points[-1][0]
