import math

import numpy as np
import pytest
from closed_solids import ball, torus_sector
from hypothesis import given, settings
from hypothesis import strategies as st

from layout3d.keep import forget
from layout3d.solid import boolean, distance
from layout3d.solid.boolean import difference, intersection, shared, union
from layout3d.solid.distance import gap, laps, least_gap, meet, near_pairs, overlap, way_out
from layout3d.solid.primitives import box, cylinder, heightfield, sides, tube
from layout3d.solid.shape import Placement, Shape

BOX = box((0.1, 0.05, 0.02), centre=True)
RING = torus_sector(0.05, 0.008, 2 * math.pi)
ROUGH = [cylinder(0.02, 0.08, n=7), BOX, Shape.of(ball(0.03).vertices * [1, 0.5, 1], ball(0.03).faces)]
FINE = Shape.of(ball(0.08).vertices * [0.2, 1, 1], ball(0.08).faces)
GRID = np.linspace(-0.1, 0.1, 31)
BED = heightfield(GRID, GRID, 0.02 + 0.005 * np.sin(60 * GRID[:, None]) * np.cos(50 * GRID), 0.0)
shift = st.tuples(*[st.floats(-0.15, 0.15)] * 3)
turn = st.floats(-3.2, 3.2)


@st.composite
def placements(draw):
    return Placement.at(draw(shift)) @ Placement.turned((1, 2, 3), draw(turn))


@pytest.fixture(autouse=True)
def measured(monkeypatch):
    """The gaps that are measured, not recalled; nothing is kept on disk."""
    monkeypatch.setenv("LAYOUT3D_CACHE", "off")
    forget()
    calls = []
    measure = distance._gap

    def counted(*given, **how):
        calls.append(given)
        return measure(*given, **how)

    monkeypatch.setattr(distance, "_gap", counted)
    return calls


def point_to_faces(points, solid):
    """The slow plain version: least distance from points to faces (Ericson, Real-Time Collision Detection,
    2005, sec. 5.1.5, by the face's plane and its three edges; from memory)."""
    a, b, c = (solid.vertices[solid.faces[:, k]] for k in range(3))
    p = points[:, None]
    normal = np.cross(b - a, c - a)
    normal = normal / np.linalg.norm(normal, axis=1, keepdims=True)
    height = np.einsum("ijk,jk->ij", p - a, normal)
    foot = p - height[..., None] * normal
    over = np.ones(height.shape, dtype=bool)
    nearest = np.full(height.shape, np.inf)
    for start, end in ((a, b), (b, c), (c, a)):
        edge = end - start
        over &= (
            np.einsum("ijk,jk->ij", np.cross(np.broadcast_to(edge, foot.shape), foot - start), normal) >= 0
        )
        share = np.clip(np.einsum("ijk,jk->ij", p - start, edge) / (edge**2).sum(axis=1), 0, 1)
        nearest = np.minimum(nearest, np.linalg.norm(p - start - share[..., None] * edge, axis=2))
    return np.where(over, np.abs(height), nearest).min()


def edge_to_edge(a, b):
    """Least distance between edges where it lies within both, by the two right angles it makes with them."""
    p = a.vertices[a.faces.ravel()][:, None]
    u = a.vertices[np.roll(a.faces, -1, axis=1).ravel()][:, None] - p
    q = b.vertices[b.faces.ravel()][None]
    v = b.vertices[np.roll(b.faces, -1, axis=1).ravel()][None] - q
    across = p - q
    uu, vv, uv = (u * u).sum(axis=2), (v * v).sum(axis=2), (u * v).sum(axis=2)
    ua, va = (u * across).sum(axis=2), (v * across).sum(axis=2)
    spread = uu * vv - uv**2
    askew = spread > 1e-12 * uu * vv
    s = (uv * va - vv * ua) / np.where(askew, spread, 1.0)
    t = (uu * va - uv * ua) / np.where(askew, spread, 1.0)
    within = askew & (s >= 0) & (s <= 1) & (t >= 0) & (t <= 1)
    apart = np.linalg.norm(across + s[..., None] * u - t[..., None] * v, axis=2)
    return float(np.where(within, apart, np.inf).min())


@settings(max_examples=15)
@given(placements(), placements())
def test_gap_agrees_with_trying_every_face(pa, pb):
    a, b = ROUGH[0].solid(pa), BOX.solid(pb)
    found = gap(a, b)
    assert 0.0 <= least_gap(a, b) <= found.distance
    if found.distance == 0.0:
        return
    assert least_gap(a, b) > 0.0 or found.distance < 0.01
    plainly = min(point_to_faces(a.vertices, b), point_to_faces(b.vertices, a), edge_to_edge(a, b))
    assert found.distance == pytest.approx(plainly, abs=1e-9)
    # its ends lie on the two surfaces, that far apart
    assert point_to_faces(found.at_a[None], a) < 1e-9
    assert point_to_faces(found.at_b[None], b) < 1e-9
    assert np.linalg.norm(found.at_a - found.at_b) == pytest.approx(found.distance, abs=1e-9)


@settings(max_examples=15)
@given(st.sampled_from(ROUGH), st.sampled_from(ROUGH), placements(), placements(), placements())
def test_gap_is_the_same_from_either_side_and_anywhere(one, other, pa, pb, moved):
    a, b = one.solid(pa), other.solid(pb)
    there, back = gap(a, b), gap(b, a)
    assert there.distance == pytest.approx(back.distance, abs=1e-9)
    forget()
    assert gap(a.moved(moved), b.moved(moved)).distance == pytest.approx(there.distance, abs=1e-9)


@settings(max_examples=15)
@given(st.sampled_from([*ROUGH, RING]), st.sampled_from(ROUGH), placements(), placements())
def test_overlap_is_the_common_part_and_gap_is_none_then(one, other, pa, pb):
    a, b = one.solid(pa), other.solid(pb)
    common, found = intersection(a, b), overlap(a, b)
    if found is None:
        # all of it is skin: far thinner than a hair
        assert common is None or 2 * common.volume / common.area <= 2e-5
    else:
        assert common is not None
        assert found.volume == pytest.approx(common.volume, rel=1e-6)
        assert 0 < found.depth <= np.linalg.norm(np.ptp(common.bounds, axis=0))
        assert gap(a, b).distance == 0.0
        assert ((found.at >= common.bounds[0]) & (found.at <= common.bounds[1])).all()
        assert overlap(b, a).volume == pytest.approx(found.volume, rel=1e-6)
        # the common part is meshed anew from each side: its narrowest direction is near, not the same
        assert overlap(b, a).depth == pytest.approx(found.depth, rel=0.15)
    if gap(a, b).distance > 0:
        assert common is None
        assert found is None


def test_touching_is_a_gap_of_nothing_and_no_overlap():
    a = BOX.solid()
    for step in ((0.1, 0, 0), (0, 0.05, 0), (0.1, 0.05, 0.02), (0.1, 0.01, 0)):
        b = a.moved(Placement.at(step))
        assert gap(a, b).distance == pytest.approx(0.0, abs=1e-12)
        assert overlap(a, b) is None


def test_a_solid_within_another():
    outer, inner = ball(0.05).solid(), ball(0.01).solid(Placement.at((0.01, 0, 0)))
    for a, b in ((outer, inner), (inner, outer)):
        assert gap(a, b).distance == 0.0
        found = overlap(a, b)
        assert found.volume == pytest.approx(4 / 3 * math.pi * 1e-6, rel=1e-9)
        assert found.depth == pytest.approx(0.02, rel=2e-3)  # a ball of flat faces
        assert found.at == pytest.approx([0.01, 0, 0], abs=1e-9)


def test_a_stone_in_a_hollow_is_free():
    hollow = difference(ball(0.05).solid(), [ball(0.03).solid()])
    stone = ball(0.01).solid(Placement.at((0.015, 0, 0)))
    assert overlap(hollow, stone) is None
    assert gap(hollow, stone).distance == pytest.approx(0.005, abs=2e-5)
    assert overlap(
        hollow, union([stone, ball(0.001).solid(Placement.at((0, 0.04, 0)))])
    ).volume == pytest.approx(4 / 3 * math.pi * 1e-9, rel=1e-6)


def test_a_ring_hung_on_a_rod_and_one_threaded_wrongly():
    rod = cylinder(0.03, 0.2).solid(Placement.at((0, 0, -0.1)))
    assert overlap(RING.solid(), rod) is None
    assert gap(RING.solid(), rod).distance == pytest.approx(0.05 - 0.008 - 0.03, abs=2e-5)
    assert overlap(RING.solid(), rod.moved(Placement.at((0.02, 0, 0)))) is not None


@pytest.mark.parametrize("twist", [0.0, 0.01, math.pi / sides(0.01333), 1.0])
def test_a_pipe_in_its_socket_touches(twist):
    """Both bores have the same radius; their polygons cross by less than 0.01 mm at each corner."""
    pipe = cylinder(0.01333, 0.3).solid()
    socket = tube(0.018, 0.01333, 0.025).solid(Placement.at((0, 0, 0.1)) @ Placement.turned((0, 0, 1), twist))
    assert overlap(pipe, socket) is None
    assert gap(pipe, socket).distance == pytest.approx(0.0, abs=1e-5)


def test_a_tight_pipe_is_told_by_how_tight_it_is():
    """The shared ring is 0.1 mm thick; its hull would say 25 mm."""
    pipe = cylinder(0.01343, 0.3).solid()
    socket = tube(0.018, 0.01333, 0.025).solid(Placement.at((0, 0, 0.1)))
    found = overlap(pipe, socket)
    assert found.volume == pytest.approx(math.pi * (0.01343**2 - 0.01333**2) * 0.025, rel=1e-3)
    assert found.depth == pytest.approx(1e-4, rel=0.1)


@pytest.mark.parametrize("oversize", [0.0, 8e-6])
@pytest.mark.parametrize("pin", [0.0005, 0.001, 0.003])
def test_a_pin_on_a_pipe_is_not_hidden_by_the_skin_round_it(oversize, pin):
    bare = cylinder(0.01333 + oversize, 0.3).solid(Placement.turned((0, 0, 1), 0.02))
    pipe = union([bare, box((pin, pin, pin)).solid(Placement.at((0.01333 - pin / 5, -pin / 2, 0.11)))])
    socket = tube(0.018, 0.01333, 0.025).solid(Placement.at((0, 0, 0.1)))
    assert overlap(bare, socket) is None
    found = overlap(pipe, socket)
    assert pin / 2 < found.depth <= 1.1 * pin


def test_what_two_solids_share_is_cut_once_whoever_asks(monkeypatch):
    a, b = BOX.solid(), FINE.solid(Placement.at((0.03, 0.01, 0.0)) @ Placement.turned((1, 2, 3), 0.5))
    cut: list[str] = []
    kept = boolean._kept
    monkeypatch.setattr(boolean, "_kept", lambda what, given, make: kept(what, given, cutting(what, make)))

    def cutting(what, make):
        return lambda: cut.append(what) or make()

    found, back = overlap(a, b), overlap(b, a)
    assert shared(b, a).volume == pytest.approx(found.volume)
    assert cut == ["intersection"]
    there = Placement.at((1.0, 0.0, 0.0))
    assert overlap(a.moved(there), b.moved(there)).at == pytest.approx(there.apply(found.at))
    assert back.volume == pytest.approx(found.volume)


def test_whether_two_solids_share_space_is_known_from_either_side(monkeypatch):
    a, b = BOX.solid(), BOX.solid(Placement.at((0.03, 0.01, 0.0)) @ Placement.turned((1, 2, 3), 0.5))
    assert overlap(a, b) is not None
    monkeypatch.setattr(distance, "_measured", lambda *_: pytest.fail("measured anew"))
    assert laps(a, b)
    assert laps(b, a)
    assert not laps(a, b.moved(Placement.at((0.3, 0.0, 0.0))))


@pytest.mark.parametrize(
    ("step", "depth"),
    [((0.09, 0, 0), 0.01), ((0.05, 0.045, 0.0), 0.005), ((0.08, 0.04, 0.019), 0.001), ((0.0, 0, 0), 0.02)],
)
def test_depth_of_two_boxes_is_the_least_way_out(step, depth):
    a = BOX.solid()
    found = overlap(a, a.moved(Placement.at(step)))
    assert found.depth == pytest.approx(depth, rel=1e-6)
    assert found.at == pytest.approx(np.array(step) / 2, abs=1e-9)


def test_depth_of_a_pipe_through_a_pane_is_the_panes_thickness():
    pane = box((1, 0.01, 0.5)).solid()
    pipe = cylinder(0.03, 0.1).solid(
        Placement.at((0.5, 0.05, 0.3)) @ Placement.turned((1, 0, 0), math.pi / 2)
    )
    assert overlap(pane, pipe).depth == pytest.approx(0.01, rel=1e-6)


@settings(max_examples=20)
@given(st.lists(placements(), min_size=2, max_size=12), st.sampled_from([0.0, 0.02]))
def test_near_pairs_are_the_pairs_of_boxes_that_meet(places, margin):
    solids = [BOX.solid(place) for place in places]
    expected = [
        (i, j)
        for i in range(len(solids))
        for j in range(i + 1, len(solids))
        if (solids[i].bounds[0] <= solids[j].bounds[1] + margin).all()
        and (solids[j].bounds[0] <= solids[i].bounds[1] + margin).all()
    ]
    assert near_pairs(solids, margin) == expected
    assert near_pairs(solids[:1], margin) == []


def test_moving_one_part_costs_only_its_own_pairs(measured):
    solids = [BOX.solid(Placement.at((0.11 * i, 0, 0))) for i in range(6)]
    for i, j in near_pairs(solids, 0.02):
        gap(solids[i], solids[j])
    # all neighbours stand alike, up to the rounding of 0.11 i
    assert len(measured) == 1
    solids[3] = solids[3].moved(Placement.at((0, 0.001, 0)))
    for i, j in near_pairs(solids, 0.02):
        gap(solids[i], solids[j])
    assert len(measured) == 3


def test_kept_results_are_put_where_the_solids_now_stand(measured):
    a, b = ROUGH[0].solid(), BOX.solid(Placement.at((0.1, 0.02, 0.03)))
    first = gap(a, b)
    moved = Placement.at((1, 2, 3)) @ Placement.turned((0, 0, 1), 1.0)
    again = gap(a.moved(moved), b.moved(moved))
    assert len(measured) == 1
    assert again.at_a == pytest.approx(moved.apply(first.at_a), abs=1e-9)
    assert again.at_b == pytest.approx(moved.apply(first.at_b), abs=1e-9)


def test_to_meet_is_to_touch_overlap_or_hold():
    a, stone = BOX.solid(), ball(0.002).solid()
    assert meet(a, a.moved(Placement.at((0.09, 0, 0))))
    assert meet(a, stone)
    assert meet(stone, a)
    assert not meet(a, a.moved(Placement.at((0.11, 0, 0))))
    assert not meet(RING.solid(), cylinder(0.03, 0.2).solid(Placement.at((0, 0, -0.1))))


@settings(max_examples=15)  # each is six answers with nothing kept
@given(placements(), placements(), *[st.sampled_from([RING, ROUGH[2], FINE, BED])] * 2)
def test_to_meet_is_told_alike_by_the_faces_near_by_and_by_all(pa, pb, one, other):
    a, b = one.solid(pa), other.solid(pb)
    between = gap(a, b)
    for share, meets in ((0.0, between.distance == 0), (0.99, False), (1.01, True)):
        if share and between.distance < 1e-4:
            continue
        told = []
        for whole in (False, True):
            forget()
            with pytest.MonkeyPatch.context() as patch:
                patch.setattr(Shape, "has_tree", whole)
                told.append(meet(a, b.moved(Placement.at(share * (between.at_a - between.at_b)))))
        assert told[0] == told[1]
        # one solid twice in one place: whether its surfaces lie apart by less is for rounding to say
        assert told[0] == meets or (not share and 0.0 < between.distance < 1e-9)


@given(st.sampled_from(ROUGH), st.sampled_from(ROUGH), placements(), st.integers(0, 2), st.floats(0.2, 3.0))
def test_a_way_out_that_is_sought_within_a_length_is_the_same_or_longer(a, b, placed, axis, share):
    moving, still = a.solid(), b.solid(Placement.at(0.2 * placed.offset) @ placed)
    ahead = np.eye(3)[axis]
    whole = way_out(moving, still, ahead)
    assert (whole > 0.0) == meet(moving, still)
    if whole > 0.0:
        assert not meet(moving.moved(Placement.at(1.0001 * whole * ahead)), still)
    found = way_out(moving, still, ahead, within=share * whole)
    assert found == (whole if share >= 1.0 or whole == 0.0 else math.inf) or whole <= found <= 1.001 * whole
