"""Ways out are kept by the piece and by what lies where they were looked for, and by nothing else."""

import itertools
import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from layout3d.keep import forget
from layout3d.shop.opening import Fit
from layout3d.shop.passage import STEP, UP, Passage, _Room, _Search, _straight_ways
from layout3d.shop.paths import HOP
from layout3d.solid.placement import Placement
from layout3d.solid.primitives import box

pytestmark = pytest.mark.usefixtures("memory_alone")

OPENING = np.array([[0.0, 0.0], [0.5, 0.0], [0.5, 0.5], [0.0, 0.5]])
PIECE = box((0.1, 0.1, 0.1)).solid(Placement.at((0.2, 0.2, 0.0)))
SIDES = ((1.0, 0.0, 0.0), (0.0, 0.0, 1.0))


def block(*at, size=(0.1, 0.1, 0.1)):
    return box(size).solid(Placement.at(at))


FAR = block(0.45, 0.45, 0.0, size=(0.05, 0.05, 0.05))
OUTSIDE = block(3.0, 0.0, 0.0)
LID = block(-0.75, -0.75, 0.2, size=(2.0, 2.0, 0.02))


def asked(piece, others, *calls, **more):
    """Return the answers to calls, such as ("straight", 0, 1), and whether it had to search."""
    passage = Passage(piece, others, **{"rim": 0.3, "openings": [OPENING]} | more)
    told = [(getattr(passage, how)(frozenset(present)), passage.tried) for how, *present in calls]
    return told, "_search" in vars(passage)


def test_what_moves_elsewhere_is_no_reason_to_look_again():
    calls = [("straight", 0, 1)]
    found, searched = asked(PIECE, [LID.moved(Placement.at((3.0, 0.0, 0.0))), FAR], *calls)
    assert searched
    aside = FAR.moved(Placement.at((0.0, -0.1, 0.0)))
    again, searched = asked(PIECE, [LID.moved(Placement.at((3.0, 0.0, 0.0))), aside], *calls)
    assert not searched
    assert again == found


def test_what_moves_behind_what_bars_all_ways_is_no_reason_to_look_again():
    """A stone on the lid: the piece, tried where the lid bars it, would reach into its place."""
    stone = block(0.2, 0.2, LID.bounds[1, 2] + 0.001)
    found, _ = asked(PIECE, [LID, stone], ("straight", 0, 1))
    aside = stone.moved(Placement.at((0.03, 0.02, 0.0)))
    again, searched = asked(PIECE, [LID, aside], ("straight", 0, 1))
    assert not searched
    assert again == found == [(None, found[0][1])]


@pytest.mark.parametrize(
    ("piece", "others", "more"),
    [
        (PIECE, [LID, FAR], {}),  # a lid that is put on
        (PIECE, [block(0.2, 0.25, 0.15), FAR], {}),  # a neighbour that gets over it
        (PIECE, [block(0.2, 0.31, 0.0, size=(0.1, 0.02, 0.3)), FAR], {}),  # one that gets beside it
        (block(0.2, 0.2, 0.0, size=(0.1, 0.1, 0.12)), [FAR], {}),  # the piece's size
        (PIECE.moved(Placement.at((0.01, 0.0, 0.0))), [FAR], {}),  # and place
        (PIECE, [FAR], {"rim": 0.35}),
        (PIECE, [FAR], {"openings": [OPENING[:3]]}),  # the tank's top
        (PIECE, [FAR], {"outs": SIDES}),
        (PIECE, [FAR], {"step": STEP / 2.0}),
        (PIECE, [FAR.moved(Placement.at((0.0, 0.0, 0.3)))], {}),  # over which it has to be lifted
    ],
)
def test_a_way_is_looked_for_again_where_what_it_hangs_on_changes(piece, others, more):
    asked(PIECE, [FAR], ("straight", 0))
    calls = [("straight", *range(len(others)))]
    told, searched = asked(piece, others, *calls, **more)
    assert searched
    forget()
    assert told == asked(piece, others, *calls, **more)[0]


def test_what_was_answered_before_counts_in_what_is_answered_next(monkeypatch):
    """A lid that bars all bars it with more as well; without it a way is found, and other ways were tried."""
    turn = Placement.turned((0.0, 0.0, 1.0), np.pi / 2.0).rotation
    fit = Fit(turn=turn, way=np.array([0.0, 0.0, 1.0]), over=np.array([0.25, 0.25]), spare=0.1)
    monkeypatch.setattr("layout3d.shop.passage.fits", lambda _solid, _opening: [fit])  # one of hundreds
    calls = [("straight", 0), ("turned", 0), ("turned", 0, 1), ("straight", 1), ("turned", 1)]
    first, _ = asked(PIECE, [LID, OUTSIDE], *calls)
    assert [way is None for way, _ in first] == [True, True, True, False, False]
    again, searched = asked(PIECE, [LID, OUTSIDE], *calls)
    assert (again, searched) == (first, False)
    # the third is the answer of the second only while all that barred it is there
    other = [calls[0], ("turned", 0, 1), ("turned", 0), *calls[3:]]
    told, _ = asked(PIECE, [LID, OUTSIDE], *other)
    forget()
    assert told == asked(PIECE, [LID, OUTSIDE], *other)[0]


def test_a_search_picks_up_where_kept_answers_end():
    """The way that ``bars`` speaks of is the one found last, kept or not."""
    asked(PIECE, [LID, FAR], ("straight", 1))
    passage = Passage(PIECE, [LID, FAR], rim=0.3, openings=[OPENING])
    assert passage.straight(frozenset({1})) is not None
    assert "_search" not in vars(passage)
    assert passage.bars(frozenset({0}))
    assert not passage.bars(frozenset({1}))
    assert passage.tried == 1


@settings(max_examples=25)
@given(
    places=st.lists(
        st.tuples(st.integers(0, 8), st.integers(0, 8), st.integers(0, 4)), min_size=3, max_size=3
    ),
    moves=st.lists(
        st.tuples(st.integers(0, 2), st.sampled_from([(1, 0, 0), (0, -2, 0), (0, 0, 2), (0, 4, 0)])),
        min_size=1,
        max_size=3,
    ),
    lid=st.sampled_from([0.2, 0.6]),
    calls=st.lists(
        st.sampled_from(
            [("straight", 0, 1, 2, 3), ("straight", 1, 2, 3), ("straight", 1), ("roundabout", 0, 1, 2)]
        ),
        min_size=1,
        max_size=3,
    ),
)
def test_kept_ways_are_those_of_a_fresh_search(places, moves, lid, calls):
    """Blocks are moved about a piece under a lid: with what is kept of before, and without."""
    others = [LID.moved(Placement.at((0.8, 0.0, lid))), *(block(*(0.05 * k for k in at)) for at in places)]
    forget()
    asked(PIECE, others, *calls, outs=SIDES)
    for number, way in moves:
        others[1 + number] = others[1 + number].moved(Placement.at([0.05 * k for k in way]))
        told, _ = asked(PIECE, others, *calls, outs=SIDES)
    forget()
    assert told == asked(PIECE, others, *calls, outs=SIDES)[0]


@settings(max_examples=25)
@given(
    places=st.lists(
        st.tuples(st.integers(0, 12), st.integers(0, 12), st.integers(0, 6)), min_size=4, max_size=4
    ),
    size=st.sampled_from([0.1, 0.02, 0.3]),
    lid=st.sampled_from([0.15, 0.8]),
    outs=st.sampled_from([SIDES, (UP,)]),
)
def test_a_straight_way_is_the_first_of_which_no_pose_is_met(places, size, lid, outs):
    """All are boxes square to the axes, so that boxes alone tell at each pose of each path what is met."""
    others = [LID.moved(Placement.at((0.8013, 0.0, lid))), FAR, block(-1.0, -1.0, -0.1, size=(3.0, 3.0, 0.1))]
    others += [block(*(0.04 * k + 0.0013 for k in at), size=(size, 0.1, 0.05)) for at in places]
    forget()
    every = frozenset(range(len(others)))
    way = Passage(PIECE, others, rim=0.3, openings=[OPENING], outs=outs).straight(every)
    bounds = np.array([other.bounds for other in others])
    room = _Room.around(PIECE, bounds, rim=0.3, outs=outs, step=STEP)
    search = _Search(PIECE, others, room, [OPENING])

    def met(at):
        low, high = PIECE.bounds + at
        return ((low <= bounds[:, 1]) & (bounds[:, 0] <= high)).all(axis=1)

    here = met(np.zeros(3))
    laps = here & ((bounds[:, 1] - PIECE.bounds[0]).min(axis=1) > 0.0)

    def free(path):
        for start, end in itertools.pairwise(path):
            count = math.ceil(math.dist(start, end) / STEP - 1e-9)
            for at in start + np.arange(1, count + 1)[:, None] / count * (end - start):
                if (met(at) & ~(here if np.linalg.norm(at) <= HOP else laps)).any():
                    return False
        return True

    paths = [search._path(number) for number in range(len(_straight_ways(outs)))]
    first = next((number for number, path in enumerate(paths) if free(path)), None)
    assert (way is None) == (first is None)
    if way is not None:
        assert np.array([pose.offset for pose in way.poses[::-1]]) == pytest.approx(paths[first])
        assert way.tried == 1 + first
