"""One picture for each step of building, what it puts in or works on marked."""

from __future__ import annotations

from dataclasses import replace

from layout3d.draw.waters import waters_of
from layout3d.film.frame import Frame, Setting, sequence_kind
from layout3d.film.standing import called, stands_from_the_start, undersides
from layout3d.parts.base import Vector
from layout3d.shop.order import build_order
from layout3d.shop.step import worked_on

HOLD = 3.0  # how long each is shown, [s]


@sequence_kind("steps")
def steps(setting: Setting) -> tuple[Frame, ...]:
    """Return a frame a step: what was put in until then, and of a dry fit what is taken apart again.

    A bed is filled to the undersides of what stands in it until the step that fills the rest. For the leak
    test the bare tank holds a quarter of its height, where that step says to stop first.
    """
    model = setting.model
    order = build_order(model).steps
    camera = setting.camera()
    there = stands_from_the_start(model, order)
    full, *_ = waters_of(model, model.bodies)
    quarter = replace(full, level=model.tank.height / 4.0)
    filled = False
    bed_to: tuple[Vector, ...] = ()
    frames = []
    for step in order:
        marked = worked_on(model, step)
        filled = filled or step.label == "fill"
        if step.label in ("base", "bed"):
            bed_to = undersides(model) if step.label == "base" else ()
        shown = there | set(marked)
        hidden = dict.fromkeys(called(model.body(name)) for name in step.hides)
        hides = f"\nhidden from now on: {', '.join(hidden)}" if hidden else ""
        frames.append(
            Frame(
                camera=camera,
                bodies=tuple(body.name for body in model.bodies if body.name in shown),
                marked=marked,
                named=bool(marked),
                bed_to=bed_to,
                waters=None if filled else (quarter,) if step.label == "leak" else (),
                caption=f"{step.number}. {step.does}{hides}",
                seconds=HOLD,
            )
        )
        if step.label != "dry":
            there = shown
    return tuple(frames)
