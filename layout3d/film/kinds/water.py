"""Water that rises to the waterline; then, where pumps run from a sump, the power fails."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from layout3d.draw.camera import Camera
from layout3d.draw.pieces import WaterBody
from layout3d.draw.waters import waters_of
from layout3d.film.frame import HOLD, Frame, Setting, eased, sequence_kind
from layout3d.outage.outages import outages, water_levels
from layout3d.units import show

LIKELY = 1  # the number of it among low, likely and high


@sequence_kind("water", count=120)
def water(setting: Setting) -> tuple[Frame, ...]:
    """Return frames of the filling, and of the levels going to those of ``outage`` at rest.

    Between two levels the surface is drawn as going evenly: how long it takes isn't computed.
    """
    model = setting.model
    running = waters_of(model, model.bodies)
    found = outages(model)
    style = model.scene.style

    def told(z: float) -> str:
        return show(z, "length", system=style)

    count = setting.count if found is None else max(setting.count // 2, 1)
    caption = f"filling to the waterline, {told(model.waterline)} over the floor"
    empty = [replace(one, level=one.floor) for one in running]
    filling = _going(setting.camera(), empty, running, count, caption)
    if found is None:
        return filling
    tank, chamber = found.power_cut.tank_level.likely, found.power_cut.chamber_level.likely
    floor = found.circuit.sump.floor
    levels = water_levels(found, found.power_cut, LIKELY)
    rest = tuple(replace(one, level=levels.get(one.name, one.level)) for one in running)
    caption = f"power cut: the tank falls to {told(tank)}, the sump rises to {told(chamber - floor)}"
    return filling + _going(setting.camera(), running, rest, max(setting.count - count, 1), caption)


def _going(
    camera: Camera, begin: Sequence[WaterBody], end: Sequence[WaterBody], count: int, caption: str
) -> tuple[Frame, ...]:
    """Return frames of waters whose levels go from those of ``begin`` to those of ``end``."""
    frames = []
    for number in range(1, count + 1):
        share = eased(number / count)
        waters = tuple(
            replace(one, level=one.level + (other.level - one.level) * share)
            for one, other in zip(begin, end, strict=True)
        )
        seconds = HOLD if number == count else 0.0
        frames.append(Frame(camera=camera, waters=waters, caption=caption, seconds=seconds))
    return tuple(frames)
