"""What one fitting is to the others: its word in a route, its sizes, its shape, its loss.

Each fitting is one file of this package with one or more values of ``Fitting``, found by ``registry``.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from typing import Any, Literal

from layout3d.catalog import Catalog, Pipe
from layout3d.catalog.entry import MEASURE_YOURS
from layout3d.errors import OutOfRange
from layout3d.fields import REQUIRED, CatalogName, Choice, FieldSpec, FieldType, Name, Node, Number, Reader
from layout3d.fields_composite import Record
from layout3d.fittings.losses import Loss, change_loss, fitting_loss, least_opening, throttled_loss
from layout3d.fittings.port import FittingShape
from layout3d.solid.shape import Shape

__all__ = ["WAYS", "Fitting", "FittingSize", "Through", "key", "step", "to_opening", "to_pipe", "to_way"]

WAYS = {
    "right": (1.0, 0.0, 0.0),
    "left": (-1.0, 0.0, 0.0),
    "back": (0.0, 1.0, 0.0),
    "front": (0.0, -1.0, 0.0),
    "up": (0.0, 0.0, 1.0),
    "down": (0.0, 0.0, -1.0),
}
"""The directions that a route names."""


def key(name: str, type: FieldType, default: Any, doc: str) -> FieldSpec:
    """Return one key of a step."""
    return FieldSpec(name=name, type=type, default=default, doc=doc)


def step(first: FieldSpec, *more: FieldSpec) -> Record:
    """Return the map form of a step; ``first`` is the key that names it."""
    return Record({spec.name: spec for spec in (first, *more)}, f"step {first.name!r}")


NAMED = key("name", Name("the fitting", own=True), "", "a name of its own")


def to_pipe(word: str) -> Record:
    """Return the step of a fitting that comes down, or up, to another pipe."""
    return step(key(word, CatalogName("pipe"), REQUIRED, "the pipe to go on with"))


def to_way(word: str, doc: str, *more: FieldSpec) -> Record:
    """Return the step of a fitting with a branch that points one of the six ways."""
    branch = key(
        "name",
        Name("the branch's port", own=True),
        "",
        f"name of the branch's port; `{word}_1` and so on by default",
    )
    return step(key(word, Choice(tuple(WAYS)), REQUIRED, doc), *more, branch)


@dataclass(frozen=True, slots=True)
class _Opening(FieldType):
    """An opening: 0 for shut, or from ``least`` to 1, [-]. Between, no loss is known."""

    json = ("number", "string")

    least: float

    def read(self, node: Node, reader: Reader) -> float:
        """Return the opening."""
        value = Number(least=0.0, most=1.0).read(node, reader)
        if 0.0 < value < self.least - 1e-9:
            reader.fail(
                node,
                f"open by {value:.3g}: no loss is known of a valve that is so nearly shut",
                expected=self.words(),
                remedy="open it further, shut it, or take a smaller pump",
            )
        return value

    def words(self) -> str:
        """Return the range."""
        return f"a number: 0 for shut, or {self.least:.3g} to 1"


def to_opening(word: str, doc: str) -> Record:
    """Return the step of a valve, which says how far it stands open."""
    return step(key(word, _Opening(least_opening(word)), REQUIRED, doc), NAMED)


@dataclass(frozen=True, slots=True, kw_only=True)
class FittingSize:
    """The sizes of one fitting; lengths in metres.

    ``take_off`` is centre to socket bottom for each port, in the order of the shape's ports: run first, then
    branch; a pipe's cut length is centre to centre less the take-offs of both ends. ``face`` is centre to
    face: take-off and socket depth. ``body_diameter`` is the widest part across the run; ``handle`` from the
    stem to its tip, or from the axis to the top of a wheel of diameter ``wheel``; 0 for none.
    """

    kind: str
    pipe: Pipe
    take_off: tuple[float, ...]
    face: tuple[float, ...]
    body_diameter: float
    handle: float = 0.0
    wheel: float = 0.0
    smaller: Pipe | None = None
    source: str = MEASURE_YOURS

    @property
    def length(self) -> float:
        """Along the run, face to face, [m]."""
        return self.face[0] + self.face[1] if len(self.face) > 1 else self.face[0]


@dataclass(frozen=True, slots=True, kw_only=True)
class Through:
    """How water goes through a fitting.

    ``bore`` is its least inside diameter; ``before`` and ``after`` those of what comes before and after it in
    the run, 0 for its own, [m]. ``opening`` is of a valve, 1 open to 0 shut; ``branch``: by way of its
    branch, not straight on; ``forward``: the way the run is laid, or against it.
    """

    bore: float
    opening: float = 1.0
    before: float = 0.0
    after: float = 0.0
    branch: bool = False
    forward: bool = True

    @property
    def change(self) -> Loss:
        """Loss of the narrowing or widening between what is before and after it, on ``bore``."""
        before, after = self.before or self.bore, self.after or self.bore
        change = change_loss(before, after) if self.forward else change_loss(after, before)
        return change.on_bore(min(before, after), self.bore)


@dataclass(frozen=True, kw_only=True, eq=False)
class Fitting:
    """A kind of fitting. A file that adds one derives from this, and says what differs.

    Attributes
    ----------
    kind : its name in bodies and results
    place : 'turn' (stands at turns by itself), 'inline', 'end' (ends a run), '' (part of another)
    word : its word in a route; '' where no word calls it
    alone : what its bare word stands for; '' where the word needs a value
    step : its map form, if it has one
    value : what the value of the map form says
    in_tube : made for flexible tube as well
    lengths : its figures in the catalogue: socket bottom to socket bottom, then ``body_diameter``, ``handle``
        and ``wheel`` of ``FittingSize``, as far as it has them
    losses : its rows in the table of losses, straight on and by way of its branch; by default its kind
    angle : how far it turns the run, [rad]
    give : limit of how far a pipe may lean in one of its sockets
    holder : the fitting whose socket it sits in, in a run
    hand : what a hand has to do at it for as long as the tank stands; '' for nothing
    drain_only : made for drains, not for a pump's pressure
    valve, one_way : it can be shut; it lets water through one way only
    comes_apart : it can be taken apart again by hand
    cemented : pipe is cemented into its sockets, not clamped
    half_turned : its centreline goes by way of its middle
    finish : what it looks like in pictures
    """

    kind: str
    place: Literal["turn", "inline", "end", ""]
    word: str = ""
    alone: str = ""
    step: Record | None = None
    value: Literal["", "opening", "branch", "pipe"] = ""
    in_tube: bool = False
    lengths: tuple[str, ...] = ()
    losses: tuple[str, ...] = ()
    angle: float = 0.0
    give: Literal["socket_give", "rubber_coupling_give"] = "socket_give"
    holder: str = ""
    hand: str = ""
    drain_only: bool = False
    valve: bool = False
    one_way: bool = False
    comes_apart: bool = False
    cemented: bool = True
    half_turned: bool = False
    finish: Literal["fitting", "valve", "dark"] = "fitting"

    @property
    def said(self) -> str:
        """Its name in a sentence: 'ball valve'."""
        return self.kind.replace("_", " ")

    def size(self, catalog: Catalog, pipe: str | Pipe, smaller: str | Pipe | None = None) -> FittingSize:
        """Return its sizes for a pipe, as the scene's catalogue overrides them.

        Parameters
        ----------
        pipe : the pipe its sockets take; of a reducing bush, the larger one
        smaller : the pipe a reducing bush comes down to, or a rubber coupling goes on with

        Raises
        ------
        OutOfRange : not made, or not known, in this size.
        """
        of = catalog.pipe(pipe) if isinstance(pipe, str) else pipe
        return self._size(catalog, of, catalog.pipe(smaller) if isinstance(smaller, str) else smaller)

    def shape(self, size: FittingSize, *, opening: float = 1.0) -> FittingShape:
        """Return its shape; the same object for the same sizes. A valve that is shut has no way through.

        Raises
        ------
        OutOfRange : sizes that leave no wall.
        ValueError : an opening that is not from 0 to 1.
        """
        if not 0.0 <= opening <= 1.0:
            raise ValueError(f"opening must be from 0 to 1, got {opening!r}")
        return _shape(self, size, opening if self.valve else 1.0)

    def on_tube(self, outside: float, inside: float) -> Shape | None:
        """Return its shape on flexible tube, along z around its place in the route; None for a connector.

        ``outside`` and ``inside`` are the tube's diameters, [m]; the tube ends half a connector before that
        place (``fittings.barb``).
        """
        return None

    def loss(self, way: Through) -> Loss | None:
        """Return its loss on the velocity in its bore, in a run; None where no water gets through.

        What stands at the end of a run costs at its mouth (``pipework.losses``).
        """
        if (self.valve and way.opening <= 0.0) or (self.one_way and not way.forward):
            return None
        if self.valve:
            return throttled_loss(self.kind, way.bore, way.opening)
        return fitting_loss((self.losses or (self.kind,))[-1 if way.branch else 0], way.bore)

    def _shape(self, size: FittingSize, opening: float) -> FittingShape:
        raise NotImplementedError

    def _size(self, catalog: Catalog, pipe: Pipe, smaller: Pipe | None) -> FittingSize:
        gap, body, handle, wheel = (*self._lengths(catalog, pipe, *self.lengths), 0.0, 0.0)[:4]
        return self._sockets(pipe, gap / 2.0, gap / 2.0, body=body, handle=handle, wheel=wheel)

    def _sockets(
        self,
        pipe: Pipe,
        *take_off: float,
        body: float = 0.0,
        handle: float = 0.0,
        wheel: float = 0.0,
        source: str = MEASURE_YOURS,
    ) -> FittingSize:
        """Return sizes whose ports are all sockets for one pipe; ``body`` 0 for a hub's."""
        return FittingSize(
            kind=self.kind,
            pipe=pipe,
            take_off=take_off,
            face=tuple(length + pipe.socket_depth for length in take_off),
            body_diameter=body or pipe.hub_diameter,
            handle=handle,
            wheel=wheel,
            source=source,
        )

    def _lengths(self, catalog: Catalog, pipe: Pipe, *names: str) -> tuple[float, ...]:
        """Return its own lengths from the catalogue, [m]."""
        known = catalog.lengths(pipe)
        if any(name not in known for name in names):
            raise OutOfRange(
                f"no length of a {self.said} is known for {pipe.name}",
                expected="a size of the table fitting_length",
                remedy="give its lengths under `catalog: fittings:` in the scene",
            )
        return tuple(known[name] for name in names)


@lru_cache(maxsize=256)
def _shape(fitting: Fitting, size: FittingSize, opening: float) -> FittingShape:
    return fitting._shape(size, opening)
