"""Shared volume counts once, and goes to the body that takes it in fact."""

from dataclasses import replace

import numpy as np
import pytest
from closed_solids import ball
from hypothesis import given, settings
from hypothesis import strategies as st

from layout3d.solid.boolean import difference, intersection, union
from layout3d.solid.level import volume_below
from layout3d.solid.primitives import box, cylinder
from layout3d.solid.shape import Placement
from layout3d.water.share import share_out, shares_within


def millimetres(low: int, high: int) -> st.SearchStrategy[float]:
    """Lengths in steps of 0.1 mm, so that faces also meet exactly, [m]."""
    return st.integers(10 * low, 10 * high).map(lambda tenths: tenths * 1e-4)


PLACES = st.tuples(*[millimetres(0, 300)] * 3)


@given(places=st.lists(PLACES, min_size=1, max_size=6), levels=st.lists(millimetres(-100, 500), max_size=4))
@settings(max_examples=10)
def test_shares_add_up_to_the_union_below_every_level(body_of, places, levels):
    forms = (ball(0.1, n=40), box((0.2, 0.1, 0.15)), cylinder(0.06, 0.2))
    solids = [forms[i % 3].solid(Placement.at(place)) for i, place in enumerate(places)]
    bodies = [body_of(f"b{i}", s, porosity=0.3 * (i % 2), density=1000.0 + i) for i, s in enumerate(solids)]
    levels = [*levels, 1.0]
    total = sum(share.below(levels) for share in share_out(bodies))
    np.testing.assert_allclose(total, volume_below(union(solids), levels), rtol=1e-6, atol=1e-12)


@pytest.mark.parametrize(
    ("first", "second", "taker"),
    [
        ({"porosity": 0.4}, {}, "second"),
        ({"density": 25.0}, {"density": 1400.0}, "second"),
        ({}, {}, "first"),
        ({"density": 1400.0}, {"density": 9000.0, "porosity": 0.4}, "first"),
    ],
    ids=["a solid before pores", "the denser one", "the first of equals", "pores count before density"],
)
def test_who_takes_shared_volume(body_of, first, second, taker):
    one = body_of("first", box((0.2, 0.1, 0.1)), **first)
    two = body_of("second", box((0.2, 0.1, 0.1)).solid(Placement.at((0.1, 0.0, 0.0))), **second)
    volumes = {share.body.name: share.volume for share in share_out([one, two])}
    assert volumes.pop(taker) == pytest.approx(0.002)
    assert list(volumes.values()) == [pytest.approx(0.001)]


def test_a_place_that_three_share_counts_once(body_of):
    bodies = [body_of(f"b{i}", box((0.1, 0.1, 0.1))) for i in range(3)]
    assert [share.volume for share in share_out(bodies)] == pytest.approx([0.001, 0.0, 0.0])


def plainly(bodies):
    """Volumes that bodies take, each cut by the union of all before it: slow, and no doubt about it."""
    rank = sorted(
        range(len(bodies)),
        key=lambda i: (bodies[i].kind == "foliage", bodies[i].porosity, -bodies[i].density, i),
    )
    for place, index in enumerate(rank):
        solid = bodies[index].solid
        before = union([bodies[other].solid for other in rank[:place]])
        common = before and intersection(solid, before)
        yield index, solid.volume - (common.volume if common else 0.0)


@given(
    places=st.lists(st.tuples(*[millimetres(0, 150)] * 3), min_size=2, max_size=9),
    kinds=st.lists(st.sampled_from(["rock", "foliage", "substrate"]), min_size=9, max_size=9),
)
@settings(max_examples=10)
def test_shares_of_a_heap_are_those_of_the_plain_way(body_of, places, kinds):
    forms = (ball(0.1, n=40), box((0.2, 0.1, 0.15)), box((0.01, 0.2, 0.1)), box((0.2, 0.1, 0.15)))
    bodies = [
        body_of(f"b{i}", forms[i % 4].solid(Placement.at(place)), kind=kind, porosity=0.3 * (kind[0] == "s"))
        for i, (place, kind) in enumerate(zip(places, kinds, strict=False))
    ]
    bodies += [replace(body, name=f"again {body.name}") for body in bodies[:2]]
    found = share_out(bodies)
    for index, volume in plainly(bodies):
        assert found[index].volume == pytest.approx(volume, rel=1e-9, abs=1e-12)


def test_bodies_that_stand_twice_on_one_spot_yield_all_of_themselves(body_of):
    rocks = [body_of(f"rock {i}", ball(0.1, n=40).solid(Placement.at((0.3, 0.3, 0.3)))) for i in range(30)]
    first, *others = share_out(rocks)
    assert first.yielded is None
    assert [share.yielded for share in others] == [rocks[0].solid] * 29


def test_touching_bodies_yield_nothing(body_of):
    one = body_of("one", box((0.1, 0.1, 0.1)))
    two = body_of("two", box((0.1, 0.1, 0.1)).solid(Placement.at((0.1, 0.0, 0.0))))
    assert all(share.yielded is None for share in share_out([one, two]))


def test_a_ball_in_a_bed_cut_around_it_yields_nothing_worth_the_name(body_of):
    bed = box((0.5, 0.5, 0.2))
    rock = ball(0.1, n=40).solid(Placement.at((0.25, 0.25, 0.2)))
    cut = difference(bed.solid(), [rock])
    found = share_out([body_of("bed", cut, porosity=0.4), body_of("rock", rock)])
    assert found[0].volume == pytest.approx(cut.volume, rel=1e-9)
    assert found[1].volume == rock.volume


def test_a_body_that_reaches_out_of_the_space_is_cut_to_it(body_of):
    space = box((1.0, 1.0, 1.0)).solid()
    out = body_of("out", box((0.4, 0.4, 0.4)).solid(Placement.at((-0.2, 0.1, 0.1))))
    apart = body_of("apart", box((0.4, 0.4, 0.4)).solid(Placement.at((-0.4, 0.1, 0.1))))
    within = body_of("within", box((0.2, 0.4, 0.4)).solid(Placement.at((0.1, 0.1, 0.1))))
    found = shares_within(share_out([out, apart, within]), space)
    assert [(s.body.name, round(s.volume, 9)) for s in found] == [("out", 0.032), ("within", 0.016)]


def test_a_space_that_is_not_convex_cuts_too(body_of):
    corner = difference(box((1, 1, 1)).solid(), [box((0.5, 0.5, 1)).solid(Placement.at((0.5, 0.5, 0)))])
    (found,) = shares_within(share_out([body_of("b", box((0.9, 0.9, 0.1)))]), corner)
    assert found.volume == pytest.approx((0.81 - 0.16) * 0.1)


def test_no_bodies_have_no_shares():
    assert share_out([]) == ()
