"""Where a solid stands: a turn and a shift. No scaling, no mirroring."""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cached_property
from typing import TypeAlias

import numpy as np
from numpy.typing import ArrayLike, NDArray

__all__ = ["IDENTITY", "Array", "Placement", "Points", "Vector", "along", "vector"]

Array: TypeAlias = NDArray[np.float64]
Points: TypeAlias = Array
Vector: TypeAlias = tuple[float, float, float]
"""A point or way as three plain floats, as frozen data holds it."""

ROTATION_SLACK = 1e-9  # how far a rotation's rows may be from unit length and square to each other, [-]


@dataclass(frozen=True, eq=False)
class Placement:
    """A rigid move: first turned by ``rotation`` (3, 3), then shifted by ``offset`` (3,), [m].

    Placements are equal, and hash alike, when their numbers are the same. ``a @ b`` does ``b`` first.

    Raises
    ------
    ValueError : the rotation is not one (it scales, shears or mirrors), or a number is not finite.
    """

    rotation: Points
    offset: Points

    def __post_init__(self) -> None:
        # adding 0.0 turns -0.0 into 0.0, so that equal placements have equal bytes
        rotation = np.array(self.rotation, dtype=np.float64).reshape(3, 3) + 0.0
        offset = np.array(self.offset, dtype=np.float64).reshape(3) + 0.0
        if not all(map(math.isfinite, (*rotation.ravel().tolist(), *offset.tolist()))):
            raise ValueError("Placement: a number is not finite")
        if not _is_rotation(rotation.tolist()):
            raise ValueError(f"Placement.rotation must be a rotation, got {rotation.tolist()}")
        rotation.flags.writeable = False
        offset.flags.writeable = False
        object.__setattr__(self, "rotation", rotation)
        object.__setattr__(self, "offset", offset)

    @classmethod
    def identity(cls) -> Placement:
        """Return the placement that moves nothing."""
        return IDENTITY

    @classmethod
    def at(cls, point: ArrayLike) -> Placement:
        """Return a shift by ``point`` (3,), [m], without a turn."""
        return cls(np.eye(3), np.asarray(point, dtype=np.float64))

    @classmethod
    def turned(cls, axis: ArrayLike, angle_rad: float, about: ArrayLike = (0.0, 0.0, 0.0)) -> Placement:
        """Return a right-handed turn by ``angle_rad`` round ``axis`` (3,) through the point ``about``, [m].

        Quarter turns round a main axis come out exact.

        >>> import math
        >>> Placement.turned((0, 0, 1), math.pi / 2).apply([1.0, 0.0, 0.0]).tolist()
        [0.0, 1.0, 0.0]
        """
        x, y, z = _unit(axis, "Placement.turned: axis")
        cosine, sine = math.cos(angle_rad), math.sin(angle_rad)
        if abs(cosine) < 1e-15:
            cosine, sine = 0.0, math.copysign(1.0, sine)
        elif abs(sine) < 1e-15:
            cosine, sine = math.copysign(1.0, cosine), 0.0
        cross = np.array([[0.0, -z, y], [z, 0.0, -x], [-y, x, 0.0]])
        outer = np.outer((x, y, z), (x, y, z))
        rotation = cosine * np.eye(3) + sine * cross + (1.0 - cosine) * outer
        centre = np.asarray(about, dtype=np.float64)
        return cls(rotation, centre - rotation @ centre)

    @classmethod
    def from_frame(cls, origin: ArrayLike, x_axis: ArrayLike, z_axis: ArrayLike) -> Placement:
        """Return the placement that carries the shape's own z along ``z_axis`` and its x as near ``x_axis``.

        Parameters
        ----------
        origin : (3,) float, [m]; where the shape's own origin goes
        x_axis, z_axis : (3,) float, any length above 0, not parallel; ``z_axis`` is met exactly
        """
        up = _unit(z_axis, "Placement.from_frame: z_axis")
        wish = np.asarray(x_axis, dtype=np.float64)
        across = wish - (wish @ up) * up
        if np.linalg.norm(across) <= 1e-9 * max(float(np.linalg.norm(wish)), 1e-300):
            raise ValueError("Placement.from_frame: x_axis and z_axis must not be parallel")
        right = _unit(across, "Placement.from_frame: x_axis")
        return cls(np.column_stack([right, np.cross(up, right), up]), np.asarray(origin, dtype=np.float64))

    def __matmul__(self, other: Placement) -> Placement:
        rotation = self.rotation @ other.rotation
        # long chains of turns drift: pull the product back to a true rotation before it shows
        if np.abs(rotation @ rotation.T - np.eye(3)).max() > 1e-13:
            left, _, right = np.linalg.svd(rotation)
            rotation = left @ right
        return Placement(rotation, self.rotation @ other.offset + self.offset)

    def inverse(self) -> Placement:
        """Return the placement that undoes this one."""
        return self._inverse

    @cached_property
    def _inverse(self) -> Placement:
        return Placement(self.rotation.T, -(self.rotation.T @ self.offset))

    def apply(self, points: ArrayLike) -> Points:
        """Return ``points`` (n, 3) or (3,), [m], turned and shifted."""
        return self.direction(points) + self.offset

    def direction(self, vectors: ArrayLike) -> Points:
        """Return ``vectors`` (n, 3) or (3,) turned but not shifted."""
        x, y, z = np.asarray(vectors, dtype=np.float64).T
        a, b, c = self.rotation.T.reshape((3, 3) + (1,) * x.ndim)
        turned: Points = np.ascontiguousarray((x * a + y * b + z * c).T)
        return turned

    def __eq__(self, other: object) -> bool:
        if not isinstance(other, Placement):
            return NotImplemented
        return bool((self.rotation == other.rotation).all() and (self.offset == other.offset).all())

    def __hash__(self) -> int:
        return hash((self.rotation.tobytes(), self.offset.tobytes()))


def along(points: ArrayLike, direction: ArrayLike) -> Points:
    """Return the dot product of each of ``points`` (…, 3) with ``direction`` (3,).

    Written out, for a matrix product of a long thin array wakes every core, which takes longer than the sum.
    """
    given = np.asarray(points, dtype=np.float64)
    a, b, c = np.asarray(direction, dtype=np.float64)
    heights: Points = given[..., 0] * a + given[..., 1] * b + given[..., 2] * c
    return heights


def vector(values: ArrayLike) -> Vector:
    """Return three plain floats of an array."""
    x, y, z = np.asarray(values, dtype=np.float64).tolist()
    return (x, y, z)


def _is_rotation(rows: list[list[float]]) -> bool:
    """Tell whether rows are square to each other, of length 1 and right-handed; by hand, for speed."""
    (a, b, c), (d, e, f), (g, h, i) = rows
    off = (
        a * a + b * b + c * c - 1.0,
        d * d + e * e + f * f - 1.0,
        g * g + h * h + i * i - 1.0,
        a * d + b * e + c * f,
        a * g + b * h + c * i,
        d * g + e * h + f * i,
    )
    handed = a * (e * i - f * h) - b * (d * i - f * g) + c * (d * h - e * g)
    return max(map(abs, off)) <= ROTATION_SLACK and handed >= 0.0


def _unit(way: ArrayLike, name: str) -> Points:
    given = np.asarray(way, dtype=np.float64).reshape(3)
    length = float(np.linalg.norm(given))
    if not (math.isfinite(length) and length > 0.0):
        raise ValueError(f"{name} must have a length, got {given.tolist()}")
    return given / length


IDENTITY = Placement(np.eye(3), np.zeros(3))
