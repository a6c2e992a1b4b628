"""A drilled pipe as plain data, and what its holes give once solved. Solved by ``flow.solve``."""

from __future__ import annotations

import math
from dataclasses import dataclass
from itertools import pairwise
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from layout3d.band import Band, Setting
from layout3d.errors import OutOfRange
from layout3d.flow.orifice import hole_coefficient
from layout3d.flow.pipe import DEFAULT_ROUGHNESS
from layout3d.guards import above_zero, finite, not_negative, within
from layout3d.units import GRAVITY, show

__all__ = ["RECOVERY", "Bar", "BarFlow", "HoleState", "hole_state"]

HoleState = Literal["dry", "holds", "weeps", "runs", "spurts"]
# share of the velocity head a hole takes out that comes back as pressure behind it; 1.0 is an ideal bar,
# measured with sharp holes mostly 0.7 to 1.0: from memory, check before relying on it
RECOVERY = Band(low=0.7, likely=1.0, high=1.0, note="measured with sharp holes, from memory")

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True)
class Bar:
    """A drilled pipe, fed at place 0 or at its far end ``length``, at both, or run through.

    positions : (n,) along the pipe from the inlet, rising, [m]
    diameters : (n,) of the holes, [m]
    heights : (n,) of the holes over the datum, [m]; a level bar has them all alike
    length : from inlet to far end, [m]
    bore, roughness : of the pipe, [m]; the true inside diameter, not the nominal size
    wall : thickness the holes go through, [m]; None where not known
    coefficient : of the holes; None takes it from ``wall``, hole by hole
    """

    positions: tuple[float, ...]
    diameters: tuple[float, ...]
    heights: tuple[float, ...]
    length: float
    bore: float
    roughness: float = DEFAULT_ROUGHNESS
    wall: float | None = None
    coefficient: Band | None = None

    def __post_init__(self) -> None:
        for name in ("positions", "diameters", "heights"):
            figures = tuple(finite(figure, f"Bar.{name}", "m") for figure in getattr(self, name))
            object.__setattr__(self, name, figures)
        count = len(self.positions)
        if count == 0 or len(self.diameters) != count or len(self.heights) != count:
            raise OutOfRange(
                f"a bar has {count} positions, {len(self.diameters)} diameters, {len(self.heights)} heights",
                expected="as many of each, one or more",
            )
        above_zero(self.bore, "bore of the bar", "m")
        not_negative(self.roughness, "roughness of the bar", "m")
        within(self.roughness / self.bore, 0.0, 0.05, "relative roughness of the bar", "of the bore")
        rising = [0.0, *self.positions, finite(self.length, "length of the bar", "m")]
        if any(after < before for before, after in pairwise(rising)):
            raise OutOfRange("the holes of a bar must lie in order along it, between 0 and its length")
        for diameter in self.diameters:
            above_zero(diameter, "hole diameter", "m")
            if diameter >= self.bore:
                wide, bore = show(diameter, "length"), show(self.bore, "length")
                raise OutOfRange(f"a hole of {wide} in a bore of {bore} is no hole")
        self.coefficients("low")

    @property
    def count(self) -> int:
        """Number of holes."""
        return len(self.positions)

    @property
    def area_ratio(self) -> float:
        """Area of all holes over that of the bore; up to 0.5 is even, above 1 is not (common practice)."""
        return math.fsum(diameter**2 for diameter in self.diameters) / self.bore**2

    @property
    def served_length(self) -> float:
        """Length of wall the holes serve, [m]: each half way to its neighbours, and as far at the ends."""
        if self.count == 1:
            return self.length
        return (self.positions[-1] - self.positions[0]) * self.count / (self.count - 1)

    def coefficients(self, setting: Setting) -> tuple[float, ...]:
        """Discharge coefficient of each hole at one setting of the band, [-]."""
        if self.coefficient is not None:
            return (self.coefficient.at(setting),) * self.count
        by_size = {size: hole_coefficient(size, self.wall).at(setting) for size in set(self.diameters)}
        return tuple(by_size[size] for size in self.diameters)


@dataclass(frozen=True, slots=True, kw_only=True)
class BarFlow:
    """What a bar gives. Arrays are (n,), read-only, by hole from the inlet.

    flows [m³/s]; hole_heads: static head over each hole that drives it [m]; inlet_flow and
    far_flow: what comes in at each end [m³/s], below 0 where it leaves; static_head and total_head: at the
    inlet, as z [m]. ``margin``: by how much the heads over the holes exceeded those that break their drops
    as they began, the least of all, [m]; below 0 where one stays shut.
    """

    flows: Floats
    hole_heads: Floats
    inlet_flow: float
    far_flow: float
    inlet_velocity: float
    static_head: float
    total_head: float
    margin: float

    @property
    def flow(self) -> float:
        """Flow of all holes, [m³/s]."""
        return float(self.flows.sum())

    @property
    def variation(self) -> float:
        """Coefficient of variation of the hole flows, [-]; 0 where nothing flows."""
        mean = float(self.flows.mean())
        return float(self.flows.std()) / mean if mean > 0.0 else 0.0

    @property
    def low_quarter_uniformity(self) -> float:
        """Mean of the weakest quarter of the holes over the mean of all, [-]; 1 is perfectly even.

        Sources
        -------
        Distribution uniformity as in ASABE EP405 and EP458, from memory, check before relying on it.
        """
        mean = float(self.flows.mean())
        quarter = math.ceil(0.25 * len(self.flows))
        return float(np.sort(self.flows)[:quarter].mean()) / mean if mean > 0.0 else 0.0


def hole_state(head: float, flow: float, *, weeps: float, spurts: float) -> HoleState:
    """Return how a hole gives: by its head, that up to which it weeps [m], and its jet's speed [m/s]."""
    if flow <= 0.0:
        return "holds" if head > 0.0 else "dry"
    if math.sqrt(2.0 * GRAVITY * max(0.0, head)) > spurts:
        return "spurts"
    return "weeps" if head < weeps else "runs"
