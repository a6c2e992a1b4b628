"""The key figures of a model, SI, under the names that ``check --json`` prints."""

from __future__ import annotations

from layout3d.model.model import Model
from layout3d.solid.level import volume_below
from layout3d.water.cavity import tank_cavity, water_apart
from layout3d.water.displaced import displaced
from layout3d.water.mass import floor_load, masses
from layout3d.water.remembered import kept
from layout3d.water.standpipe import drained_bores
from layout3d.water.sump import overflow_box_water, overflow_boxes, sump_water

__all__ = ["figures"]


@kept
def figures(model: Model) -> dict[str, float | dict[str, float]]:
    """Return the key figures.

    Volumes [m³]: ``tank_inside_volume`` to the rim; at the waterline ``water_volume_gross`` as if nothing
    were in the tank, ``water_volume_net`` all water (free and in pores), of which ``pore_water`` is in
    pores, ``water_volume_apart`` in basins that don't hang together with the largest, and
    ``overflow_box_water`` in overflow boxes at their own level; ``overflow_box_air`` the space in those above
    it and below the waterline, with the bores of standpipes in them and in the tank; ``sealed_pockets``
    below it; ``displaced`` by part and ``displaced_total``; ``sump_water``. Gross is the sum
    of net, displaced_total, sealed_pockets and overflow_box_air. Masses [kg]: ``mass_dry`` all bodies,
    ``mass_water`` tank and sumps, ``mass_total`` both, ``mass_by_group`` dry.
    ``floor_pressure`` [Pa], ``waterline`` [m], ``body_count``, ``triangle_count`` (of a bed: before stones
    and pipes are taken out of it, and of what these take).

    Raises
    ------
    OutOfRange : the waterline isn't within the tank, or a sump's level above its rim.
    """
    cavity = tank_cavity(model)
    level = model.waterline
    taken = displaced(model)
    weighed = masses(model)
    boxes = overflow_box_water(model)
    gross = float(volume_below(model.tank.interior, [level])[0])
    runs_off = bool(model.overflow_boxes or drained_bores(model).solids)
    net, shut = float(cavity.net(level)[0]) + boxes, float(cavity.shut(level)[0])
    return {
        "tank_inside_volume": model.tank.interior.volume,
        "water_volume_gross": gross,
        "water_volume_net": net,
        "water_volume_apart": water_apart(model),
        "pore_water": float(cavity.pores(level)[0]) + sum(box.pores for box in overflow_boxes(model)),
        "sealed_pockets": shut,
        "displaced": dict(taken.parts),
        "displaced_total": taken.total,
        "overflow_box_water": boxes,
        "overflow_box_air": max(0.0, gross - net - taken.total - shut) if runs_off else 0.0,
        "sump_water": sump_water(model),
        "mass_dry": weighed.dry,
        "mass_water": weighed.water + weighed.sump_water,
        "mass_total": weighed.total,
        "mass_by_group": dict(weighed.groups),
        "floor_pressure": floor_load(model).pressure,
        "waterline": level,
        "body_count": len(model.bodies),
        "triangle_count": sum(body.solid.face_count for body in model.bodies),
    }
