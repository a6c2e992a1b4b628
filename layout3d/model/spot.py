"""A spot a scene is looked at from. By itself: who draws what was kept of a model needs no more of it."""

from __future__ import annotations

from dataclasses import dataclass

from layout3d.solid.placement import Vector

__all__ = ["CameraSpot"]


@dataclass(frozen=True, slots=True, kw_only=True)
class CameraSpot:
    """A camera of the scene in the tank's axes, [m]; ``angle`` over the shorter side of a picture, [rad]."""

    at: Vector
    target: Vector
    angle: float
