"""A run of pipe or tube, told as a builder tells it: from a port, up, to the right, a tee, a cap.

Fittings at the turns come from the catalogue, so that cut lengths are right. Lengths of steps are centre to
centre: from the start port's face to the middle of the first fitting, from fitting to fitting, and to the
end of the pipe where it ends open or in a cap. A run that ends in a valve, a union or a tee is open
there: that port is called ``end``, and another run may start from it. What flows is computed elsewhere.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import Any

from layout3d.errors import SceneMistake
from layout3d.fields import (
    REQUIRED,
    CatalogName,
    Choice,
    Count,
    FieldType,
    Length,
    Name,
    Node,
    Quantity,
    Reader,
    field,
)
from layout3d.fields_composite import Either, Listing, Point, PositionType, Steps, record
from layout3d.fittings.base import WAYS, key, step
from layout3d.fittings.registry import by_word
from layout3d.parts.base import Part

__all__ = ["Drip", "Fall", "RunFields", "Supports"]

_LEG = Length(above=0.0, most=20.0)
_ANGLE = Quantity("angle", least=-3.1416, most=3.1416)


@dataclass(frozen=True, kw_only=True)
class Drip:
    """Rows of holes drilled along one leg of rigid pipe."""

    diameter: float = field(Length(0.0003, 0.05), doc="of each hole")
    pitch: float = field(Length(above=0.0, most=2.0), doc="hole to hole along the pipe")
    margin: float = field(
        Length(0.0, 5.0),
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


@dataclass(frozen=True, slots=True)
class Fall(FieldType):
    """How much a level leg falls over its length: a number, a share ('1 %') or a ratio ('1:80'), [-]."""

    json = ("number", "string")

    def read(self, node: Node, reader: Reader) -> float:
        """Return the fall; below 0 it rises."""
        ratio = re.fullmatch(r"\s*(-?\d+(?:\.\d+)?)\s*:\s*(\d+(?:\.\d+)?)\s*", str(node.value))
        if node.kind != "scalar" or not ratio:
            fall = reader.quantity(node, "number", expected=self.words(), example="1 %")
            if not abs(fall) <= MOST_FALL:
                reader.fail(node, f"a fall of {node.value}", expected=self.words())
            return fall
        rise, length = float(ratio[1]), float(ratio[2])
        if not abs(rise) <= MOST_FALL * length:
            reader.fail(node, f"a fall of {node.value}", expected=self.words())
        return rise / length

    def words(self) -> str:
        """Return the forms."""
        return f"such as 1 % or 1:80, at most {MOST_FALL:.0%}; below 0 it rises"


MOST_FALL = 0.25  # a leg that falls more is told by its points
_DRIP = key("drip", record(Drip, "drip holes"), None, "drip holes along this leg, in rigid pipe only")
_FALL = key("fall", Fall(), 0.0, "how much it falls over its length; the pipe leans in its sockets")
_LEGS = {
    **{
        word: step(key(word, _LEG, REQUIRED, "length of the leg"), *([] if way[2] else [_FALL]), _DRIP)
        for word, way in WAYS.items()
    },
    "by": step(key("by", Point(item=Length(-20, 20)), REQUIRED, "a leg as [x, y, z]"), _DRIP),
    "to": step(key("to", PositionType(), REQUIRED, "a leg straight to a point"), _DRIP),
    "until": step(
        key("until", Choice(tuple(WAYS)), REQUIRED, "go this way"),
        key("reach", PositionType(), REQUIRED, "as far as this point lies in that direction"),
        _FALL,
        _DRIP,
    ),
    "join": step(key("join", Name("a port"), REQUIRED, "end in this port, straight ahead")),
}
_ALONE = {each.word: each.alone for each in by_word().values() if each.alone} | {"open": "end open"}
_STEPS = _LEGS | {each.word: each.step for each in by_word().values() if each.step}


@dataclass(frozen=True, kw_only=True)
class Supports:
    """Clips or suction cups along a run."""

    kind: str = field(
        Choice(("clip", "suction_cup")),
        "clip",
        doc="what holds the pipe; either reaches up to 400 mm (15.7 in) from the pipe's middle",
    )
    at: tuple[float, ...] = field(
        Listing(Length(0.0, 50.0)), (), doc="distances along the run from its start"
    )
    every: float | None = field(
        Length(0.02, 20.0),
        None,
        doc="or one every so far, spread over the whole run, each in reach of what it is fixed to",
    )
    against: str = field(
        Name("a panel, a part's body or `room`"),
        "",
        doc="what they are fixed to; if not given the nearest panel, or for clips a board of the stand; "
        "`room`: it lies on the floor there or hangs on a wall, outside of tank and sump",
    )

    def __post_init__(self) -> None:
        """Refuse supports that stand nowhere."""
        if not self.at and self.every is None:
            raise SceneMistake("supports without a place", expected="`at:` or `every:`")


@dataclass(frozen=True, kw_only=True)
class RunFields(Part):
    """What the scene file says of a run of pipe or tube from a port along its steps."""

    pipe: str = field(CatalogName("pipe"), "", doc="rigid pipe, such as 3/4 in sch 40 or d25 pn 10")
    tube: str = field(CatalogName("tube"), "", doc="or flexible tube or hose, such as 12/16 mm")
    start: Any = field(
        Either(scalar=Name("a port"), list=PositionType(), map=PositionType()),
        doc="the port it starts from (`pump.outlet`; of the hole drain, `drain.outside`), or a position for "
        "an end that joins nothing",
    )
    route: tuple[Any, ...] = field(Steps(_ALONE, _STEPS), doc="the steps")
    bend_radius: float | None = field(
        Length(above=0.0, most=5.0), None, doc="of a tube's bends; by default the least it allows"
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
