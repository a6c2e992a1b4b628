"""What loose things close in is what cutting all of them out of the space at once leaves closed in."""

import manifold3d
import numpy as np
import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from layout3d.parts.base import Rough
from layout3d.solid.boolean import components, difference, trim
from layout3d.solid.primitives import box
from layout3d.solid.shape import Placement, Shape
from layout3d.water.parted import _FOUND, Hollowed, _Cluster, _looked_round, _no_wall, parted


def ball(radius):
    return Shape.from_manifold(manifold3d.Manifold.sphere(radius, 16))


TANK = box((1.0, 0.5, 0.4)).solid()
BED = box((1.0, 0.5, 0.06)).solid()
OUTER, INNER = (manifold3d.Manifold.cylinder(0.25, r, circular_segments=24) for r in (0.09, 0.07))
TALL = Shape.from_manifold(OUTER - INNER)
RING = trim(TALL.solid(), normal=(0, 0, 1), offset=0.08).shape
FORMS = (
    ball(0.05),
    box((0.1, 0.08, 0.05)),
    RING,
    difference(ball(0.07).solid(), [ball(0.05).solid()]).shape,
    difference(ball(0.07).solid(), [box((0.2, 0.2, 0.2)).solid(Placement.at((-0.1, -0.1, -0.01)))]).shape,
)
PLACES = st.tuples(
    st.sampled_from(range(5)),
    st.floats(0.0, 1.0),
    st.floats(0.0, 0.5),
    st.floats(0.0, 0.42),
    st.floats(-3, 3),
)


def at(form, x, y, z, turn):
    return FORMS[form].solid(Placement.at((x, y, z)) @ Placement.turned((1, 0, 0), turn))


def by_cutting(loose, fixed=(BED,)):
    return [part for part in components(difference(TANK, [*fixed, *loose])) if not opened(part)]


def opened(part):
    """Tell whether any of a space lies at the rim; skins that rounding leaves there are nothing."""
    top = trim(part, normal=(0, 0, -1), offset=-0.4 + 1e-4)
    return top is not None and top.volume > 1e-13


@settings(max_examples=12, deadline=None)
@given(places=st.lists(PLACES, min_size=1, max_size=6))
def test_each_box_tells_what_its_cluster_closes_in(places):
    loose = [at(*place) for place in places]
    found = parted(TANK, (BED,), loose)
    cut = sorted(part.volume for part in by_cutting(loose) if part.volume > 1e-12)
    assert found is not None
    assert sorted(part.volume for part in found.shut if part.volume > 1e-12) == pytest.approx(cut, rel=1e-6)


@settings(max_examples=40, deadline=None)
@given(places=st.lists(PLACES, min_size=1, max_size=5), level=st.none() | st.floats(0.07, 0.39))
def test_where_balls_alone_are_shared_a_cut_finds_no_wall(places, level):
    found = parted(TANK, (BED,), [at(*place) for place in places])
    for cluster in (one for several in found.loose for one in several.singly or (several,)):
        reached = level is None or cluster.bounds[0, 2] < level < cluster.bounds[1, 2]
        if reached and _no_wall(TANK, cluster, level):
            assert _looked_round(TANK, cluster, level) is not None
            below = trim(TANK, normal=(0, 0, 1), offset=0.4 if level is None else level)
            before, after = (
                components(difference(below, [*cluster.near, *things])) for things in ((), cluster.solids)
            )
            counts = [sum(part.volume > 1e-12 for part in parts) for parts in (before, after)]
            assert counts[1] <= counts[0]


BOWL = difference(
    ball(0.07).solid(), [ball(0.05).solid(), box((0.2, 0.2, 0.2)).solid(Placement.at((-0.1, -0.1, -0.2)))]
)


@pytest.mark.parametrize(
    ("thing", "near", "surely"),
    [
        (at(0, 0.5, 0.25, 0.06, 0.0), (BED,), True),  # a stone in the bed
        (at(0, 0.5, 0.25, 0.2, 0.0), (BED,), True),  # none that hangs
        (at(0, 0.5, 0.25, 0.06, 0.0), (BED, at(0, 0.55, 0.25, 0.06, 0.0)), True),  # beside one that it meets
        (RING.solid(Placement.at((0.5, 0.25, 0.03))), (BED,), False),  # a ring shares a ring
        (BOWL.moved(Placement.at((0.5, 0.25, 0.05))), (BED,), False),  # upside down it holds its air
        (BOWL.moved(Placement.at((0.5, 0.25, 0.06))), (BED,), False),  # and so it does where it just stands
        (box((0.1, 0.1, 0.1)).solid(Placement.at((0.5, 0.25, 0.06))), (BED,), False),  # flush: cut it
        (FORMS[3].solid(Placement.at((0.5, 0.25, 0.2))), (BED,), False),  # hollow
        (at(0, 0.04, 0.25, 0.2, 0.0), (BED,), False),  # comes through the glass
        (  # fills a gap in a ring that stands in the bed: with each it shares a ball, with both two
            box((0.06, 0.04, 0.2)).solid(Placement.at((0.55, 0.23, 0.01))),
            (
                BED,
                difference(
                    RING.solid(Placement.at((0.5, 0.25, 0.05))),
                    [box((0.1, 0.02, 0.3)).solid(Placement.at((0.5, 0.24, 0.0)))],
                ),
                box((0.3, 0.3, 0.02)).solid(Placement.at((0.4, 0.1, 0.12))),
            ),
            False,
        ),
    ],
)
def test_a_thing_surely_parts_nothing(thing, near, surely):
    low, high = thing.bounds
    cluster = _Cluster(solids=(thing,), hollowed=(), bounds=np.stack([low - 1e-3, high + 1e-3]), near=near)
    assert _no_wall(TANK, cluster) == surely


def waters_below(level, loose, fixed=(BED,)):
    """Cut all loose things out, and that at the level."""
    whole = components(difference(TANK, [*fixed, *loose]))
    below = [trim(one, normal=(0, 0, 1), offset=level) for one in whole if opened(one)]
    return sorted((part.volume for one in below if one is not None for part in components(one)), reverse=True)


@settings(max_examples=25, deadline=None)
@given(places=st.lists(PLACES, min_size=1, max_size=5), level=st.floats(0.07, 0.39))
def test_waters_that_are_surely_apart_are_those_that_cutting_it_all_tells(places, level):
    loose = [at(*place) for place in places]
    apart = parted(TANK, (BED,), loose).apart_below(level)
    if apart is not None:
        told = sorted((piece.volume for piece in apart), reverse=True)
        assert told == pytest.approx(waters_below(level, loose)[1:], rel=1e-6, abs=1e-12)


@pytest.mark.parametrize(
    ("loose", "one"),
    [
        ([], True),
        ([at(0, 0.5, 0.25, 0.2, 0.0), at(0, 0.3, 0.25, 0.2, 0.0)], True),
        ([RING.solid(Placement.at((0.5, 0.25, 0.03)))], True),  # drowned: water goes over its rim
        ([RING.solid(Placement.at((0.5, 0.25, 0.15)))], True),  # hangs: water comes in from below
        ([box((0.02, 0.5, 0.3)).solid(Placement.at((0.5, 0.0, 0.0)))], False),  # a wall over the level
        ([box((0.02, 0.25, 0.4)).solid(Placement.at((0.5, y, 0.0))) for y in (0.0, 0.25)], False),
    ],
)
def test_waters_are_one_or_may_be_two(loose, one):
    found = parted(TANK, (BED,), loose)
    assert (found.apart_below(0.2) == ()) == one
    assert found.shut == ()


def test_a_ring_that_rises_over_the_water_holds_a_water_of_its_own():
    ring, pot = TALL.solid(Placement.at((0.5, 0.25, 0.03))), TALL.solid(Placement.at((0.2, 0.25, 0.03)))
    for loose in ([ring], [ring, pot]):
        apart = parted(TANK, (BED,), loose).apart_below(0.2)
        assert [piece.volume for piece in apart] == pytest.approx(
            [0.14 * INNER.slice(0.1).area()] * len(loose)
        )


def test_what_is_shut_in_beside_a_pot_hides_none_of_its_water():
    """The hollow of a ball against the pot is known; what of it lies under a level in it is not."""
    pot, under = TALL.solid(Placement.at((0.5, 0.25, 0.03))), at(3, 0.65, 0.25, 0.12, 0.0)
    (apart,) = parted(TANK, (BED,), [pot, under]).apart_below(0.2)
    assert apart.volume == pytest.approx(0.14 * INNER.slice(0.1).area())
    assert parted(TANK, (BED,), [pot, at(3, 0.65, 0.25, 0.2, 0.0)]).apart_below(0.2) is None


def test_a_thing_in_a_pot_takes_its_share_of_the_water_in_it():
    pot, stone = TALL.solid(Placement.at((0.5, 0.25, 0.03))), at(0, 0.5, 0.25, 0.14, 0.0)
    (apart,) = parted(TANK, (BED,), [pot, stone]).apart_below(0.2)
    assert apart.volume == pytest.approx(0.14 * INNER.slice(0.1).area() - stone.volume)


def test_a_pipe_that_another_thing_closes_below_holds_a_water_of_its_own():
    """The plate lies wholly under the level, and by itself closes off the bore in its own box."""
    pipe = TALL.solid(Placement.at((0.5, 0.25, 0.1)))
    plate = box((0.2, 0.2, 0.025)).solid(Placement.at((0.4, 0.15, 0.08)))
    assert parted(TANK, (BED,), [pipe]).apart_below(0.2) == ()
    assert parted(TANK, (BED,), [pipe, plate]).apart_below(0.2) != ()


def test_two_loose_things_that_meet_fixed_ones_close_off_what_neither_does_alone():
    """A lid on a ring: both loose, so they are one cluster; then the ring is fixed."""
    ring = RING.solid(Placement.at((0.5, 0.25, 0.05)))
    lid = box((0.2, 0.2, 0.02)).solid(Placement.at((0.4, 0.15, 0.13)))
    inside = np.pi * 0.07**2 * 0.07 * 0.99
    for fixed, loose in (
        ((BED,), [ring, lid]),
        ((BED, ring), [lid]),
        ((BED, lid), [ring]),
        ((BED, ring, lid), []),
    ):
        (shut,) = parted(TANK, fixed, loose).shut
        assert shut.volume == pytest.approx(inside, rel=0.01)


def test_of_a_heap_only_what_is_moved_is_looked_at_again(monkeypatch):
    slab, post = box((0.2, 0.2, 0.02)), box((0.02, 0.02, 0.09))
    heap = [post.solid(Placement.at((x, 0.2, 0.05))) for x in (0.3, 0.45)]
    heap.append(slab.solid(Placement.at((0.28, 0.15, 0.13))))
    asked = []

    def ask(inside, cluster, level=None):
        asked.append((cluster.solids, cluster.near))
        return _no_wall(inside, cluster, level)

    monkeypatch.setattr("layout3d.water.parted._no_wall", ask)
    assert parted(TANK, (BED,), heap).shut == ()
    before, asked[:] = set(asked), []
    heap.append(post.solid(Placement.at((0.4, 0.25, 0.14))))
    assert parted(TANK, (BED,), heap).shut == ()
    assert [solids for solids, near in asked if (solids, near) not in before] == [(heap[-1],)]


def test_a_cover_over_it_all_is_not_told_here():
    cover = box((1.0, 0.5, 0.01)).solid(Placement.at((0.0, 0.0, 0.3)))
    assert parted(TANK, (BED, cover), []) is None
    assert parted(TANK, (BED,), [cover]) is None


SLAB = box((1.0, 0.1, 0.4)).solid(Placement.at((0.0, 0.4, 0.0)))
PIPES = {
    "across": box((0.4, 0.03, 0.03)),
    "blind": difference(
        box((0.4, 0.03, 0.03)).solid(), [box((0.36, 0.02, 0.02)).solid(Placement.at((0.02, 0.005, 0.005)))]
    ).shape,
}


@settings(max_examples=15, deadline=None)
@given(
    pipe=st.sampled_from(sorted(PIPES)),
    where=st.tuples(st.floats(0.02, 0.55), st.floats(0.3, 0.46), st.floats(0.02, 0.35)),
    channel=st.just(0.0) | st.floats(1e-6, 0.02),
    slit=st.just(0.0) | st.floats(1e-6, 0.12),
    loose=st.lists(PLACES, max_size=3),
)
@example("across", (0.5, 0.375, 0.25), 0.0, 0.0, [(3, 0.0, 0.4453125, 0.375, 0.0)])
def test_hollows_for_a_pipe_tell_what_cutting_it_all_at_once_tells(pipe, where, channel, slit, loose):
    """A pipe in a channel of a slab, which a slit opens to the front where it is long enough."""
    run = PIPES[pipe].solid(Placement.at(where))
    size = np.array([0.4, 0.03, 0.03]) + 2.0 * channel
    works = (
        box(size).solid(Placement.at(np.array(where) - channel)),
        box((0.1, slit + 1e-3, 0.01)).solid(Placement.at((where[0] + 0.1, where[1] - slit, where[2] + 0.01))),
    )
    left = difference(SLAB, works)
    stones = [at(*place) for place in loose]
    hollowed = Hollowed(rough=Rough(solid=SLAB, works=works), left=(left,))
    found = parted(TANK, (BED,), stones, [hollowed], [run])
    cut = sorted(part.volume for part in by_cutting([*stones, run], (BED, left)) if part.volume > 1e-12)
    if found is None:
        return
    shut = sorted(part.volume for part in found.shut if part.volume > 1e-12)
    assert shut == pytest.approx(cut, rel=1e-6)
    level = 0.3
    apart = found.apart_below(level)
    if apart is not None:
        below = waters_below(level, [*stones, run], (BED, left))[1:]
        told = sorted((piece.volume for piece in apart), reverse=True)
        assert told == pytest.approx(below, rel=1e-6, abs=1e-12)


@pytest.mark.usefixtures("memory_alone")
def test_hollows_are_not_looked_at_again_for_a_stone_beside_them(monkeypatch):
    where = np.array((0.3, 0.42, 0.2))
    run = PIPES["blind"].solid(Placement.at(where))
    works = (box((0.42, 0.05, 0.05)).solid(Placement.at(where - 0.01)),)
    hollowed = Hollowed(rough=Rough(solid=SLAB, works=works), left=(difference(SLAB, works),))
    looked = []

    def look(inside, cluster, level):
        looked.append(len(cluster.hollowed))
        return _looked_round(inside, cluster, level)

    monkeypatch.setattr("layout3d.water.parted._looked_round", look)
    stones = [FORMS[1].solid(Placement.at((left, 0.325, 0.18))) for left in (0.33, 0.36)]
    shut = parted(TANK, (BED,), stones[:1], [hollowed], [run]).shut
    bore, around = 0.36 * 0.02 * 0.02, 0.42 * 0.05 * 0.05 - 0.4 * 0.03 * 0.03
    assert sorted(piece.volume for piece in shut) == pytest.approx([bore, around])
    assert 1 in looked
    looked.clear()
    assert parted(TANK, (BED,), stones[1:], [hollowed], [run]).shut == shut
    assert 1 not in looked


def test_what_is_closed_in_is_read_from_the_file_as_it_was_found():
    hollow = at(3, 0.5, 0.25, 0.2, 0.3)
    for loose in ([hollow], [TALL.solid(Placement.at((0.5, 0.25, 0.03)))]):
        (cluster,) = parted(TANK, (BED,), loose).loose
        found = (_looked_round(TANK, cluster, None),)
        assert _FOUND.unpack(_FOUND.pack(found)) == found
    for broken in (b"\1", _FOUND.pack(found)[:-1], b"\xff" * 16):
        with pytest.raises(ValueError, match=r"."):
            _FOUND.unpack(broken)
    assert _FOUND.unpack(_FOUND.pack((None,))) == (None,)
