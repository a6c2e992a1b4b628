"""A run of pipe or tube, told as a builder tells it: from a port, up, to the right, a tee, a cap.

Fittings at the turns come from the catalogue, so that cut lengths are right. Lengths of steps are centre to
centre: from the start port's face to the middle of the first fitting, from fitting to fitting, and to the
end of the pipe where it ends open or in a cap. A run that ends in a valve, a union or a tee is open
there: that port is called ``end``, and another run may start from it. What flows is computed elsewhere.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from layout3d.errors import SceneMistake
from layout3d.fields import CatalogName, Choice, Count, FieldSpec, Name, Number, Quantity, field
from layout3d.fields_composite import Either, Listing, Point, PositionType, Record, Steps, record
from layout3d.parts.base import Built, Part, Site
from layout3d.parts.run_data import RunData

__all__ = ["DIRECTIONS", "Drip", "Run", "Supports"]

DIRECTIONS = {
    "right": (1.0, 0.0, 0.0),
    "left": (-1.0, 0.0, 0.0),
    "back": (0.0, 1.0, 0.0),
    "front": (0.0, -1.0, 0.0),
    "up": (0.0, 0.0, 1.0),
    "down": (0.0, 0.0, -1.0),
}

_LEG = Quantity("length", above=0.0, most=20.0)
_ANGLE = Quantity("angle", least=-3.1416, most=3.1416)


@dataclass(frozen=True, kw_only=True)
class Drip:
    """Rows of holes drilled along one leg of rigid pipe."""

    diameter: float = field(Quantity("length", least=0.0003, most=0.05), doc="of each hole")
    pitch: float = field(Quantity("length", above=0.0, most=2.0), doc="hole to hole along the pipe")
    margin: float = field(
        Quantity("length", least=0.0, most=5.0),
        0.03,
        doc="from the fittings' faces, or the ends of the leg, to the first and last hole",
    )
    angles: tuple[float, ...] = field(
        Listing(_ANGLE, least=1, most=8),
        (0.0,),
        doc="one row for each angle, from straight down toward the front (a bar from left to right) or "
        "toward the right (a bar from front to back), or from the front toward the right (an upright one)",
    )
    count: int | None = field(Count(1, 2000), None, doc="holes in a row; by default as many as fit")


def _spec(name: str, type: Any, default: Any, doc: str) -> FieldSpec:
    return FieldSpec(name=name, type=type, default=default, doc=doc)


def _step(first: FieldSpec, *more: FieldSpec) -> Record:
    return Record({spec.name: spec for spec in (first, *more)}, f"step {first.name!r}")


_DRIP = _spec("drip", record(Drip, "drip holes"), None, "drip holes along this leg, in rigid pipe only")
_REQUIRED: Any = field(_LEG, doc="").default  # the marker of a key that has to be there
_NAMED = _spec("name", Name("the fitting", own=True), "", "a name of its own")
_STEPS = {
    **{word: _step(_spec(word, _LEG, _REQUIRED, "length of the leg"), _DRIP) for word in DIRECTIONS},
    "by": _step(
        _spec("by", Point(item=Quantity("length", least=-20, most=20)), _REQUIRED, "a leg as [x, y, z]"),
        _DRIP,
    ),
    "to": _step(_spec("to", PositionType(), _REQUIRED, "a leg straight to a point"), _DRIP),
    "until": _step(
        _spec("until", Choice(tuple(DIRECTIONS)), _REQUIRED, "go this way"),
        _spec("reach", PositionType(), _REQUIRED, "as far as this point lies in that direction"),
        _DRIP,
    ),
    "tee": _step(
        _spec("tee", Choice(tuple(DIRECTIONS)), _REQUIRED, "the way its branch points"),
        _spec(
            "name",
            Name("the branch's port", own=True),
            "",
            "name of the branch's port; `tee_1` and so on by default",
        ),
    ),
    "ball_valve": _step(
        _spec("ball_valve", Number(least=0.0, most=1.0), _REQUIRED, "how far it is open; 50 % is 0.5"), _NAMED
    ),
    "reduce": _step(_spec("reduce", CatalogName("pipe"), _REQUIRED, "the pipe to go on with")),
    "join": _step(_spec("join", Name("a port"), _REQUIRED, "end in this port, straight ahead")),
}
_WORDS = {
    "union": "a union",
    "coupling": "a coupling",
    "ball_valve": "a ball valve, open",
    "check_valve": "a check valve",
    "cap": "end in a cap",
    "strainer": "end in a strainer",
    "nozzle": "end in a nozzle",
    "open": "end open",
}


@dataclass(frozen=True, kw_only=True)
class Supports:
    """Clips or suction cups along a run."""

    kind: str = field(
        Choice(("clip", "suction_cup")),
        "clip",
        doc="what holds the pipe; either reaches up to 400 mm (15.7 in) from the pipe's middle",
    )
    at: tuple[float, ...] = field(
        Listing(Quantity("length", least=0.0, most=50.0)), (), doc="distances along the run from its start"
    )
    every: float | None = field(
        Quantity("length", least=0.02, most=20.0),
        None,
        doc="or one every so far, spread over the whole run, each in reach of what it is fixed to",
    )
    against: str = field(
        Name("a panel, or a part's body"), "", doc="what they are fixed to; the nearest panel if not given"
    )

    def __post_init__(self) -> None:
        """Refuse supports that stand nowhere."""
        if not self.at and self.every is None:
            raise SceneMistake("supports without a place", expected="`at:` or `every:`")


@dataclass(frozen=True, kw_only=True)
class Run(Part):
    """A run of pipe or tube from a port along its steps."""

    kind = "run"
    group = "plumbing"

    pipe: str = field(CatalogName("pipe"), "", doc="rigid pipe, such as 3/4 in sch 40 or d25 pn 10")
    tube: str = field(CatalogName("tube"), "", doc="or flexible tube or hose, such as 12/16 mm")
    start: Any = field(
        Either(scalar=Name("a port"), list=PositionType(), map=PositionType()),
        doc="the port it starts from (`pump.outlet`; of the hole drain, `drain.outside`), or a position for "
        "an end that joins nothing",
    )
    route: tuple[Any, ...] = field(Steps(_WORDS, _STEPS), doc="the steps")
    bend_radius: float | None = field(
        Quantity("length", above=0.0, most=5.0), None, doc="of a tube's bends; by default the least it allows"
    )
    end_at: str = field(
        Name("a port"), "", doc="the port that the end is meant to meet; checked, not drawn to (see `join`)"
    )
    supports: tuple[Supports, ...] = field(
        Listing(record(Supports, "supports"), most=20), (), doc="clips and suction cups"
    )
    material: str = field(CatalogName("material"), "pvc", doc="of pipe and fittings")

    def __post_init__(self) -> None:
        """Refuse a run that is neither or both of pipe and tube."""
        if bool(self.pipe) == bool(self.tube):
            raise SceneMistake(
                "both pipe and tube" if self.pipe else "neither pipe nor tube",
                expected="one of `pipe:` and `tube:`",
                path="pipe",
            )
        if not self.route:
            raise SceneMistake("no steps", expected="at least one leg", path="route")

    def build(self, site: Site) -> Built[Run, RunData]:
        """Build pipes, fittings, holes and supports."""
        from layout3d.parts.shapes.run_bodies import build_run

        return build_run(self, site)
