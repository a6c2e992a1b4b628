"""Water that rises to the waterline; then, where pumps run from a sump, the power fails."""

from __future__ import annotations

from dataclasses import replace

from layout3d.draw.waters import waters_of
from layout3d.film.frame import HOLD, Frame, Setting, eased
from layout3d.film.registry import sequence_kind
from layout3d.outage.outages import outages, water_levels
from layout3d.units import show

__all__ = ["water"]

LIKELY = 1  # the number of it among low, likely and high


@sequence_kind("water", "water rising to the waterline, and through a power cut", count=120)
def water(setting: Setting) -> tuple[Frame, ...]:
    """Return frames of the filling, and of the levels going to those of ``outage`` at rest.

    Between two levels the surface is drawn as going evenly: how long it takes isn't computed.
    """
    model = setting.model
    running = waters_of(model, model.bodies)
    found = outages(model)
    camera = setting.camera()
    style = model.scene.style

    def told(z: float) -> str:
        return show(z, "length", system=style)

    count = setting.count if found is None else max(setting.count // 2, 1)
    frames = []
    for number in range(1, count + 1):
        share = eased(number / count)
        waters = tuple(replace(one, level=one.floor + (one.level - one.floor) * share) for one in running)
        frames.append(
            Frame(
                camera=camera,
                waters=waters,
                caption=f"filling to the waterline, {told(model.waterline)} over the floor",
                seconds=HOLD if number == count else 0.0,
            )
        )
    if found is None:
        return tuple(frames)
    tank, chamber = found.power_cut.tank_level.likely, found.power_cut.chamber_level.likely
    floor = found.circuit.sump.floor
    levels = water_levels(model, found, found.power_cut, LIKELY)
    rest = tuple(replace(one, level=levels.get(one.name, one.level)) for one in running)
    left = max(setting.count - count, 1)
    for number in range(1, left + 1):
        share = eased(number / left)
        waters = tuple(
            replace(one, level=one.level + (end.level - one.level) * share)
            for one, end in zip(running, rest, strict=True)
        )
        caption = f"power cut: the tank falls to {told(tank)}, the sump rises to {told(chamber - floor)}"
        seconds = HOLD if number == left else 0.0
        frames.append(Frame(camera=camera, waters=waters, caption=caption, seconds=seconds))
    return tuple(frames)
