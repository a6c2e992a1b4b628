"""What is wished of places, on blocks whose shares can be told by eye."""

from pathlib import Path

import pytest

from layout3d.model.build import build_model
from layout3d.place.wishes import Asked, Pieces, measured
from layout3d.scene.reader import read_scene
from layout3d.solid.primitives import box
from layout3d.solid.shape import Placement
from layout3d.swim.room import room

FAULTY = Path(__file__).resolve().parents[2] / "scenes" / "faulty"
SCENE = """\
format: 1
units: mm
waterline: 200
swim: {sizes: [40]}
parts:
  tank: {kind: tank, inside: [600, 400, 400], glass: 10}
  before: {kind: rock, mesh: block.obj, longest: 240, at: {left: 120, front: 100, bottom: 0}}
  fern: {kind: plant, height: 100, spread: 100, detail: 0.5, root: false, at: [450, 300, 50]}
  grass: {kind: plant, height: 100, spread: 100, detail: 0.5, root: false, at: [450, 100, 50]}
  bar:
    kind: run
    pipe: d20 pn 16
    start: [100, 380, 350]
    route: [{right: 400, drip: {diameter: 3, pitch: 100, margin: 50}}, cap]
"""


@pytest.fixture(scope="module")
def model():
    return build_model(read_scene(FAULTY / "made.yaml", text=SCENE))


@pytest.fixture
def figure(model):
    def told(wish, *blocks, lit=()):
        """Return a wish's figure for blocks, each ((x, y, z), size)."""
        solids = tuple(box(size).solid(Placement.at(at)) for at, size in blocks)
        asked = Asked(weights={wish: 1.0}, lit=lit)
        return measured(Pieces(model=model, solids={"a": solids}, takes=0.0, asked=asked), built=True)[wish]

    return told


CUBE = (0.1, 0.1, 0.1)


def test_above_is_the_share_of_the_volume_over_the_waterline(figure):
    assert figure("above", ((0, 0, 0.175), CUBE)) == pytest.approx(0.75)
    assert figure("above", ((0, 0, 0.0), CUBE), ((0.3, 0, 0.3), CUBE)) == pytest.approx(0.5)


def test_wick_is_the_reach_over_the_waterline_up_to_100_mm_of_what_stands_in_the_water(figure):
    assert figure("wick", ((0, 0, 0.14), CUBE)) == pytest.approx(0.4)
    assert figure("wick", ((0, 0, 0.0), (0.1, 0.1, 0.35))) == 1.0
    assert figure("wick", ((0, 0, 0.14), CUBE), ((0.3, 0, 0.0), CUBE)) == pytest.approx(0.2)
    assert figure("wick", ((0, 0, 0.21), CUBE)) == 0.0  # it hangs in the air: no water gets into it


def test_seen_is_what_a_block_nearer_to_the_front_leaves_of_the_outline(figure):
    """The stone there is 240 mm wide, from the left glass on, and 80 mm high."""
    assert figure("seen", ((0.19, 0.3, 0.0), (0.1, 0.1, 0.08))) == pytest.approx(0.5)
    assert figure("seen", ((0.19, 0.0, 0.0), (0.1, 0.01, 0.08))) == 1.0  # in front of it
    assert figure("seen", ((0.0, 0.3, 0.0), (0.1, 0.1, 0.16))) == pytest.approx(0.5)


def test_light_counts_the_named_plants_or_all(figure):
    over_fern = ((0.38, 0.23, 0.3), (0.14, 0.14, 0.02))
    assert figure("light", over_fern, lit=("fern",)) == pytest.approx(0.0, abs=1e-6)
    assert figure("light", over_fern, lit=("grass",)) == 1.0
    assert figure("light", over_fern) == pytest.approx(0.5)
    assert figure("light", ((0.38, 0.23, 0.0), (0.14, 0.14, 0.02))) == 1.0  # under it


def test_drip_is_the_share_of_holes_with_no_piece_under_them_near_the_wall(figure):
    """Holes at 150, 250 and 350 mm, 20 mm before the back glass."""
    assert figure("drip", ((0.2, 0.3, 0.0), (0.1, 0.1, 0.1))) == pytest.approx(2 / 3)
    assert figure("drip", ((0.2, 0.0, 0.0), (0.1, 0.1, 0.1))) == 1.0


def test_spread_is_balance_about_the_middle(figure):
    """A block like the stone there, mirrored, balances it; over it, all of it is at 120 mm of 300."""
    stone = (0.24, 0.16, 0.08)
    assert figure("spread", ((0.36, 0.02, 0.0), stone)) == pytest.approx(1.0)
    assert figure("spread", ((0.0, 0.02, 0.1), stone)) == pytest.approx(0.4)


def test_swim_is_the_room_of_the_fish_in_the_whole_and_waits_for_the_built_scene(figure, model):
    """48 L are below the waterline, as if nothing were in it."""
    (size,) = room(model).sizes
    assert size.volume > 0.01
    assert figure("swim", ((0, 0, 0), CUBE)) == pytest.approx(size.volume / 0.048)
    asked = Asked(weights={"swim": 1.0, "above": 1.0})
    pieces = Pieces(model=model, solids={"a": (box(CUBE).solid(),)}, takes=0.0, asked=asked)
    assert measured(pieces, built=False) == {"above": 0.0}
    assert asked.mean({"above": 0.5}) == 0.5
