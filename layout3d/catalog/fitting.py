"""Sizes of fittings from the pipe they are made for. Their shapes are made in ``parts.shapes``."""

from __future__ import annotations

from collections.abc import Mapping
from functools import cache
from types import MappingProxyType
from typing import Final

from layout3d.catalog.entry import MEASURE_YOURS, FittingSize, Pipe, Tube
from layout3d.catalog.table import table
from layout3d.errors import OutOfRange, SceneMistake, UnknownName, nearest

__all__ = ["FITTING_KINDS", "FittingLengths", "barb_size", "fitting_size", "shipped_lengths"]

FITTING_KINDS: Final = (
    "elbow_90",
    "elbow_45",
    "tee",
    "coupling",
    "union",
    "cap",
    "ball_valve",
    "check_valve",
    "reducing_bush",
    "strainer",
    "nozzle",
)

FittingLengths = Mapping[str, float]
"""Lengths of the longer fittings of one pipe size, [m]: ``union_gap``, ``valve_body``, ``handle`` ..."""

BARB_OUTSIDE_RATIO: Final = 1.05  # barb over tube's bore, 1.03 to 1.08. Common practice, no source
BARB_BORE_RATIO: Final = 0.75  # 0.70 to 0.80 of the tube's bore. Common practice, no source
BARB_LENGTH_RATIO: Final = 1.4  # of the tube's bore, at least 12 mm. Common practice, no source
BUSH_RIM: Final = 0.004  # what stays outside of the larger socket, [m]. Common practice, no source


@cache
def shipped_lengths() -> Mapping[tuple[str, str], FittingLengths]:
    """Return the lengths of the longer fittings by (family, size)."""
    source = table("fitting_length")
    return MappingProxyType(
        {
            (row["family"], str(row["size"])): MappingProxyType(
                {key: source.metres(value) for key, value in row.items() if key not in {"family", "size"}}
            )
            for row in source.rows
        }
    )


def fitting_size(
    kind: str, pipe: Pipe, *, smaller: Pipe | None = None, lengths: FittingLengths | None = None
) -> FittingSize:
    """Return the sizes of one fitting.

    Parameters
    ----------
    kind : one of ``FITTING_KINDS``
    pipe : the pipe its sockets take; of a reducing bush, the larger one
    smaller : the pipe a reducing bush comes down to
    lengths : of the longer fittings, [m]; the shipped ones where None

    Returns
    -------
    FittingSize; take-offs in the order of ports: run first, then branch.

    Raises
    ------
    UnknownName : no such kind.
    OutOfRange : no lengths for this size of pipe, or a bush whose pipes don't go into each other.

    Notes
    -----
    Elbows, tees and couplings follow the pipe's own entry and its sources. A cap's origin is its socket
    bottom. A bush goes into the larger socket with its whole spigot: its first port is the spigot's end.
    """
    if kind not in FITTING_KINDS:
        raise UnknownName(
            f"{kind!r} is not a fitting in the catalogue", expected=nearest(kind, FITTING_KINDS)
        )
    hub, depth = pipe.hub_diameter, pipe.socket_depth
    if kind in {"elbow_90", "elbow_45", "tee", "coupling", "cap"}:
        take_off = {
            "elbow_90": (pipe.g_90, pipe.g_90),
            "elbow_45": (pipe.g_45, pipe.g_45),
            "tee": (pipe.g_90, pipe.g_90, pipe.g_90),
            "coupling": (pipe.coupling_gap / 2.0, pipe.coupling_gap / 2.0),
            "cap": (0.0,),
        }[kind]
        figure = {"elbow_45": "g_45", "coupling": "coupling_gap", "cap": "socket_depth"}.get(kind, "g_90")
        source = pipe.source_of(figure)
        return _sockets(kind, pipe, take_off, body=hub, source=source)
    if kind == "reducing_bush":
        return _bush(pipe, smaller)
    if kind == "strainer":
        return FittingSize(
            kind=kind, pipe=pipe, take_off=(0.0,), face=(depth,), body_diameter=1.6 * pipe.outside_diameter
        )
    if kind == "nozzle":
        return FittingSize(kind=kind, pipe=pipe, take_off=(0.0,), face=(depth,), body_diameter=hub)
    if lengths is None:
        lengths = shipped_lengths().get((pipe.family, pipe.size))
    if lengths is None:
        raise OutOfRange(
            f"no length of a {kind.replace('_', ' ')} is known for {pipe.name}",
            expected="a size of the table fitting_length",
            remedy="give its lengths under `catalog: fittings:` in the scene",
        )
    stem = {"union": "union", "ball_valve": "valve", "check_valve": "check"}[kind]
    half = lengths[f"{stem}_gap"] / 2.0
    return _sockets(
        kind,
        pipe,
        (half, half),
        body=lengths[f"{stem}_body"],
        handle=lengths["handle"] if kind == "ball_valve" else 0.0,
        source=MEASURE_YOURS,
    )


def _sockets(
    kind: str, pipe: Pipe, take_off: tuple[float, ...], *, body: float, source: str, handle: float = 0.0
) -> FittingSize:
    return FittingSize(
        kind=kind,
        pipe=pipe,
        take_off=take_off,
        face=tuple(length + pipe.socket_depth for length in take_off),
        body_diameter=body,
        handle=handle,
        source=source,
    )


def _bush(pipe: Pipe, smaller: Pipe | None) -> FittingSize:
    if smaller is None:
        raise SceneMistake(
            f"a reducing bush in {pipe.name} lacks the pipe it comes down to",
            expected="the name of a smaller pipe",
        )
    if smaller.outside_diameter + 2e-3 > pipe.outside_diameter:
        raise OutOfRange(
            f"a reducing bush from {pipe.name} to {smaller.name} has no wall: "
            f"{pipe.outside_diameter * 1e3:.2f} mm outside, {smaller.outside_diameter * 1e3:.2f} mm socket",
            expected="a smaller pipe at least 2 mm below the larger one's outside",
        )
    spigot = max(pipe.socket_depth, smaller.socket_depth)  # the origin is its end; the socket lies within it
    length = pipe.socket_depth + BUSH_RIM
    return FittingSize(
        kind="reducing_bush",
        pipe=pipe,
        smaller=smaller,
        take_off=(0.0, max(length, spigot + 1e-3) - smaller.socket_depth),
        face=(0.0, max(length, spigot + 1e-3)),
        body_diameter=(pipe.outside_diameter + pipe.hub_diameter) / 2.0,
        source=MEASURE_YOURS,
    )


def barb_size(tube: Tube) -> tuple[float, float, float]:
    """Return outside diameter, bore and length of the barb that fits a tube, [m].

    Common practice, no source; makers differ: the barb is 3 to 8 % over the tube's bore and its own bore 0.70
    to 0.80 of it, which is what throttles a small branch.
    """
    return (
        BARB_OUTSIDE_RATIO * tube.inside,
        BARB_BORE_RATIO * tube.inside,
        max(0.012, BARB_LENGTH_RATIO * tube.inside),
    )
