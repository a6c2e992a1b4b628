"""The key figures of a model, SI, under the names that ``check --json`` prints."""

from __future__ import annotations

from layout3d.model.model import Model
from layout3d.water.cavity import basins, tank_cavity
from layout3d.water.displaced import displaced
from layout3d.water.kept import kept
from layout3d.water.mass import floor_load, masses
from layout3d.water.sump import sump_water

__all__ = ["figures"]


@kept
def figures(model: Model) -> dict[str, float | dict[str, float]]:
    """Return the key figures.

    Volumes [m³]: ``tank_inside_volume`` to the rim; at the waterline ``water_volume_gross`` as if nothing
    were in the tank, ``water_volume_net`` all water (free and in pores), of which ``pore_water`` is in
    pores and ``water_volume_apart`` in basins that don't hang together with the largest;
    ``sealed_pockets`` below it; ``displaced`` by part and ``displaced_total``; ``sump_water``. Gross is
    the sum of net, displaced_total and sealed_pockets. Masses [kg]: ``mass_dry`` all bodies,
    ``mass_water`` tank and sumps, ``mass_total`` both, ``mass_by_group`` dry. ``floor_pressure`` [Pa],
    ``waterline`` [m], ``body_count``, ``triangle_count``.

    Raises
    ------
    OutOfRange : the waterline isn't within the tank, or a sump's level above its rim.
    """
    cavity = tank_cavity(model)
    level = model.waterline
    taken = displaced(model)
    weighed = masses(model)
    return {
        "tank_inside_volume": cavity.inside.volume,
        "water_volume_gross": float(cavity.gross(level)[0]),
        "water_volume_net": float(cavity.net(level)[0]),
        "water_volume_apart": sum((basin.volume for basin in basins(model)[1:]), 0.0),
        "pore_water": float(cavity.pores(level)[0]),
        "sealed_pockets": float(cavity.shut(level)[0]),
        "displaced": dict(taken.parts),
        "displaced_total": taken.total,
        "sump_water": sump_water(model),
        "mass_dry": weighed.dry,
        "mass_water": weighed.water + weighed.sump_water,
        "mass_total": weighed.total,
        "mass_by_group": dict(weighed.groups),
        "floor_pressure": floor_load(model).pressure,
        "waterline": level,
        "body_count": len(model.bodies),
        "triangle_count": sum(len(body.solid.faces) for body in model.bodies),
    }
