"""The entries that ship, made from the tables on first use. Scenes add theirs in ``catalog``."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from functools import cache
from types import MappingProxyType
from typing import Any, Final, TypeVar

from layout3d.catalog.entry import (
    MEASURE_YOURS,
    Bulkhead,
    Family,
    Limit,
    Material,
    Pipe,
    Pump,
    Sources,
    Tube,
)
from layout3d.catalog.table import Table, table

__all__ = [
    "FittingLengths",
    "hose_clamp",
    "shipped_bulkheads",
    "shipped_lengths",
    "shipped_limits",
    "shipped_materials",
    "shipped_pipes",
    "shipped_pumps",
    "shipped_tubes",
    "support_spacings",
]

FittingLengths = Mapping[str, float]
"""Lengths of the longer fittings of one pipe size, [m]: ``union_gap``, ``valve_body``, ``handle`` ..."""

LITRES_PER_HOUR: Final = 1e-3 / 3600.0  # m³/s


Entry = TypeVar("Entry", Pipe, Tube, Bulkhead, Limit, Material, Pump)


def _by_name(entries: Iterable[Entry]) -> Mapping[str, Entry]:
    return MappingProxyType({entry.name: entry for entry in entries})


def sourced(figures: Mapping[str, tuple[Any, str]]) -> tuple[dict[str, Any], Sources]:
    """Part figures from their sources: field -> (value, source)."""
    return {name: value for name, (value, _) in figures.items()}, tuple(
        (name, source) for name, (_, source) in figures.items()
    )


_PIPE_COLUMNS: Mapping[Family, Mapping[str, tuple[str, str]]] = {
    "inch": {
        "outside_diameter": ("pipe_inch", "outside"),
        "wall_min": ("pipe_inch", "wall_{}"),
        "inside_diameter": ("pipe_inch_bore", "inside_{}"),
        "socket_depth": ("socket_inch", "depth_{}"),
        "g_90": ("take_off_inch", "elbow_90_{}"),
        "g_45": ("take_off_inch", "elbow_45"),
        "coupling_gap": ("take_off_inch", "coupling"),
        "hub_diameter": ("take_off_inch", "hub"),
    },
    "metric": {
        "outside_diameter": ("pipe_metric", "outside"),
        "wall_min": ("pipe_metric", "wall_{}"),
        "socket_depth": ("socket_metric", "depth"),
        "g_90": ("socket_metric", "elbow_90"),
        "g_45": ("socket_metric", "elbow_45"),
        "coupling_gap": ("socket_metric", "coupling"),
        "hub_diameter": ("socket_metric", "hub"),
    },
}
"""Field -> table and column; {} is the schedule or the nominal pressure."""


@cache
def shipped_pipes() -> Mapping[str, Pipe]:
    """Return every pipe by its name, inch sizes first, sizes rising."""
    return _by_name((*_pipes("inch", "sch", ("40", "80")), *_pipes("metric", "pn", ("10", "16"))))


def _pipes(family: Family, word: str, series: tuple[str, str]) -> Iterator[Pipe]:
    columns = _PIPE_COLUMNS[family]
    tables = {name: table(name) for name, _ in columns.values()}
    for rows in zip(*(each.rows for each in tables.values()), strict=True):
        size = str(rows[0]["size"])
        if any(str(row["size"]) != size for row in rows):
            raise ValueError(f"catalogue tables of {family} pipe: the rows at {size} don't agree")
        of = dict(zip(tables, rows, strict=True))

        for number in series:
            if f"wall_{number}" not in rows[0]:  # not made
                continue
            known: dict[str, tuple[float, str]] = {}
            for name, (place, written) in columns.items():
                source, column = tables[place], written.format(number)
                known[name] = source.metres(of[place][column]), source.source_of(column, size)
            (outside, _), (wall, told) = known["outside_diameter"], known["wall_min"]
            if family == "metric":
                known["inside_diameter"] = (outside - 2.0 * wall, f"outside less two walls; {told}")
            elif number == "80":  # the table's hub is that of schedule 40
                hub, of_hub = known["hub_diameter"]
                thicker = tables["pipe_inch"].metres(rows[0]["wall_80"] - rows[0]["wall_40"])
                known["hub_diameter"] = (hub + 2.0 * thicker, of_hub)
            figures, sources = sourced(known)
            yield Pipe(
                name=f"{size} in {word} {number}" if family == "inch" else f"d{size} {word} {number}",
                family=family,
                size=size,
                source=told,
                sources=sources,
                **figures,
            )


@cache
def shipped_tubes() -> Mapping[str, Tube]:
    """Return every flexible tube and hose by its name."""
    return _by_name(
        _tube(source, row)
        for source in map(table, ("tube_vinyl", "tube_metric", "hose_flexible"))
        for row in source.rows
    )


def _tube(source: Table, row: Mapping[str, Any]) -> Tube:
    bend = source.rules["bend_radius_outsides"]
    inside, outside = str(row["inside"]), str(row["outside"])
    family: Family = row.get("family") or ("inch" if source.unit == "in" else "metric")
    hose = "size" in row
    if hose:
        name = f"{row['size']} in flexible" if family == "inch" else f"d{row['size']} flexible"
    else:
        name = f"{inside} x {outside} in" if family == "inch" else f"{inside}/{outside} mm"
    return Tube(
        name=name,
        kind="hose" if hose else "tube",
        family=family,
        size=str(row["size"]) if hose else inside,
        inside=source.metres(inside),
        outside=source.metres(outside),
        min_bend_radius=bend["value"] * source.metres(outside),
        source=f"{source.source}; bend radius {bend['source']}",
    )


@cache
def shipped_bulkheads() -> Mapping[str, Bulkhead]:
    """Return every bulkhead by its name."""
    source = table("bulkhead")
    return _by_name(_bulkhead(source, row) for row in source.rows)


def _bulkhead(source: Table, row: Mapping[str, Any]) -> Bulkhead:
    def rule(name: str) -> tuple[float, str]:
        return source.metres(source.rules[name]["value"]), source.rules[name]["source"]

    size, style = str(row["size"]), str(row["style"])
    if style == "metric":
        name, pipe = f"d{size}", shipped_pipes()[f"d{size} pn 16"]
    else:
        name = f"{size} in {style}"
        pipe = shipped_pipes()[f"{size} in sch {'80' if style == 'heavy' else '40'}"]
    low, high = (source.metres(value) for value in row["hole"])
    length, flange, nut = (source.metres(row[key]) for key in ("length", "flange_thickness", "nut_thickness"))
    (clearance, thread), (gasket, seal) = rule("thread_clearance"), rule("gasket_thickness")
    (grip_least, _), (grip_most, grip) = rule("grip_least"), rule("grip_most")
    figures, sources = sourced(
        {
            "thread_diameter": (low - clearance, thread),
            "gasket_thickness": (gasket, seal),
            "grip_range": ((grip_least, min(grip_most, length - flange - gasket - nut)), grip),
            "bore": (pipe.inside_diameter, f"that of {pipe.name}: {MEASURE_YOURS}"),
            "socket_diameter": (pipe.outside_diameter, pipe.source),
            "socket_depth": (pipe.socket_depth, pipe.source_of("socket_depth")),
        }
    )
    return Bulkhead(
        name=name,
        style=style,
        family=pipe.family,
        size=size,
        pipe_size=f"d{size}" if style == "metric" else f"{size} in",
        hole_diameter=high,
        hole_range=(low, high),
        flange_diameter=source.metres(row["flange"]),
        flange_thickness=flange,
        nut_diameter=source.metres(row["nut"]),
        nut_thickness=nut,
        length=length,
        source=source.source,
        sources=sources,
        **figures,
    )


@cache
def shipped_materials() -> Mapping[str, Material]:
    """Return every material by its name; other names stand in ``Material.also``."""
    source = table("material")

    def made(row: Mapping[str, Any]) -> Material:
        porosity = float(row.get("porosity", 0.0))
        solid = 1.0 / (1.0 - porosity) if "bulk" in row else 1.0
        low, high = row["range"]
        return Material(
            name=row["name"],
            density=row["bulk" if "bulk" in row else "density"] * solid,
            density_range=(low * solid, high * solid),
            source=row.get("source", source.source),
            porosity=porosity,
            also=tuple(row.get("also", ())),
            note=row.get("note", ""),
        )

    return _by_name(map(made, source.rows))


@cache
def shipped_limits() -> Mapping[str, Limit]:
    """Return every limit by its name."""
    source = table("limit")
    return _by_name(
        Limit(**{"source": source.source, **row, "value": float(row["value"])}) for row in source.rows
    )


@cache
def shipped_pumps() -> Mapping[str, Pump]:
    """Return the generic pumps by name; none is a product."""
    source = table("pump")
    return _by_name(
        Pump(
            name=row["name"],
            points=tuple((flow * LITRES_PER_HOUR, float(head)) for flow, head in row["points"]),
            power=float(row["power"]),
            size=(row["size"][0] * 1e-3, row["size"][1] * 1e-3, row["size"][2] * 1e-3),
            outlet=row["outlet"] * 1e-3,
            air=bool(row.get("air", False)),
            source=source.source,
            note="generic, not a product: use your pump's own curve",
        )
        for row in source.rows
    )


@cache
def support_spacings() -> Mapping[tuple[str, str], tuple[float, str]]:
    """Return the spacing of supports, [m], and its source, by (family, size)."""
    source = table("support_spacing")
    return MappingProxyType(
        {
            (row["family"], str(row["size"])): (source.metres(row["spacing"]), source.source)
            for row in source.rows
        }
    )


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


def hose_clamp(outside: float) -> str:
    """Return the size of the clamp for a tube on its barb, by the tube's outside diameter [m]; '' for none.

    Of two that fit, the one whose range has the tube nearest to its middle.

    >>> hose_clamp(0.016), hose_clamp(0.006)
    ('12-22', '')
    """
    source = table("hose_clamp")
    fitting = [
        (abs(outside - source.metres(row["least"] + row["most"]) / 2.0), str(row["size"]))
        for row in source.rows
        if source.metres(row["least"]) - 1e-9 <= outside <= source.metres(row["most"]) + 1e-9
    ]
    return min(fitting)[1] if fitting else ""
