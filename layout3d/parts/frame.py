"""The frame in a stand: two rails along under its top board, rails across between them, legs in pairs."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from layout3d.errors import SceneMistake
from layout3d.fields import CatalogName, Count, Length, field
from layout3d.solid.boolean import difference
from layout3d.solid.placement import Placement, Vector
from layout3d.solid.primitives import box
from layout3d.solid.shape import Solid

__all__ = ["Frame"]


@dataclass(frozen=True, kw_only=True)
class Frame:
    """Bars of one section, rails on edge by their height; rails across are let in between those along."""

    width: float = field(Length(0.01, 0.3), doc="of its bars")
    height: float = field(
        Length(0.01, 0.5), doc="of its bars, as rails lie; legs are as wide along the front"
    )
    wall: float = field(Length(0.0, 0.05), 0.0, doc="of hollow bars; 0 for solid ones")
    legs: int = field(Count(2, 12), 2, doc="pairs of legs, front and back, spread evenly, two at the ends")
    across: int = field(Count(2, 40), 3, doc="rails across, spread evenly, two at the ends")
    material: str = field(CatalogName("material"), "steel", doc="of its bars")

    def __post_init__(self) -> None:
        """Refuse a wall that fills its bar."""
        if 2 * self.wall >= min(self.width, self.height):
            raise SceneMistake(
                "its walls fill the bars", expected="thinner walls, or 0 for solid bars", path="wall"
            )

    @property
    def inertia(self) -> float:
        """Second moment of area of a rail on edge, [m⁴]."""
        return self._inertia(self.width, self.height)

    @property
    def least_inertia(self) -> float:
        """Second moment of area of a leg the way that it gives first, [m⁴]."""
        return min(self.inertia, self._inertia(self.height, self.width))

    def _inertia(self, wide: float, high: float) -> float:
        inner = (wide - 2 * self.wall) * (high - 2 * self.wall) ** 3 if self.wall else 0.0
        return (wide * high**3 - inner) / 12.0

    def spans(self, length: float, depth: float) -> tuple[float, float, float]:
        """Return what is free between rails across, of rails across, and of rails along between legs, [m].

        Parameters
        ----------
        length, depth : of the room under the top board, [m]
        """
        between = (length - self.across * self.width) / (self.across - 1)
        along = (length - self.legs * self.height) / (self.legs - 1)
        return between, depth - 2 * self.width, along

    def bars(self, low: Vector, high: Vector) -> Iterator[tuple[str, Solid]]:
        """Yield its bars by name, in a room from its lowest to its highest corner, [m]."""
        (x0, y0, z0), (length, depth, tall) = low, np.subtract(high, low).tolist()
        w, h = self.width, self.height
        between, inner, along = self.spans(length, depth)
        back, under = y0 + depth - w, z0 + tall - h
        for side, y in (("front", y0), ("back", back)):
            yield f"rail_{side}", self._bar((length, w, h), (x0, y, under), 0)
            for n in range(self.legs):
                at = (x0 + n * (along + h), y, z0)
                yield f"leg_{side}_{n + 1}", self._bar((h, w, tall - h), at, 2)
        for n in range(self.across):
            yield f"across_{n + 1}", self._bar((w, inner, h), (x0 + n * (between + w), y0 + w, under), 1)

    def _bar(self, size: tuple[float, ...], at: tuple[float, ...], way: int) -> Solid:
        """Return a bar that is open at both ends, where it is hollow."""
        whole = box(size).solid(Placement.at(at))
        if not self.wall:
            return whole
        in_by = np.where(np.arange(3) == way, -self.wall, self.wall)
        left = difference(whole, [box(size - 2 * in_by).solid(Placement.at(at + in_by))])
        assert left is not None, "a wall is left: thicker ones are refused (Frame)"
        return left
