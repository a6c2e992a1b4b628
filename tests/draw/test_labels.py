from __future__ import annotations

import itertools

from hypothesis import given, settings
from hypothesis import strategies as st

from layout3d.draw.labels import Wanted, crossing, place_labels

AREA = (300.0, 100.0, 1300.0, 1000.0)
POINTS = st.lists(
    st.tuples(st.integers(300, 1300), st.integers(100, 1000), st.integers(30, 200)),
    min_size=0,
    max_size=14,
    unique_by=lambda item: (item[0], item[1]),
)


def wanted(points):
    return [
        Wanted(parts=(f"p{k}",), text=f"p{k}", width=float(w), height=24.0, at=(float(x), float(y)), weight=k)
        for k, (x, y, w) in enumerate(points)
    ]


def overlap(a, b):
    return a[0] < b[2] and b[0] < a[2] and a[1] < b[3] and b[1] < a[3]


@settings(max_examples=60)
@given(points=POINTS)
def test_labels_never_lie_over_each_other_and_leaders_never_cross(points):
    labels, dropped = place_labels(wanted(points), area=AREA, gap=8.0, knee=18.0)
    assert not dropped
    assert len(labels) == len(points)
    for a, b in itertools.combinations(labels, 2):
        assert not overlap(a.box, b.box), (a, b)
        assert not crossing(a, b), (a, b)


@settings(max_examples=40)
@given(points=POINTS)
def test_labels_stand_outside_what_is_drawn_and_within_its_height(points):
    labels, _ = place_labels(wanted(points), area=AREA, gap=8.0, knee=18.0)
    for label in labels:
        assert label.box[2] <= AREA[0] or label.box[0] >= AREA[2]
        assert label.box[1] >= AREA[1] - 1e-9
        assert label.box[3] <= AREA[3] + 1e-9


def test_the_heaviest_are_kept_where_there_is_no_room():
    points = [(300 + 7 * k, 100 + 9 * k, 60) for k in range(100)]
    labels, dropped = place_labels(wanted(points), area=AREA, gap=8.0, knee=18.0, most=10)
    assert {label.parts[0] for label in labels} == {f"p{k}" for k in range(90, 100)}
    assert len(dropped) == 90
    crowded, more = place_labels(wanted(points), area=AREA, gap=8.0, knee=18.0)
    assert len(crowded) + len(more) == 100
    assert all(not overlap(a.box, b.box) for a, b in itertools.combinations(crowded, 2))


def test_the_same_labels_in_another_order_are_placed_alike():
    points = [(310, 400, 50), (900, 380, 80), (320, 390, 60), (1200, 800, 70), (700, 120, 90)]
    one, _ = place_labels(wanted(points), area=AREA, gap=8.0, knee=18.0)
    two, _ = place_labels(list(reversed(wanted(points))), area=AREA, gap=8.0, knee=18.0)
    assert one == two


def test_nothing_asked_places_nothing():
    assert place_labels([], area=AREA, gap=8.0, knee=18.0) == ((), ())
