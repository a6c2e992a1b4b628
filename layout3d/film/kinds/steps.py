"""One picture for each step of building, what it puts in or works on marked."""

from __future__ import annotations

from layout3d.film.frame import Frame, Setting
from layout3d.film.registry import sequence_kind
from layout3d.film.standing import stands_from_the_start
from layout3d.shop.order import build_order
from layout3d.shop.step import worked_on

__all__ = ["steps"]

HOLD = 3.0  # how long each is shown, [s]


@sequence_kind("steps", "one picture a build step, what is new in it marked")
def steps(setting: Setting) -> tuple[Frame, ...]:
    """Return a frame a step: what was put in until then, and of a dry fit what is taken apart again.

    A bed is drawn finished from the step on that begins it.
    """
    model = setting.model
    order = build_order(model).steps
    camera = setting.camera()
    there = stands_from_the_start(model, order)
    filled = False
    frames = []
    for step in order:
        marked = worked_on(model, step)
        filled = filled or step.label == "fill"
        shown = there | set(marked)
        frames.append(
            Frame(
                camera=camera,
                bodies=tuple(body.name for body in model.bodies if body.name in shown),
                marked=marked,
                waters=None if filled else (),
                caption=f"{step.number}. {step.does}",
                seconds=HOLD,
            )
        )
        if step.label != "dry":
            there = shown
    return tuple(frames)
