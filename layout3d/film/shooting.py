"""Draws the frames of a sequence on one screen; what does not change from frame to frame stays on it."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from layout3d.draw import screen
from layout3d.draw.cut import cut_stage
from layout3d.draw.labels import Label
from layout3d.draw.near_labels import place_near
from layout3d.draw.overlay import Overlay
from layout3d.draw.picture import part_labels, wanted_labels
from layout3d.draw.pieces import WATER_NAME, Lines, Piece, Stage
from layout3d.draw.scenery import extents_of
from layout3d.draw.seen import label_points, look
from layout3d.draw.stage import set_stage
from layout3d.draw.style import MARKED, MARKED_OPACITY, MARKED_SHARE
from layout3d.draw.waters import lines_on_things, water_outline, water_piece
from layout3d.film.captions import FOOT, WIDEST, lines_of
from layout3d.film.frame import Frame, corners_of
from layout3d.film.standing import called, filled_to
from layout3d.keep import key_of
from layout3d.model.model import Model
from layout3d.parts.base import Vector, vector
from layout3d.solid.placement import Placement

__all__ = ["Shooting", "shooting"]

Image = NDArray[np.uint8]

HIDDEN = 0.5  # of what a body would show: from there on it counts as hidden
HIDDEN_SHARE = 0.4  # of the tint of what is new, on what hides it
LABEL_ROOM = 180.0  # at least, for names at either side: pixels of 1080 of the shorter side
LONGER = 66  # letters of a line written into a picture that lies on its side
SAMPLES = 1.25  # of the screen to a picture, each way: less than a still one's, for each is seen a moment
NAME_ROOM = 0.3  # of the picture's width, for a name
NAME_GAP = 5.0  # between names and what is drawn, pixels of 1080 of the shorter side
NAMES = 1.2  # letters of names to those of a picture's labels


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
        self._whole = ""
        self._set: tuple[object, Stage] | None = None
        self._joined: list[tuple[Image, Image]] = []
        self._lit = -1.0
        self._own: list[tuple[Piece | Lines, Any]] = []

    def key(self, frame: Frame) -> str:
        """Return what a picture of this frame hangs on, by content: all of it, the program too."""
        if not self._whole:
            self._whole = set_stage(self.model).made_of
        given = (self.size, self.clear, frame.caption if self.told else "")
        drawn = replace(frame, caption="", seconds=0.0, named=frame.named and self.told)
        return key_of("frame", self._whole, drawn, *given).hex()

    def picture(self, frame: Frame) -> Image:
        """Return a frame, (height, width, 3 or 4) of 0 … 255."""
        stage = self._stage(frame)
        self.page.show(stage, scale=self.scale)
        self._put(frame)
        if frame.apart:
            self._light(frame.joined)
        take = self.page.clear_pixels if self.clear else self.page.pixels
        image = take(frame.camera, more=self._own, moved=self._moved(frame))
        if frame.marked:
            image = self._hidden(image, frame, stage)
        if not self.told or not (frame.caption or frame.named):
            return image
        return self._with_words(image, frame, stage)

    def _stage(self, frame: Frame) -> Stage:
        """Return what a frame shows but for waters of its own, made anew only where it is another."""
        seen = None if frame.cut is None else frame.camera.position
        what = (
            frame.bodies,
            frame.marked,
            frame.cut,
            frame.waters is None,
            bool(frame.moved),
            seen,
            frame.apart,
        )
        if self._set is None or self._set[0] != what:
            hide = () if frame.waters is None else (WATER_NAME,)
            shown = frame.bodies
            if shown is not None and frame.waters is None:
                shown = (*shown, WATER_NAME)
            stage = set_stage(self._filled(frame), hide=hide, show=shown or ())
            if frame.marked:
                marked = set(frame.marked)
                stage = replace(
                    stage, pieces=tuple(_marked(p) if p.body in marked else p for p in stage.pieces)
                )
            if frame.moved:  # the ground's shadow is of what stands in its place
                stage = replace(stage, pieces=tuple(piece for piece in stage.pieces if piece.body))
            if frame.cut is not None:
                stage = cut_stage(stage, frame.cut, frame.camera.position)
            if frame.apart:
                stage = self._stage_apart(frame.apart)
                inside = {one.body: one.colours for one in set_stage(self.model, hide=hide).pieces}
                self._joined = [(one.colours.copy(), inside[one.body]) for one in stage.pieces]
            self._set, self._lit = (what, stage), -1.0
        return self._set[1]

    def _filled(self, frame: Frame) -> Model:
        """Return the model with its beds as high as they are in a frame."""
        if not frame.bed_to:
            return self.model
        bodies = (
            filled_to(body, frame.bed_to) if body.kind == "substrate" else body for body in self.model.bodies
        )
        return replace(self.model, bodies=tuple(bodies))

    def _stage_apart(self, apart: Sequence[tuple[str, Vector]]) -> Stage:
        """Return what there is, standing apart and lit as it stands there; the ground's shadow is clear."""
        ways = dict(apart)
        bodies = tuple(
            replace(body, solid=body.solid.moved(Placement.at(ways[body.name])))
            if body.name in ways
            else body
            for body in self.model.bodies
        )
        stage = set_stage(replace(self.model, bodies=bodies), hide=(WATER_NAME,))
        *_, ground = set_stage(self.model, hide=(WATER_NAME,)).pieces
        clear = replace(ground, colours=ground.colours * np.array([1, 1, 1, 0], dtype=np.uint8))
        return replace(stage, pieces=(*(piece for piece in stage.pieces if piece.body), clear))

    def _moved(self, frame: Frame) -> dict[str, Vector]:
        """Return how far bodies are from where their surfaces are drawn."""
        moved, apart = dict(frame.moved), dict(frame.apart)
        return {
            name: vector(np.subtract(moved.get(name, (0.0,) * 3), apart.get(name, (0.0,) * 3)))
            for name in moved.keys() | apart.keys()
        }

    def _light(self, joined: float) -> None:
        """Light what stands apart a share of the way as it is lit when all is in place."""
        if joined == self._lit:
            return
        self._lit = joined
        own = [(item, actor) for item, actor in self.page.shown if isinstance(item, Piece)]
        for (piece, actor), (apart, inside) in zip(own, self._joined, strict=True):
            if not piece.clear or not piece.body:  # panes have no light on them, the ground has shadow
                mixed = apart + (inside.astype(np.float32) - apart) * np.float32(joined)
                screen.recolour(actor, np.round(mixed).astype(np.uint8))

    def _put(self, frame: Frame) -> None:
        """Put a frame's own waters on the screen, in the place of the last one's."""
        for _, actor in self._own:
            self.page.renderer.RemoveActor(actor)
        items: list[Piece | Lines] = []
        waters = [one for one in frame.waters or () if one.level > one.floor + 0.001]
        there = tuple(b for b in self.model.bodies if frame.bodies is None or b.name in frame.bodies)
        for number, one in enumerate(waters):
            items += [water_piece(one), water_outline(one)]
            if number == 0:
                items += lines_on_things(there, np.array(self.model.tank.plan), one.level)
        self._own = [(item, self.page.add(item, scale=self.scale)) for item in items]

    def _hidden(self, image: Image, frame: Frame, stage: Stage) -> Image:
        """Let bodies that are new and for the most part hidden show through other things, in their tint."""
        numbers = {name: number for number, name in enumerate(frame.marked, start=1)}
        others = {piece.body for piece in stage.pieces if piece.body and not piece.clear} - numbers.keys()
        (new, far), (_, near) = self.page.part_maps(numbers, (numbers, others))
        covered = (new > 0) & (near < far)
        whole, less = (np.bincount(new[where], minlength=len(numbers) + 1) for where in (new > 0, covered))
        told = less > HIDDEN * np.maximum(whole, 1)
        share = (covered & told[new]).astype(np.float32)
        drawn = image.astype(np.float32)
        tint = np.array(MARKED, dtype=np.float32) * 255.0
        drawn[..., :3] += (tint - drawn[..., :3]) * (HIDDEN_SHARE * share)[..., None]
        return np.round(drawn).astype(np.uint8)

    def _labels(self, frame: Frame, stage: Stage) -> tuple[Label, ...]:
        """Return names beside what is marked in a frame, or all; all stand where their surfaces are."""
        camera, scale = frame.camera, self.scale * NAMES
        pieces = [piece for piece in stage.pieces if piece.body]
        if frame.marked:  # alone, for it may be hidden
            pieces = [piece for piece in pieces if piece.body in frame.marked]
        own = tuple(replace(piece, part=called(self.model.body(piece.body))) for piece in pieces)
        stage = replace(stage, pieces=own)
        seen = look(self.page, stage)
        points = label_points(stage, camera, seen, grain=3)
        edge = 14.0 * scale
        if frame.apart:
            wide, high = self.size
            whole = np.maximum.reduce([seen.parts, *seen.clear])
            area = (edge, edge, wide - edge, high * (1.0 - FOOT))
            names = wanted_labels(points, scale, room=NAME_ROOM * wide)
            return place_near(names, whole, seen.numbers, area=area, gap=NAME_GAP * scale)
        shown = stage.extents if not frame.marked else extents_of(self.model, self.model.bodies)
        flat = camera.project(corners_of([np.array([one.low, one.high]) for one in shown]))
        (left, top), (right, bottom) = flat.min(axis=0), flat.max(axis=0)
        # names stand on what is drawn where there is no room beside it
        least, most = LABEL_ROOM * self.scale, self.size[0] - LABEL_ROOM * self.scale
        area = (max(float(left - edge), least), float(top), min(float(right + edge), most), float(bottom))
        room = min(area[0], self.size[0] - area[2]) - 3.0 * edge
        return part_labels(points, scale, area=area, room=room)[0]

    def _with_words(self, image: Image, frame: Frame, stage: Stage) -> Image:
        drawn = image[..., :3]
        if frame.named:
            names = Overlay(drawn, self.scale * NAMES)
            for label in self._labels(frame, stage):
                names.label(label)
            drawn = np.asarray(names.finished(), dtype=np.uint8)
        overlay = Overlay(drawn, self.scale)
        if frame.caption:
            wide, high = self.size
            overlay.caption(lines_of(frame.caption, widest=LONGER if wide > high else WIDEST))
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
    with screen.opened(size, samples=SAMPLES) as page, screen.quiet():
        yield Shooting(model, page, size=size, clear=clear, told=told)


def _marked(piece: Piece) -> Piece:
    """Return a surface in the tint of what is new; a pane is made dense enough to show it."""
    colours = piece.colours.astype(np.float64)
    colours[:, :3] += (255.0 * np.array(MARKED) - colours[:, :3]) * MARKED_SHARE
    if piece.clear:
        colours[:, 3] = np.maximum(colours[:, 3], 255.0 * MARKED_OPACITY)
    return replace(piece, colours=np.round(colours).astype(np.uint8))
