"""The model: a scene's parts as placed bodies, ports, joins and spaces. Frozen; nothing is judged here."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from functools import cached_property
from types import NoneType
from typing import Any, TypeVar, cast

import numpy as np

from layout3d.model.spot import CameraSpot
from layout3d.parts.background import Background
from layout3d.parts.background_data import BackgroundData
from layout3d.parts.base import Body, Built, Join, KeepClear, Part, Port, Space
from layout3d.parts.filter_basket import FilterBasket
from layout3d.parts.heater import Heater
from layout3d.parts.light import Light
from layout3d.parts.mist_maker import MistMaker
from layout3d.parts.overflow_box import OverflowBox
from layout3d.parts.pump import Pump
from layout3d.parts.run import Run
from layout3d.parts.run_data import RunData
from layout3d.parts.substrate import Substrate
from layout3d.parts.sump import Sump
from layout3d.parts.tank_data import TankData
from layout3d.parts.vessel import OverflowBoxData, SumpData
from layout3d.scene.scene import Scene
from layout3d.solid.placement import Points, Vector

__all__ = ["Model", "Question"]

PartT = TypeVar("PartT", bound=Part)
DataT = TypeVar("DataT")

Question = tuple[str, ...]

CUT_AROUND = ("embedded", "seal", "hole", "socket")
"""Joins of bodies made to fit: one cut around the other, or a pipe in its socket. They share nothing."""


def _of(part: type[PartT], data: type[DataT]) -> cached_property[tuple[Built[PartT, DataT], ...]]:
    """Return what finds the built parts of one kind in a model, with their types."""

    def find(model: Model) -> tuple[Built[PartT, DataT], ...]:
        return tuple(
            cast("Built[PartT, DataT]", built)
            for built in model.built.values()
            if isinstance(built.part, part) and isinstance(built.data, data)
        )

    return cached_property(find)


@dataclass(frozen=True, kw_only=True)
class Model:
    """A scene, built. ``bodies`` keep the file's order; names are unique."""

    scene: Scene
    built: Mapping[str, Built[Part, object]]
    bodies: tuple[Body, ...]
    ports: Mapping[str, Port]
    joins: tuple[Join, ...]
    keep_clear: tuple[KeepClear, ...]
    spaces: Mapping[str, Space]
    tank_name: str
    cameras: Mapping[str, CameraSpot] = field(default_factory=dict)
    asked: Mapping[str, Mapping[Question, object]] = field(default_factory=dict, repr=False, compare=False)
    """What each part asked the site while it was built, and the answers: it hangs on these and its fields."""
    before: Mapping[Any, Any] = field(default_factory=dict, repr=False, compare=False)
    """What was kept for the model that this one was built from: ``water.remembered``."""
    known: dict[Any, Any] = field(init=False, default_factory=dict, repr=False, compare=False)
    """What is kept for this one."""
    checked: dict[Any, Any] = field(init=False, default_factory=dict, repr=False, compare=False)
    """Whether it answers as the one before did, by question and answer."""
    _cut: frozenset[frozenset[str]] = field(init=False, repr=False)
    _by_name: Mapping[str, Body] = field(init=False, repr=False)

    def __post_init__(self) -> None:
        """Index joins and bodies."""
        cut = (frozenset((join.a, join.b)) for join in self.joins if join.how in CUT_AROUND)
        object.__setattr__(self, "_cut", frozenset(cut))
        object.__setattr__(self, "_by_name", {body.name: body for body in self.bodies})

    @property
    def tank(self) -> TankData:
        """Return the tank's data."""
        data = self.built[self.tank_name].data
        assert isinstance(data, TankData), "the tank builds its data (Model.tank)"
        return data

    @property
    def waterline(self) -> float:
        """Return the height of the water over the tank's inside floor, [m]."""
        return self.scene.waterline

    @property
    def notes(self) -> tuple[str, ...]:
        """Return what building told: meshes that were mended, what was assumed."""
        return tuple(note for built in self.built.values() for note in built.notes)

    @cached_property
    def bounds(self) -> Points:
        """Return the boxes of the bodies, in their order: lowest and highest corners, (n, 2, 3), [m]."""
        return np.array([body.solid.bounds for body in self.bodies]).reshape(-1, 2, 3)

    def body(self, name: str) -> Body:
        """Return a body by its full name; KeyError if there is none."""
        return self._by_name[name]

    def bodies_of(self, *names: str) -> tuple[Body, ...]:
        """Return the bodies that these names mean: a body, a part, or a group."""
        wanted = set(names)
        return tuple(b for b in self.bodies if {b.name, b.part, b.group} & wanted)

    def near(self, low: Vector, high: Vector) -> tuple[Body, ...]:
        """Return the bodies whose boxes meet a box, in their order; the box by its corners, [m]."""
        meets = ((self.bounds[:, 0] <= high) & (self.bounds[:, 1] >= low)).all(axis=1)
        return tuple(self.bodies[index] for index in np.flatnonzero(meets).tolist())

    def such(self, holds: Callable[[Body], bool]) -> tuple[Body, ...]:
        """Return the bodies that something holds of, in their order.

        What else ``holds`` rests on must have been asked of this model before: then nothing hangs on others.
        """
        return tuple(filter(holds, self.bodies))

    def of_kind(self, *kinds: str) -> tuple[Built[Part, object], ...]:
        """Return the built parts of these kinds; those below know their types as well."""
        return tuple(built for built in self.built.values() if built.part.kind in kinds)

    backgrounds = _of(Background, BackgroundData)
    filter_baskets = _of(FilterBasket, NoneType)
    heaters = _of(Heater, NoneType)
    lights = _of(Light, NoneType)
    mist_makers = _of(MistMaker, NoneType)
    overflow_boxes = _of(OverflowBox, OverflowBoxData)
    pumps = _of(Pump, NoneType)  # air pumps too
    runs = _of(Run, RunData)
    substrates = _of(Substrate, NoneType)
    sumps = _of(Sump, SumpData)

    @cached_property
    def beds(self) -> tuple[Substrate, ...]:
        """Return the beds of substrate as the scene has them."""
        return tuple(built.part for built in self.substrates)

    def cut_apart(self, a: Body, b: Body) -> bool:
        """Tell whether building cut one of two bodies around the other, so that they share nothing."""
        pairs = self._cut
        return any(frozenset((one, two)) in pairs for one in {a.name, a.part} for two in {b.name, b.part})
