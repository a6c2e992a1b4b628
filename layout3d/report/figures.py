"""The key figures as lines of text; volumes in litres and gallons both, else as ``units.shown_in`` says."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from layout3d.report.writing import Line, table
from layout3d.units import show, system_shown, to_si

__all__ = ["Figures", "both_volumes", "figure_lines", "pressure_on_floor", "share_lines"]

Figures = Mapping[str, float | Mapping[str, float]]

_VOLUMES = (
    ("tank_inside_volume", "inside of the tank, to the rim"),
    ("water_volume_gross", "below the waterline, as if nothing were in it"),
    ("displaced_total", "  less what parts take"),
    ("sealed_pockets", "  less sealed pockets, which no water reaches"),
    ("overflow_box_air", "  less air in overflow boxes and bores of standpipes"),
    ("water_volume_net", "water in the tank"),
    ("pore_water", "  of it in pores"),
    ("water_volume_apart", "  of it in basins of their own"),
    ("overflow_box_water", "  of it in overflow boxes, at their own level"),
    ("sump_water", "water in the sump"),
)
_LEAST = 5e-6  # what would show as 0.00 L, [m³]
_WHERE_ANY = (
    "sealed_pockets",
    "overflow_box_air",
    "pore_water",
    "water_volume_apart",
    "overflow_box_water",
    "sump_water",
)
_MASSES = (
    ("mass_dry", "all parts, dry"),
    ("mass_water", "all water"),
    ("mass_total", "together"),
)


def figure_lines(figures: Figures) -> list[Line]:
    """Return the key figures (``water.figures``) as lines."""
    number: Any = figures
    volumes = [
        (label, *both_volumes(number[key]))
        for key, label in _VOLUMES
        if key not in _WHERE_ANY or number[key] >= _LEAST
    ]
    loads = [(label, show(number[key], "mass")) for key, label in _MASSES]
    loads.append(("on the floor, mean over the footprint", pressure_on_floor(number["floor_pressure"])))
    return [
        Line(f"Figures at a waterline of {show(number['waterline'], 'length')}", style="head"),
        *table(volumes, right=(1, 2)),
        *share_lines(number["displaced"]),
        Line(""),
        *table(loads, right=(1,)),
        Line(f"{number['body_count']:,} solids of {number['triangle_count']:,} triangles", 2, "faint"),
    ]


def share_lines(displaced: Mapping[str, float]) -> list[Line]:
    """Return what each part takes of the water, the most first; empty where none takes any."""
    taking = sorted(
        ((part, volume) for part, volume in displaced.items() if volume >= _LEAST), key=lambda item: -item[1]
    )
    if not taking:
        return []
    rows = [(part, *both_volumes(volume)) for part, volume in taking]
    return [Line(""), Line("taken by", 2), *table(rows, indent=4, right=(1, 2))]


def both_volumes(volume: float) -> tuple[str, str]:
    """Return a volume in litres and in gallons, always in these, so that columns can be compared.

    The first is what the scene is told in, by ``units.shown_in``.

    >>> both_volumes(0.35)
    ('350.00 L', '92.46 gal')
    >>> from layout3d.units import shown_in
    >>> with shown_in("inch"):
    ...     both_volumes(0.35)
    ('92.46 gal', '350.00 L')
    """
    litres, gallons = f"{volume / to_si(1, 'L'):,.2f} L", f"{volume / to_si(1, 'gal'):,.2f} gal"
    return (gallons, litres) if system_shown() == "inch" else (litres, gallons)


def pressure_on_floor(pressure: float) -> str:
    """Return a floor load as the trade has it: kPa, or pounds-force a square foot.

    >>> from layout3d.units import shown_in
    >>> with shown_in("inch"):
    ...     pressure_on_floor(1915.0)
    '40 psf'
    """
    if system_shown() == "inch":
        return f"{pressure / to_si(1, 'lbf/ft2'):,.0f} psf"
    return show(pressure, "pressure")
