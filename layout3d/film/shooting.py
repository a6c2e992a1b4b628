"""Draws the frames of a sequence on one screen; what does not change from frame to frame stays on it."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from dataclasses import replace
from typing import Any

import numpy as np
import PIL.Image
from numpy.typing import NDArray

from layout3d.draw import screen
from layout3d.draw.camera import Camera
from layout3d.draw.cut import cut_stage
from layout3d.draw.overlay import Overlay
from layout3d.draw.pieces import WATER_NAME, Lines, Piece
from layout3d.draw.stage import Stage, set_stage
from layout3d.draw.style import MARKED, MARKED_OPACITY, MARKED_SHARE
from layout3d.draw.waters import lines_on_things, water_outline, water_piece
from layout3d.film.captions import lines_of
from layout3d.film.frame import Frame
from layout3d.keep import key_of
from layout3d.model.model import Model
from layout3d.parts.base import Vector

__all__ = ["Shooting", "shooting"]

Image = NDArray[np.uint8]

SAMPLES = 1.5  # pixels of the screen to one of the picture, each way: edges are smooth when it is shrunk
THINNER = 0.55  # lines to those of a picture, whose smoothing thins them


class Shooting:
    """A screen and the model before it. Frames may be asked for in any order: each is the same then.

    Parameters
    ----------
    clear : whether the page is left transparent; pictures then have four channels
    told : whether captions are written into the pictures
    """

    def __init__(
        self, model: Model, page: screen.Screen, *, size: tuple[int, int], clear: bool, told: bool
    ) -> None:
        self.model, self.page = model, page
        self.size, self.clear, self.told = size, clear, told
        self.scale = min(size) / 1080.0
        self._width = self.scale * SAMPLES * THINNER
        self._whole = ""
        self._set: tuple[object, Stage] | None = None
        self._own: list[Piece | Lines] = []
        self._more: list[Any] = []

    def key(self, frame: Frame) -> str:
        """Return what a picture of this frame hangs on, by content: all of it, the program too."""
        if not self._whole:
            self._whole = set_stage(self.model).made_of
        given = (self.size, self.clear, frame.caption if self.told else "")
        drawn = replace(frame, caption="", seconds=0.0)
        return key_of("frame", self._whole, drawn, *given).hex()

    def picture(self, frame: Frame) -> Image:
        """Return a frame, (height, width, 3 or 4) of 0 … 255."""
        stage = self._stage(frame)
        actors = self.page.show(stage, scale=self._width)
        self._put(frame)
        moved = dict(frame.moved)
        for body, own in actors.items():
            for actor in own:
                actor.position = moved.get(body, (0.0, 0.0, 0.0))
        plotter = self.page.plotter
        self._sort(frame.camera, moved)
        plotter.disable_depth_peeling()
        screen.use_camera(plotter, frame.camera)
        image = screen.clear_pixels(plotter, self._taken) if self.clear else self._taken(plotter)
        return self._with_caption(image, frame.caption) if self.told and frame.caption else image

    def _stage(self, frame: Frame) -> Stage:
        """Return what a frame shows but for waters of its own, made anew only where it is another."""
        seen = None if frame.cut is None else frame.camera.position
        what = (frame.bodies, frame.marked, frame.cut, frame.waters is None, bool(frame.moved), seen)
        if self._set is None or self._set[0] != what:
            hide = () if frame.waters is None else (WATER_NAME,)
            shown = frame.bodies
            if shown is not None and frame.waters is None:
                shown = (*shown, WATER_NAME)
            stage = set_stage(self.model, hide=hide, show=shown or ())
            if frame.marked:
                marked = set(frame.marked)
                stage = replace(
                    stage, pieces=tuple(_marked(p) if p.body in marked else p for p in stage.pieces)
                )
            if frame.moved:  # the ground's shadow is of what stands in its place
                stage = replace(stage, pieces=tuple(piece for piece in stage.pieces if piece.body))
            if frame.cut is not None:
                stage = cut_stage(stage, frame.cut, frame.camera.position)
            self._set = (what, stage)
        return self._set[1]

    def _put(self, frame: Frame) -> None:
        """Put a frame's own waters on the screen, in the place of the last one's."""
        plotter = self.page.plotter
        for actor in self._more:
            plotter.remove_actor(actor, reset_camera=False, render=False)
        items: list[Piece | Lines] = []
        waters = [one for one in frame.waters or () if one.level > one.floor + 0.001]
        for number, one in enumerate(waters):
            items += [water_piece(one), water_outline(one)]
            if number == 0:
                items += lines_on_things(self.model.bodies, np.array(self.model.tank.plan), one.level)
        self._more = [
            screen.surface(plotter, item)
            if isinstance(item, Piece)
            else screen.lines_on(plotter, item, self._width)
            for item in items
        ]
        self._own = items

    def _sort(self, camera: Camera, moved: Mapping[str, Vector]) -> None:
        """Put what is clear in its order, the farthest first: that is drawn far quicker than layer by layer.

        Panes and waters are few and stand round each other, so that their middles tell their order.
        """
        clear = []
        for item, actor in [*self.page.shown, *zip(self._own, self._more, strict=True)]:
            if item.clear if isinstance(item, Piece) else item.opacity < 1.0:
                points = item.points if isinstance(item, Piece) else item.segments.reshape(-1, 3)
                middle = points.mean(axis=0, dtype=np.float64) + np.array(
                    moved.get(item.body, (0.0, 0.0, 0.0))
                )
                # the ground's shadow lies below everything
                clear.append((np.inf if not item.body else float(camera.depth(middle)[0]), actor))
        renderer = self.page.plotter.renderer
        for _, actor in clear:
            renderer.RemoveActor(actor)
        for _, actor in sorted(clear, key=lambda one: -one[0]):
            renderer.AddActor(actor)

    def _taken(self, plotter: Any) -> Image:
        """Return the picture as it is on the larger screen, brought to its size."""
        image = PIL.Image.fromarray(screen.pixels(plotter, smooth=False))
        return np.asarray(image.resize(self.size, PIL.Image.Resampling.BILINEAR), dtype=np.uint8)

    def _with_caption(self, image: Image, caption: str) -> Image:
        overlay = Overlay(image[..., :3], self.scale)
        overlay.caption(lines_of(caption))
        drawn = np.asarray(overlay.finished(), dtype=np.uint8)
        if image.shape[2] == 3:
            return drawn
        opacity = np.where((drawn != image[..., :3]).any(axis=2), 255, image[..., 3])
        return np.dstack([drawn, opacity]).astype(np.uint8)


@contextmanager
def shooting(
    model: Model, *, size: tuple[int, int], clear: bool = False, told: bool = False
) -> Iterator[Shooting]:
    """Return a screen to draw frames on, closed at the end."""
    larger = (round(size[0] * SAMPLES), round(size[1] * SAMPLES))
    with screen.opened(larger) as page, screen.quiet():
        yield Shooting(model, page, size=size, clear=clear, told=told)


def _marked(piece: Piece) -> Piece:
    """Return a surface in the tint of what is new; a pane is made dense enough to show it."""
    colours = piece.colours.astype(np.float64)
    colours[:, :3] += (255.0 * np.array(MARKED) - colours[:, :3]) * MARKED_SHARE
    if piece.clear:
        colours[:, 3] = np.maximum(colours[:, 3], 255.0 * MARKED_OPACITY)
    return replace(piece, colours=np.round(colours).astype(np.uint8))
