"""A flight from the whole scene over its named cameras, in the order of the file or as they were named."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise

from layout3d.draw.camera import camera_between
from layout3d.errors import LayoutError
from layout3d.film.frame import Frame, Setting, eased, sequence_kind


@sequence_kind("fly-in", count=144)
def fly_in(setting: Setting) -> tuple[Frame, ...]:
    """Return frames of the flight; each stretch takes the same time, begins and ends gently.

    Raises
    ------
    LayoutError : the scene has no cameras.
    """
    spots = setting.spots()
    if not spots:
        raise LayoutError(
            "a flight in a scene without cameras",
            expected="at least one spot under `cameras:`, each with `at:` and `target:`",
        )
    start = replace(setting, cameras=()).camera()
    stops = [start, *spots.values()]
    words = [f"{a} to {b}".replace("_", " ") for a, b in pairwise(["the whole tank", *spots])]
    frames = []
    for share in setting.shares():
        stretch = min(int(share * (len(stops) - 1)), len(stops) - 2)
        between = eased(share * (len(stops) - 1) - stretch)
        camera = camera_between(stops[stretch], stops[stretch + 1], between)
        frames.append(Frame(camera=camera, caption=words[stretch]))
    return tuple(frames)
