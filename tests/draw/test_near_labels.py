"""Names beside parts that stand apart: on free page, with short leaders that cross nothing."""

import itertools

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st

from layout3d.draw.labels import Wanted, crossing
from layout3d.draw.near_labels import place_near

AREA = (10.0, 10.0, 630.0, 350.0)
SPOTS = st.lists(
    st.tuples(st.integers(0, 9), st.integers(0, 5), st.integers(10, 50)),
    min_size=1,
    max_size=14,
    unique_by=lambda spot: spot[:2],
)


def page_of(spots):
    """Return a page of squares of some width on a raster of 60 pixels, and the names wanted."""
    shown = np.zeros((360, 640), dtype=np.int32)
    wanted, numbers = [], {}
    for number, (column, row, wide) in enumerate(spots, start=1):
        x, y = 20 + column * 60, 10 + row * 58
        shown[y : y + wide, x : x + wide] = number
        numbers[f"p{number}"] = number
        centre = (x + wide / 2.0, y + wide / 2.0)
        wanted.append(
            Wanted(parts=(f"p{number}",), text="p", width=40.0, height=12.0, at=centre, weight=float(wide))
        )
    return shown, wanted, numbers


@settings(max_examples=10)
@given(spots=SPOTS)
def test_texts_lie_on_nothing_and_leaders_cross_nothing(spots):
    shown, wanted, numbers = page_of(spots)
    labels = place_near(wanted, shown, numbers, area=AREA, gap=4.0)
    for label in labels:
        left, top, right, bottom = label.box
        assert (np.array(label.box) * [1, 1, -1, -1] >= np.array(AREA) * [1, 1, -1, -1]).all()
        assert not shown[int(top) : int(bottom) + 1, int(left) : int(right) + 1].any()
    for one, other in itertools.combinations(labels, 2):
        apart = one.box[2] <= other.box[0] or other.box[2] <= one.box[0]
        assert apart or one.box[3] <= other.box[1] or other.box[3] <= one.box[1]
        assert not crossing(one, other)


def test_a_name_stands_beside_its_part_and_not_in_a_column():
    """Three small squares far apart on an empty page: each leader is as long as half its square and a gap."""
    shown, wanted, numbers = page_of([(1, 1, 20), (4, 3, 20), (8, 4, 20)])
    labels = place_near(wanted, shown, numbers, area=AREA, gap=4.0)
    assert {label.parts for label in labels} == {("p1",), ("p2",), ("p3",)}
    for label in labels:
        assert np.hypot(label.stub[0] - label.at[0], label.stub[1] - label.at[1]) < 20.0


def test_a_leader_goes_round_another_part_where_it_can():
    """Blocks above and below leave a lane too low for the text: it stands at the lane's end, not over one."""
    shown, _, _ = page_of([])
    shown[40:120, 200:500], shown[150:260, 100:600], shown[126:146, 320:340] = 9, 8, 1
    wanted = [Wanted(parts=("p1",), text="p", width=40.0, height=40.0, at=(330.0, 136.0), weight=1.0)]
    (label,) = place_near(wanted, shown, {"p1": 1, "bar": 9, "block": 8}, area=AREA, gap=4.0)
    along = np.linspace(label.stub, label.at, 50).astype(int)
    assert set(shown[along[:, 1], along[:, 0]]) == {0, 1}


def test_one_without_room_is_left_out():
    shown = np.ones((360, 640), dtype=np.int32)
    wanted = [Wanted(parts=("p1",), text="p", width=40.0, height=12.0, at=(100.0, 100.0), weight=1.0)]
    assert place_near(wanted, shown, {"p1": 1}, area=AREA, gap=4.0) == ()
