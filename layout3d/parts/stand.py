"""The stand under the tank: boards, and posts or a frame, around the sump; ``stand-sag`` judges its top."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from layout3d.errors import SceneMistake
from layout3d.fields import CatalogName, Count, Length, field
from layout3d.fields_composite import record
from layout3d.parts.base import Built, Join, Part, Site, Space
from layout3d.parts.frame import Frame
from layout3d.solid.boolean import difference
from layout3d.solid.placement import Placement, Vector
from layout3d.solid.primitives import box, cylinder
from layout3d.solid.shape import Solid

BEYOND = 0.001
"""How far a cut reaches past a board's faces, so that no film is left, [m]."""


@dataclass(frozen=True, kw_only=True)
class Stand(Part):
    """A stand as wide as the tank, open at the front; the tank stands on a mat on its top board.

    Board and mat are cut out around each hole drilled in the tank's bottom, with room to turn a nut.
    """

    kind = "stand"
    group = "stand"

    height: float = field(Length(0.05, 2.5), doc="from the floor of the room to its top board's upper face")
    board: float = field(Length(0.005, 0.2), 0.036, doc="thickness of its boards")
    overhang: float = field(Length(0.0, 0.5), 0.0, doc="past the tank's outside on each side")
    mat: float = field(Length(0.0, 0.05), 0.006, doc="thickness of the mat under the glass")
    posts: int = field(Count(0, 8), 0, doc="upright boards at the front, spread evenly between the two sides")
    frame: Frame | None = field(record(Frame, "a frame"), None, doc="under the top board, between its boards")
    material: str = field(CatalogName("material"), "plywood", doc="of the boards")
    mat_material: str = field(CatalogName("material"), "xps", doc="of the mat")

    def __post_init__(self) -> None:
        """Refuse a stand that its boards fill."""
        if self.height < 3 * self.board:
            raise SceneMistake(
                "the boards fill the stand", expected="a height of three boards or more", path="height"
            )
        if self.frame is not None and self.posts:
            raise SceneMistake("a frame has legs of its own", expected="no posts beside it", path="posts")

    def build(self, site: Site) -> Built[Stand, None]:
        """Build boards, posts and mat."""
        tank = site.tank()
        outer = np.array(tank.data.outer_plan)
        low, high = outer.min(axis=0), outer.max(axis=0)
        top = -tank.data.panels["bottom"].thickness - self.mat
        x0, y0 = (float(v) - self.overhang for v in low)
        length, depth = (float(b - a) + 2 * self.overhang for a, b in zip(low, high, strict=True))
        board, floor = self.board, top - self.height
        inner_height, inner_length = self.height - 2 * board, length - 2 * board
        if inner_length < 0.05 or self.posts * board > inner_length - 0.05:
            raise self.mistake(
                "posts" if self.posts else "board",
                f"boards of {site.length(board)} fill a stand {site.length(length)} long",
                expected="thinner boards, or fewer posts",
            )
        boards = {
            "top": ((length, depth, board), (x0, y0, top - board)),
            "bottom": ((length, depth, board), (x0, y0, floor)),
            "left": ((board, depth, inner_height), (x0, y0, floor + board)),
            "right": ((board, depth, inner_height), (x0 + length - board, y0, floor + board)),
        }
        for index in range(self.posts):
            between = (inner_length - self.posts * board) / (self.posts + 1)
            x = x0 + board + between + index * (between + board)
            post = (board, min(board * 2, depth), inner_height)
            boards[f"post_{index + 1}"] = (post, (x, y0, floor + board))
        pieces = {name: box(size).solid(Placement.at(at)) for name, (size, at) in boards.items()}
        low_in = (x0 + board, y0, floor + board)
        high_in = (low_in[0] + inner_length, y0 + depth, low_in[2] + inner_height)
        openings = self._openings(site, top)
        pieces["top"] = self._cut(pieces["top"], openings)
        made = [(piece, solid, "board", self.material) for piece, solid in pieces.items()]
        if self.mat > 0:
            mat = box((float(high[0] - low[0]), float(high[1] - low[1]), self.mat))
            lies = mat.solid(Placement.at((float(low[0]), float(low[1]), top)))
            made.append(("mat", self._cut(lies, openings), "mat", self.mat_material))
        if self.frame is not None:
            bars = self._bars(self.frame, low_in, high_in, site)
            made += [(piece, solid, "bar", self.frame.material) for piece, solid in bars]
            high_in = (*high_in[:2], high_in[2] - self.frame.height)
        bodies = [
            self.body(solid, site, material=material, piece=piece, kind=kind, where="room")
            for piece, solid, kind, material in made
        ]
        under = f"{self.name}.{'mat' if self.mat > 0 else 'top'}"
        joins = (Join(self.name, self.name, "glued"), Join(under, tank.part.name, "rests"))
        inside = Space(name=self.name, low=low_in, high=high_in)
        return Built(part=self, data=None, bodies=tuple(bodies), joins=joins, spaces=(inside,))

    def _bars(self, frame: Frame, low: Vector, high: Vector, site: Site) -> Iterator[tuple[str, Solid]]:
        length, depth, tall = np.subtract(high, low).tolist()
        if min(*frame.spans(length, depth), tall - frame.height) <= 0.0:
            raise self.mistake(
                "frame",
                f"its bars fill the room under the top board, {site.length(length)} long, "
                f"{site.length(depth)} deep and {site.length(tall)} high",
                expected="fewer or smaller bars",
            )
        return frame.bars(low, high)

    def _openings(self, site: Site, top: float) -> list[Solid]:
        """Return what is cut out of top board and mat: room around each drilled hole in the tank's bottom."""
        room = site.catalog.limit("nut_to_corner").value
        cuts = []
        for hole in site.tank().data.holes.values():
            if hole.panel == "bottom":
                radius = max(hole.diameter, hole.flange_diameter, hole.nut_diameter) / 2 + room
                low = (hole.at[0], hole.at[1], top - self.board - BEYOND)
                cuts.append(cylinder(radius, self.board + self.mat + 2 * BEYOND).solid(Placement.at(low)))
        return cuts

    def _cut(self, board: Solid, openings: list[Solid]) -> Solid:
        left = difference(board, openings)
        if left is None:
            raise self.mistake(
                "height",
                "nothing is left of the stand's top around the holes in the tank's bottom",
                expected="holes that leave a board to stand on",
            )
        return left
