"""What a fitting's shape is made into: one closed shape and its ports, in the fitting's own axes."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from layout3d.solid.placement import Vector
from layout3d.solid.shape import Shape

__all__ = ["FittingPort", "FittingShape", "Vector"]


@dataclass(frozen=True, slots=True, kw_only=True)
class FittingPort:
    """Where something joins a fitting; lengths in metres.

    Attributes
    ----------
    name : 'a' (the run comes in), 'b' (it goes on), 'branch', 'inside', 'outside' ...
    at : middle of the face of a socket, tip of a spigot or barb
    direction : out of the fitting, unit length
    end : 'socket' (a pipe goes in), 'spigot' (goes into a socket), 'barb' (a tube goes over), 'open', 'foot'
    socket_bottom : from ``at`` back along the direction to where the pipe or tube ends; 0 for a spigot
    bore : least inside diameter there
    """

    name: str
    at: Vector
    direction: Vector
    end: Literal["socket", "spigot", "barb", "open", "foot"]
    bore: float
    socket_bottom: float = 0.0

    @property
    def seat(self) -> Vector:
        """Where the ends of both meet: the pipe's end in a socket, the socket's bottom on a spigot's tip."""
        x, y, z = (
            point - way * self.socket_bottom for point, way in zip(self.at, self.direction, strict=True)
        )
        return (x, y, z)


@dataclass(frozen=True, slots=True, kw_only=True)
class FittingShape:
    """A fitting as one closed, hollow shape with its ports; its origin is where the pipes' axes cross.

    ``room`` is what has to stay free around it for a hand, None for nothing.
    """

    kind: str
    shape: Shape
    ports: tuple[FittingPort, ...]
    room: Shape | None = None

    @property
    def names(self) -> tuple[str, ...]:
        """The names of its ports."""
        return tuple(port.name for port in self.ports)

    def port(self, name: str) -> FittingPort:
        """Return the port of that name; another name is a fault of the program (KeyError)."""
        return {port.name: port for port in self.ports}[name]
