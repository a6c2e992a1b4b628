"""A scene that is changed value by value in one process: what a change doesn't touch is not done again.

Every answer is the one that a fresh ``check`` of the changed scene gives. Beside it stands a quick answer
about one part that is moved, by the collision library alone: nothing is cut, no volume told.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping
from dataclasses import dataclass
from functools import cached_property, partial
from pathlib import Path

import numpy as np

from layout3d.checks.base import Finding
from layout3d.checks.examine import examine
from layout3d.checks.measure import Joins, missing
from layout3d.checks.rules.outside import reaches, stays_in
from layout3d.model.beds import Ground
from layout3d.model.build import build_model
from layout3d.model.model import Model
from layout3d.scene.file import read_text
from layout3d.scene.reader import read_scene
from layout3d.scene.scene import Clearance
from layout3d.solid.level import volume_under
from layout3d.solid.moving import Moving, corners_of
from layout3d.solid.placement import Placement
from layout3d.units import shown_in
from layout3d.water.figures import figures

__all__ = ["Live", "Mover", "Shortfall", "Touch"]

BENDS = ("foliage",)  # kinds that may touch anything
CUT_AROUND_IT = ("substrate",)  # groups whose bodies are cut around what stands in them


@dataclass(frozen=True, slots=True, kw_only=True)
class Shortfall:
    """A clearance of the scene that isn't kept: ``distance`` between two bodies, ``short`` of it by, [m]."""

    clearance: Clearance
    bodies: tuple[str, str]
    distance: float
    short: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Touch:
    """What a part would do at a place.

    ``meets`` names pairs of bodies, the part's own first, that touch or share space and aren't joined;
    ``short`` the clearances that it comes short of; ``inside`` tells whether the rule ``outside``
    has nothing to say of it.
    """

    meets: tuple[tuple[str, str], ...]
    short: tuple[Shortfall, ...]
    inside: bool


class Live:
    """A scene file, changed by its named values and fields; read once, and left as it is on disk.

    Parameters
    ----------
    path : the scene file; ``text``, if given, is read in its stead
    changes : values and fields that differ from the file's from the start, as ``change`` takes them

    Raises
    ------
    LayoutError : as ``read_scene`` and ``build_model`` do.
    """

    def __init__(
        self, path: str | Path, *, text: str | None = None, changes: Mapping[str, str] | None = None
    ) -> None:
        self._path = Path(path)
        self._text = read_text(self._path) if text is None else text
        self._changes: dict[str, str] = {}
        self._model: Model | None = None
        self.change(changes or {})

    @property
    def model(self) -> Model:
        """Return the scene as it is now, built."""
        assert self._model is not None, "made with the object (Live.model)"
        return self._model

    def change(self, changes: Mapping[str, str]) -> Model:
        """Set named values, or fields by their path ('parts.rock.at.left'), and build what depends on them.

        Values are text in the file's own arithmetic. What was changed before stays changed.

        Raises
        ------
        LayoutError : the changed scene can't be read or built; then the model stays what it was.
        """
        together = {**self._changes, **changes}
        last = self._model
        scene = read_scene(
            self._path, text=self._text, overrides=together, last=None if last is None else last.scene
        )
        self._model = build_model(scene, last=last)
        self._changes = together
        return self._model

    def findings(self) -> tuple[Finding, ...]:
        """Return what all rules find, worst first."""
        return examine(self.model)

    def figures(self) -> dict[str, float | dict[str, float]]:
        """Return the key figures, as ``check --json`` names them."""
        with shown_in(self.model.scene.style):
            return figures(self.model)

    def mover(self, part: str) -> Mover:
        """Return the quick answer for one part.

        Raises
        ------
        KeyError : no body belongs to a part of that name.
        """
        return Mover(self.model, part)


class Mover:
    """Tells what a part would touch at other places than its own. Its bodies are moved as they are now.

    ``along`` are parts that go with it: they are not in its way.
    """

    def __init__(self, model: Model, part: str, along: Collection[str] = ()) -> None:
        self._model = model
        self._own = tuple(body for body in model.bodies_of(part) if body.part == part)
        if not self._own:
            raise KeyError(part)
        joins, goes = Joins(model), {part, *along}
        rest = [body for body in model.bodies if body.part not in goes]
        self._others = [
            [
                body
                for body in rest
                if own.kind not in BENDS
                and body.kind not in BENDS
                and body.group not in CUT_AROUND_IT
                and not joins.how(own, body)
            ]
            for own in self._own
        ]
        self._moving = [
            Moving(own.solid, [body.solid for body in others])
            for own, others in zip(self._own, self._others, strict=True)
        ]
        self._asked = [
            (entry, own, body, Moving(own.solid, [body.solid]))
            for entry in model.scene.clearances
            for one, other in (entry.between, entry.between[::-1])
            for own in model.bodies_of(one)
            if own.part == part
            for body in model.bodies_of(other)
            if body.part not in goes and (not joins.how(own, body) or {own.name, body.name} == {one, other})
        ]

    def at(self, move: Placement) -> Touch:
        """Tell what the part would touch, moved by ``move`` from where it is now."""
        meets = tuple(
            (own.name, others[index].name)
            for own, others, moving in zip(self._own, self._others, self._moving, strict=True)
            for index in moving.met(move)
        )
        short: dict[tuple[int, str, str], Shortfall] = {}
        for entry, own, body, moving in self._asked:
            for distance in moving.nearer(move, entry.at_least).values():
                lack = missing(distance, entry.at_least)
                if lack:
                    short[id(entry), own.name, body.name] = Shortfall(
                        clearance=entry, bodies=(own.name, body.name), distance=distance, short=lack
                    )
        return Touch(meets=meets, short=tuple(short.values()), inside=self._inside(move))

    def displaced(self, move: Placement) -> float:
        """Return the free water that the part would take, moved by ``move`` from where it is now, [m³].

        Of its volume, leaves left out, what lies below the waterline and over the bed. It is told as if it
        shared no space with anything else; the bed counts as flat over each face of the part.
        """
        total = 0.0
        for own in self._own:
            if own.kind in BENDS:
                continue
            there = own.solid.moved(move)
            x, y, z = there.vertices.T
            under = self._model.waterline - z
            buried = np.full(len(z), -1.0)
            low = z < self._ground.highest
            buried[low] = np.minimum(self._ground.at(x[low], y[low]) - z[low], under[low])
            total += volume_under(there, under) - volume_under(there, buried)
        return total

    @cached_property
    def _ground(self) -> Ground:
        return Ground(self._model)

    def _inside(self, move: Placement) -> bool:
        model = self._model
        for own in filter(partial(stays_in, model), self._own):
            solid = own.solid.uncarved
            points = move.apply(corners_of(solid))
            if points[:, 2].max() > model.tank.height:  # what may rise over the rim counts as far as that
                points = solid.moved(move).vertices
            if reaches(model, own, points):  # how far from each pane, its hull tells as well as all of it
                return False
        return True
