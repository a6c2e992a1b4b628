"""What laying pipe and laying tube share: the bodies of a run, with names and joins, and what comes of it."""

from __future__ import annotations

import numpy as np

from layout3d.parts.base import Body, Join, KeepClear, Port, Site
from layout3d.parts.run.fields import RunFields
from layout3d.parts.run.plan import Plan
from layout3d.parts.run_data import Element
from layout3d.solid.placement import Array
from layout3d.solid.shape import Solid

__all__ = ["Array", "Laying", "axes"]


class Laying:
    """A run that is laid along its plan, piece by piece; ``joint`` is how its pieces hold together.

    ``elements`` and ``bodies`` stand in flow order; ``end`` is where the run ends: a port of its own where
    something may join on, else None. ``clear`` is what hands need around its fittings.
    """

    joint = "socket"

    def __init__(self, run: RunFields, site: Site, plan: Plan) -> None:
        self.run, self.site, self.plan = run, site, plan
        self.elements: list[Element] = []
        self.bodies: list[Body] = []
        self.joins: list[Join] = []
        self.ports: list[Port] = []
        self.end: Port | None = None
        self.clear: list[KeepClear] = []
        self._taken = {node.name for node in plan.nodes}
        self._counts: dict[str, int] = {}

    def lay(self) -> None:
        """Lay all of it."""
        raise NotImplementedError(f"{type(self).__name__}.lay")

    def body(self, solid: Solid, kind: str, name: str = "") -> Body:
        """Return a piece of the run; without a name of its own it is called ``pipe_1``, ``elbow_90_2``.

        Names that the scene itself gives are passed over.
        """
        while not name:
            number = self._counts[kind] = self._counts.get(kind, 0) + 1
            name = f"{kind}_{number}" if f"{kind}_{number}" not in self._taken else ""
        where = self.run.whereabouts(self.site, solid)
        return self.run.body(solid, self.site, material=self.run.material, piece=name, kind=kind, where=where)

    def add(self, element: Element, body: Body) -> None:
        """Add a piece, joined to the one before it."""
        if self.bodies:
            self.joins.append(Join(self.bodies[-1].name, body.name, self.joint))
        self.elements.append(element)
        self.bodies.append(body)


def axes(first: Array, second: Array) -> Array:
    """Return (3, 3) orthonormal columns: first, what of second is square to it, and their cross product."""
    square = second - float(np.dot(second, first)) * first
    square = square / np.linalg.norm(square)
    return np.column_stack([first, square, np.cross(first, square)])
