"""The stand's boards, and the room it leaves for what goes through the tank's bottom."""

import itertools
import math

import numpy as np
import pytest

from layout3d.checks.examine import examine
from layout3d.errors import LayoutError, SceneRefused
from layout3d.model.build import build_model
from layout3d.scene.reader import read_scene
from layout3d.solid.distance import gap, overlap

SCENE = """
format: 1
units: mm
waterline: 200
parts:
  tank:
    kind: tank
    inside: [600, 400, 400]
    glass: 10
    holes:
      floor: {panel: bottom, left: 400, back: 200, bulkhead: 3/4 in thin}
      side: {panel: back, left: 400, bottom: 200, bulkhead: 3/4 in thin}
  stand: {kind: stand, height: 700, board: 30}
  down:
    kind: run
    pipe: 3/4 in sch 40
    start: floor.outside
    route: [{down: 300}, open]
"""


def test_board_and_mat_are_cut_around_a_hole_in_the_bottom():
    """The nut of 52 mm and 25 mm beside it (limit nut_to_corner): an opening of 104 mm, round."""
    model = build_model(read_scene("stand.yaml", text=SCENE))
    top, mat, nut = (model.body(name) for name in ("stand.top", "stand.mat", "tank.floor"))
    opening = math.pi * 0.052**2  # round solids have the true circle's area
    assert top.solid.volume == pytest.approx((0.620 * 0.420 - opening) * 0.030, rel=1e-9)
    assert mat.solid.volume == pytest.approx((0.620 * 0.420 - opening) * 0.006, rel=1e-9)
    for body in (nut, *model.bodies_of("down")):
        assert overlap(top.solid, body.solid) is None
    assert gap(top.solid, nut.solid).distance > 0.024


FRAMED = SCENE.replace(
    "board: 30}", "board: 30, frame: {width: 40, height: 50, wall: 3, legs: 3, across: 4}}"
)


def test_a_frame_fills_the_room_under_the_top_board():
    """Two rails of 560, six legs of 584 less 50, four rails across of 340: 40 x 50 hollow by 3, of steel."""
    model = build_model(read_scene("stand.yaml", text=FRAMED))
    bars = {body.name: body for body in model.bodies_of("stand") if body.kind == "bar"}
    tall = 0.7 - 0.06
    length = 2 * 0.56 + 6 * (tall - 0.05) + 4 * (0.42 - 0.08)
    assert len(bars) == 12
    assert {body.material for body in bars.values()} == {"steel"}
    assert sum(body.solid.volume for body in bars.values()) == pytest.approx(
        length * (0.04 * 0.05 - 0.034 * 0.044), rel=1e-9
    )
    top, bottom = (model.body(f"stand.{name}").solid.bounds for name in ("top", "bottom"))
    low, high = (np.array([body.solid.bounds[i] for body in bars.values()]) for i in (0, 1))
    assert low.min(axis=0) == pytest.approx([bottom[0, 0] + 0.03, bottom[0, 1], bottom[1, 2]])
    assert high.max(axis=0) == pytest.approx([bottom[1, 0] - 0.03, bottom[1, 1], top[0, 2]])
    across = np.array([bars[f"stand.across_{n}"].solid.bounds[:, 0] for n in (1, 2, 3, 4)]).ravel()
    assert np.diff(across)[1::2] == pytest.approx([0.4 / 3] * 3)  # 560 less four bars of 40, in three bays
    for a, b in itertools.combinations(bars.values(), 2):
        assert overlap(a.solid, b.solid) is None
    (space,) = model.built["stand"].spaces
    assert space.high[2] == pytest.approx(top[0, 2] - 0.05)


@pytest.mark.parametrize(
    ("frame", "field", "told"),
    [
        ("width: 40, height: 30, wall: 15", "wall", "its walls fill the bars"),
        (
            "width: 200, height: 60, across: 3",
            "frame",
            "its bars fill the room under the top board, 560 mm long",
        ),
        ("width: 50, height: 60, legs: 12", "frame", "its bars fill the room under the top board"),
    ],
)
def test_a_frame_that_does_not_fit_is_refused(frame, field, told):
    text = SCENE.replace("board: 30}", f"board: 30, frame: {{{frame}}}}}")
    with pytest.raises(LayoutError) as raised:
        build_model(read_scene("stand.yaml", text=text))
    (mistake,) = getattr(raised.value, "mistakes", (raised.value,))
    assert told in str(mistake)
    assert field in str(mistake)


def test_a_stand_has_posts_or_a_frame():
    with pytest.raises(SceneRefused, match="a frame has legs of its own"):
        read_scene("stand.yaml", text=FRAMED.replace("board: 30,", "board: 30, posts: 2,"))


def test_a_pipe_through_the_bottom_meets_a_rail_that_is_in_its_way():
    """The hole lies at 400, the third of four rails across from 367 to 407."""
    model = build_model(read_scene("stand.yaml", text=FRAMED))
    met = {name for finding in examine(model, only=("overlap",)) for name in finding.parts}
    assert {"stand.across_3", "tank.floor"} <= met
