"""The water of a scene as text and JSON: by level, what parts take, what everything weighs."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from layout3d.model.model import Model
from layout3d.report.cautions import FLOOD, FLOOR, LIFT
from layout3d.report.figures import both_volumes, pressure_on_floor, share_lines
from layout3d.report.json import heading, plain, told
from layout3d.report.text import caution_lines, title_lines
from layout3d.report.writing import Line, section, table
from layout3d.units import in_own_units, show
from layout3d.water.cavity import basins, basins_apart, tank_cavity
from layout3d.water.dipstick import Mark
from layout3d.water.displaced import displaced
from layout3d.water.figures import figures
from layout3d.water.mass import floor_load, lifts, masses
from layout3d.water.sump import overflow_boxes, sump_compartments

__all__ = ["volume_json", "volume_lines"]


def volume_json(model: Model, marks: Sequence[Mark] | None = None) -> dict[str, Any]:
    """Return the object that ``volume --json`` prints, SI units.

    Parameters
    ----------
    marks : the dipstick, where it was asked for
    """
    cavity, level = tank_cavity(model), model.waterline
    taken, weighed, load, figured = displaced(model), masses(model), floor_load(model), figures(model)
    whole: Any = figured
    facts = heading(model) | {
        "waterline": level,
        "water": {
            "gross": whole["water_volume_gross"],
            "net": whole["water_volume_net"],
            "free": whole["water_volume_net"] - whole["pore_water"],
            "pores": whole["pore_water"],
            "overflow_box_air": whole["overflow_box_air"],
            "sealed_pockets": float(cavity.shut(level)[0]),
            "displaced": taken.total,
            "surface": float(cavity.surface(level)[0]),
        },
        "displaced": dict(taken.parts),
        "displaced_by_body": dict(taken.bodies),
        "basins": [told(basin, "volume depth at surface=area") for basin in basins(model)],
        "pockets": [told(pocket, "volume at") for pocket in cavity.pockets],
        "sump": [
            told(item, "level gross net pores surface compartment=name") for item in sump_compartments(model)
        ],
        "overflow_boxes": [told(item, "name level net surface") for item in overflow_boxes(model)],
        "mass": told(weighed, "dry water sump_water total by_part=parts by_group=groups"),
        "floor": told(load, "stands_on footprint pressure limit=limit.value limit_source=limit.source"),
        "lifts": [told(lift, "part buoyancy weight net") for lift in lifts(model)],
        "cautions": list(_cautions(model)),
    }
    if marks is not None:
        facts["dipstick"] = plain(tuple(marks))
    return facts


@in_own_units
def volume_lines(model: Model, marks: Sequence[Mark] | None = None) -> list[Line]:
    """Return the same as lines of text, in the scene's own units; volumes in litres and gallons both."""
    lines = [
        *title_lines(model),
        Line(""),
        *_water(model),
        *share_lines(displaced(model).parts),
        *_pockets(model),
        *_sump(model),
        Line(""),
        *_weights(model),
    ]
    if marks is not None:
        rows = [
            (show(mark.level, "length"), *both_volumes(mark.net), *both_volumes(mark.gross)) for mark in marks
        ]
        header = ("level", "water", "", "empty tank", "")
        told = table([header, *rows], right=range(len(header)), headed=True)
        boxes = "; overflow boxes at their own level, until it is over them" if model.overflow_boxes else ""
        lines += section(f"Dipstick, over the tank's inside floor{boxes}", told)
    return lines + caution_lines(_cautions(model))


def _cautions(model: Model) -> tuple[str, ...]:
    return (FLOOR, FLOOD, *([LIFT] if lifts(model) else []))


def _water(model: Model) -> list[Line]:
    cavity, level = tank_cavity(model), model.waterline
    volume: Any = figures(model)
    rows = [
        ("as if nothing were in the tank", volume["water_volume_gross"]),
        ("  less what parts take", displaced(model).total),
        ("  less sealed pockets", float(cavity.shut(level)[0])),
        ("  less air in overflow boxes and bores of standpipes", volume["overflow_box_air"]),
        ("water", volume["water_volume_net"]),
        ("  of it in overflow boxes", volume["overflow_box_water"]),
        ("  of it in pores", volume["pore_water"]),
    ]
    optional = [label for label, _ in rows if label.startswith("  ") and label != "  less what parts take"]
    told = [(label, *both_volumes(volume)) for label, volume in rows if label not in optional or volume > 0.0]
    return [
        Line(f"Water at a waterline of {show(level, 'length')}", style="head"),
        *table(told, right=(1, 2)),
        Line(f"open surface {show(float(cavity.surface(level)[0]), 'area')}", 2),
    ]


def _pockets(model: Model) -> list[Line]:
    told: list[tuple[str, Any]] = [("sealed pocket", pocket) for pocket in tank_cavity(model).pockets]
    told += [("basin of its own", basin) for basin in basins_apart(model)]
    found = [
        (f"{what} at {', '.join(show(value, 'length') for value in one.at)}", *both_volumes(one.volume))
        for what, one in told
    ]
    return [Line(""), *table(found, right=(1, 2))] if found else []


def _sump(model: Model) -> list[Line]:
    found = sump_compartments(model)
    rows = [(item.name, *both_volumes(item.net)) for item in found]
    rows.append(("together", *both_volumes(sum(item.net for item in found))))
    return section("Water in the sump", table(rows, right=(1, 2)) if found else ())


def _weights(model: Model) -> list[Line]:
    weighed, load = masses(model), floor_load(model)
    rows = [
        *weighed.groups.items(),
        ("all parts, dry", weighed.dry),
        ("water in the tank", weighed.water),
        *([("water in the sump", weighed.sump_water)] if weighed.sump_water > 0.0 else []),
        ("together", weighed.total),
    ]
    lines = [
        Line("Mass", style="head"),
        *table([(name, show(mass, "mass")) for name, mass in rows], right=(1,)),
        Line(
            f"{load.stands_on} loads the floor with {pressure_on_floor(load.pressure)} on the mean of "
            f"its {show(load.footprint, 'area')}: {load.times_limit:.1f} times "
            f"{pressure_on_floor(load.limit.value)} ({load.limit.source})",
            2,
        ),
    ]
    pulls = [(lift.part, f"lifted by the water with {show(lift.net, 'force')}") for lift in lifts(model)]
    return [*lines, *table(pulls)]
