"""The entries that ship, made from the tables on first use. Scenes add theirs in ``catalog``."""

from __future__ import annotations

from collections.abc import Mapping
from functools import cache
from types import MappingProxyType
from typing import Final, cast

from layout3d.catalog.entry import (
    MEASURE_YOURS,
    Bulkhead,
    Family,
    Limit,
    Material,
    Pipe,
    Pump,
    Severity,
    Tube,
)
from layout3d.catalog.table import table

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


@cache
def shipped_pipes() -> Mapping[str, Pipe]:
    """Return every pipe by its name, inch sizes first, sizes rising."""
    return MappingProxyType({pipe.name: pipe for pipe in (*_inch_pipes(), *_metric_pipes())})


def _inch_pipes() -> list[Pipe]:
    wall, bore, socket, take_off = (
        table(name) for name in ("pipe_inch", "pipe_inch_bore", "socket_inch", "take_off_inch")
    )
    pipes = []
    for w, b, s, t in zip(wall.rows, bore.rows, socket.rows, take_off.rows, strict=True):
        size = str(w["size"])
        if {size, str(b["size"]), str(s["size"]), str(t["size"])} != {size}:
            raise ValueError(f"catalogue tables of inch pipe: the rows at {size} in don't agree")
        for schedule in ("40", "80"):
            thicker = wall.metres(w["wall_80"] - w["wall_40"]) if schedule == "80" else 0.0
            pipes.append(
                Pipe(
                    name=f"{size} in sch {schedule}",
                    family="inch",
                    size=size,
                    series=f"sch {schedule}",
                    outside_diameter=wall.metres(w["outside"]),
                    inside_diameter=bore.metres(b[f"inside_{schedule}"]),
                    wall_min=wall.metres(w[f"wall_{schedule}"]),
                    socket_depth=socket.metres(s[f"depth_{schedule}"]),
                    g_90=take_off.metres(t[f"elbow_90_{schedule}"]),
                    g_45=take_off.metres(t["elbow_45"]),
                    coupling_gap=take_off.metres(t["coupling"]),
                    hub_diameter=take_off.metres(t["hub"]) + 2.0 * thicker,
                    source=wall.source,
                    sources=tuple(
                        {
                            "outside_diameter": wall.source,
                            "wall_min": wall.source,
                            "inside_diameter": bore.source,
                            "socket_depth": socket.source_of("depth", size),
                            "g_90": take_off.source_of(f"elbow_90_{schedule}", size),
                            "g_45": take_off.source_of("elbow_45", size),
                            "coupling_gap": take_off.source_of("coupling", size),
                            "hub_diameter": take_off.source_of("hub", size),
                        }.items()
                    ),
                )
            )
    return pipes


def _metric_pipes() -> list[Pipe]:
    wall, socket = table("pipe_metric"), table("socket_metric")
    pipes = []
    for w, s in zip(wall.rows, socket.rows, strict=True):
        if w["size"] != s["size"]:
            raise ValueError(f"catalogue tables of metric pipe: the rows at d{w['size']} don't agree")
        for pressure in ("10", "16"):
            if f"wall_{pressure}" not in w:  # not made
                continue
            thickness = wall.metres(w[f"wall_{pressure}"])
            pipes.append(
                Pipe(
                    name=f"d{w['size']} pn {pressure}",
                    family="metric",
                    size=str(w["size"]),
                    series=f"pn {pressure}",
                    outside_diameter=wall.metres(w["outside"]),
                    inside_diameter=wall.metres(w["outside"]) - 2.0 * thickness,
                    wall_min=thickness,
                    socket_depth=socket.metres(s["depth"]),
                    g_90=socket.metres(s["elbow_90"]),
                    g_45=socket.metres(s["elbow_45"]),
                    coupling_gap=socket.metres(s["coupling"]),
                    hub_diameter=socket.metres(s["hub"]),
                    source=wall.source,
                    sources=tuple(
                        {
                            "outside_diameter": wall.source,
                            "wall_min": wall.source,
                            "inside_diameter": f"outside less two walls; {wall.source}",
                            "socket_depth": socket.source,
                            "g_90": socket.source_of("elbow_90"),
                            "g_45": socket.source_of("elbow_45"),
                            "coupling_gap": socket.source_of("coupling"),
                            "hub_diameter": socket.source_of("hub"),
                        }.items()
                    ),
                )
            )
    return pipes


@cache
def shipped_tubes() -> Mapping[str, Tube]:
    """Return every flexible tube and hose by its name."""
    tubes = []
    for name, family in (("tube_vinyl", "inch"), ("tube_metric", "metric")):
        source = table(name)
        bend = source.rules["bend_radius_outsides"]
        for row in source.rows:
            inside, outside = str(row["inside"]), str(row["outside"])
            tubes.append(
                Tube(
                    name=f"{inside} x {outside} in" if family == "inch" else f"{inside}/{outside} mm",
                    kind="tube",
                    family=cast("Family", family),
                    size=inside,
                    inside=source.metres(inside),
                    outside=source.metres(outside),
                    min_bend_radius=bend["value"] * source.metres(outside),
                    source=f"{source.source}; bend radius {bend['source']}",
                )
            )
    hose = table("hose_flexible")
    bend = hose.rules["bend_radius_outsides"]
    for row in hose.rows:
        size = str(row["size"])
        tubes.append(
            Tube(
                name=f"{size} in flexible" if row["family"] == "inch" else f"d{size} flexible",
                kind="hose",
                family=row["family"],
                size=size,
                inside=hose.metres(row["inside"]),
                outside=hose.metres(row["outside"]),
                min_bend_radius=bend["value"] * hose.metres(row["outside"]),
                source=f"{hose.source}; bend radius {bend['source']}",
            )
        )
    return MappingProxyType({tube.name: tube for tube in tubes})


@cache
def shipped_bulkheads() -> Mapping[str, Bulkhead]:
    """Return every bulkhead by its name."""
    source, pipes = table("bulkhead"), shipped_pipes()
    clearance, gasket, grip_least, grip_most = (
        source.metres(source.rules[rule]["value"])
        for rule in ("thread_clearance", "gasket_thickness", "grip_least", "grip_most")
    )
    entries = []
    for row in source.rows:
        size, style = str(row["size"]), str(row["style"])
        if style == "metric":
            name, pipe, family = f"d{size}", pipes[f"d{size} pn 16"], "metric"
        else:
            name, family = f"{size} in {style}", "inch"
            pipe = pipes[f"{size} in sch {'80' if style == 'heavy' else '40'}"]
        low, high = (source.metres(value) for value in row["hole"])
        length, flange, nut = (
            source.metres(row[key]) for key in ("length", "flange_thickness", "nut_thickness")
        )
        entries.append(
            Bulkhead(
                name=name,
                style=style,
                family=cast("Family", family),
                size=size,
                pipe_size=f"d{size}" if family == "metric" else f"{size} in",
                hole_diameter=high,
                hole_range=(low, high),
                flange_diameter=source.metres(row["flange"]),
                flange_thickness=flange,
                nut_diameter=source.metres(row["nut"]),
                nut_thickness=nut,
                thread_diameter=low - clearance,
                gasket_thickness=gasket,
                grip_range=(grip_least, min(grip_most, length - flange - gasket - nut)),
                length=length,
                bore=pipe.inside_diameter,
                socket_diameter=pipe.outside_diameter,
                socket_depth=pipe.socket_depth,
                source=source.source,
                sources=tuple(
                    {
                        "thread_diameter": source.rules["thread_clearance"]["source"],
                        "gasket_thickness": source.rules["gasket_thickness"]["source"],
                        "grip_range": source.rules["grip_most"]["source"],
                        "bore": f"that of {pipe.name}: {MEASURE_YOURS}",
                        "socket_diameter": pipe.source,
                        "socket_depth": pipe.source_of("socket_depth"),
                    }.items()
                ),
            )
        )
    return MappingProxyType({entry.name: entry for entry in entries})


@cache
def shipped_materials() -> Mapping[str, Material]:
    """Return every material by its name; other names stand in ``Material.also``."""
    source = table("material")
    entries = {}
    for row in source.rows:
        porosity = float(row.get("porosity", 0.0))
        solid = 1.0 / (1.0 - porosity) if "bulk" in row else 1.0
        low, high = row["range"]
        entries[row["name"]] = Material(
            name=row["name"],
            density=row["bulk" if "bulk" in row else "density"] * solid,
            density_range=(low * solid, high * solid),
            source=row.get("source", source.source),
            porosity=porosity,
            also=tuple(row.get("also", ())),
            note=row.get("note", ""),
        )
    return MappingProxyType(entries)


@cache
def shipped_limits() -> Mapping[str, Limit]:
    """Return every limit by its name."""
    source = table("limit")
    return MappingProxyType(
        {
            row["name"]: Limit(
                name=row["name"],
                value=float(row["value"]),
                unit=row["unit"],
                severity=cast("Severity", row["severity"]),
                source=row.get("source", source.source),
                note=row.get("note", ""),
            )
            for row in source.rows
        }
    )


@cache
def shipped_pumps() -> Mapping[str, Pump]:
    """Return the generic pumps by name; none is a product."""
    source = table("pump")
    return MappingProxyType(
        {
            row["name"]: Pump(
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
        }
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
