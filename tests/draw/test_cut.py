from __future__ import annotations

import math

import numpy as np
import pytest
from closed_solids import ball

from layout3d.draw.cut import clip_piece, cut_stage, plane_of
from layout3d.draw.pieces import Piece
from layout3d.draw.stage import set_stage
from layout3d.errors import OutOfRange, UnknownName
from layout3d.keep import key_of


def area(piece: Piece) -> float:
    corners = piece.points[piece.faces].astype(float)
    across = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
    return float(np.linalg.norm(across, axis=1).sum() / 2.0)


def as_piece(shape) -> Piece:
    count = len(shape.vertices)
    return Piece(
        body="b",
        part="b",
        group="rock",
        points=shape.vertices.astype(np.float32),
        normals=shape.vertices.astype(np.float32),
        faces=shape.faces,
        colours=np.full((count, 4), 200, dtype=np.uint8),
    )


@pytest.mark.parametrize("at", [-0.07, -0.01, 0.0, 0.03, 0.08])
def test_clipping_a_ball_leaves_the_cap_behind_the_plane(at):
    """Archimedes: a ball's surface below a level is 2 pi r h, h from its lowest point up."""
    kept = clip_piece(as_piece(ball(0.1)), plane_of(("z", at), "plan"))
    assert area(kept) == pytest.approx(2.0 * math.pi * 0.1 * (0.1 + at), rel=2e-3)
    assert kept.points[:, 2].max() <= at + 1e-6
    assert (kept.colours == 200).all()


def test_a_plane_that_misses_takes_all_or_nothing():
    piece = as_piece(ball(0.1))
    assert clip_piece(piece, plane_of(("z", 0.2), "plan")) is piece
    assert clip_piece(piece, plane_of(("z", -0.2), "plan")) is None


def test_the_viewers_side_goes():
    piece = as_piece(ball(0.1))
    assert clip_piece(piece, plane_of(("y", 0.0), "front")).points[:, 1].min() >= -1e-6
    assert clip_piece(piece, plane_of(("y", 0.0), "back")).points[:, 1].max() <= 1e-6
    assert clip_piece(piece, plane_of(("x", 0.0), "left")).points[:, 0].min() >= -1e-6
    assert clip_piece(piece, plane_of(("x", 0.0), "right")).points[:, 0].max() <= 1e-6


def caps(stage, before):
    """The faces that a cut added, by body."""
    count = {piece.body: 0 for piece in before.pieces}
    return {
        piece.body: piece
        for piece in stage.pieces
        if piece.body and not piece.lighted and count[piece.body] == 0
    }


def test_cut_faces_have_the_areas_of_the_section(model):
    stage = set_stage(model)
    cut = cut_stage(stage, ("z", 0.25), "plan")
    faces = caps(cut, stage)
    # a ring of pipe: pi (R² - r²)
    assert area(faces["riser.pipe"]) == pytest.approx(math.pi * (0.0133**2 - 0.0105**2), rel=1e-6)
    # the front pane: the length between the outer faces of the side panes, times its thickness
    assert area(faces["tank.front"]) == pytest.approx(0.816 * 0.008, rel=1e-6)


def test_what_is_buried_shows_in_front_of_what_it_is_buried_in(model):
    """At 0.10 m the stone stands partly in the bed: together they cover the bed's section once."""
    stage = set_stage(model, show=("bed", "stone_1"))
    alone = set_stage(model, show=("bed",))
    both = caps(cut_stage(stage, ("y", 0.15), "front"), stage)
    bed = caps(cut_stage(alone, ("y", 0.15), "front"), alone)["bed"]
    assert area(both["bed"]) < area(bed)
    stone = set_stage(model, show=("stone_1",))
    whole = caps(cut_stage(stone, ("y", 0.15), "front"), stone)["stone_1"]
    assert area(both["stone_1"]) == pytest.approx(area(whole), rel=1e-6)


def test_water_is_filled_in_below_the_waterline_only(model):
    stage = set_stage(model, show=("water", "tank"))
    front = cut_stage(stage, ("y", 0.2), "front").pieces
    faces = [p for p in front if p.body == "water" and not p.one_sided]
    assert area(faces[0]) == pytest.approx(0.8 * 0.18)
    above = cut_stage(stage, ("z", 0.3), "plan").pieces
    assert not [p for p in above if p.body == "water" and not p.one_sided]
    below = cut_stage(stage, ("z", 0.1), "plan").pieces
    assert area(next(p for p in below if p.body == "water" and not p.one_sided)) == pytest.approx(0.8 * 0.4)


def test_what_is_cut_is_plain_data_as_all_pieces_are(model):
    for piece in cut_stage(set_stage(model), ("y", 0.2), "three_quarter").pieces:
        key_of("piece", piece)  # or a TypeError: the window keeps coarser ones by this


def test_nothing_is_left_on_the_viewers_side(model):
    stage = set_stage(model)
    for piece in cut_stage(stage, ("y", 0.2), "three_quarter").pieces:
        assert not piece.body or piece.points[:, 1].min() >= 0.2 - 0.001
    for lines in cut_stage(stage, ("y", 0.2), "three_quarter").lines:
        assert lines.segments[..., 1].min() >= 0.2 - 0.001


@pytest.mark.parametrize(
    ("cut", "view", "error", "words"),
    [
        (("w", 0.1), "front", UnknownName, "can't be square to 'w'"),
        (("x", 0.1), "front", OutOfRange, "looks along"),
        (("z", 0.1), "left", OutOfRange, "looks along"),
        (("y", float("nan")), "front", OutOfRange, "no place"),
    ],
)
def test_a_cut_that_makes_no_sense_is_refused(cut, view, error, words):
    with pytest.raises(error, match=words):
        plane_of(cut, view)


def test_a_cut_outside_the_scene_is_refused(model):
    with pytest.raises(OutOfRange, match="passes everything"):
        cut_stage(set_stage(model), ("y", 3.0), "front")
