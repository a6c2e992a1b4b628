import numpy as np
import pytest
from closed_solids import ball
from hypothesis import given, settings
from hypothesis import strategies as st

from layout3d.solid import contain
from layout3d.solid.boolean import difference, union
from layout3d.solid.contain import _counted, inside
from layout3d.solid.primitives import box, heightfield, prism, tube
from layout3d.solid.shape import Placement, Shape

TUBE = tube(0.05, 0.03, 0.1)
COMB = prism([(0, 0), (8, 0), (8, 3), *((8 - i, 1 + 2 * (i % 2)) for i in range(1, 8)), (0, 3)], 2.0)


def solid_angle(solid, points):
    """The slow plain version: the winding number by solid angles.

    Van Oosterom and Strackee 1983, IEEE Trans. Biomed. Eng. 30(2), 125-126, eq. 8 (from memory).
    """
    a, b, c = (solid.vertices[solid.faces[:, k]][None] - points[:, None] for k in range(3))
    la, lb, lc = (np.linalg.norm(v, axis=2) for v in (a, b, c))
    top = np.einsum("ijk,ijk->ij", a, np.cross(b, c))
    dots = [np.einsum("ijk,ijk->ij", *pair) for pair in ((a, b), (b, c), (c, a))]
    bottom = la * lb * lc + dots[0] * lc + dots[1] * la + dots[2] * lb
    return (2 * np.arctan2(top, bottom)).sum(axis=1) / (4 * np.pi)


@settings(max_examples=20)
@given(
    st.sampled_from([TUBE, ball(0.05, n=40), box((0.1, 0.05, 0.02), centre=True)]),
    st.floats(-3, 3),
    st.integers(0, 2**32 - 1),
)
def test_agrees_with_the_winding_number(shape, turn, seed):
    solid = shape.solid(Placement.turned((1, 2, -1), turn) @ Placement.at((0.01, 0.02, 0.03)))
    low, high = solid.bounds
    points = np.random.default_rng(seed).uniform(low - 0.01, high + 0.01, (60, 3))
    found = inside(solid, points)
    winding = solid_angle(solid, points)
    sure = np.abs(winding - 0.5) > 0.4
    assert (found == (winding > 0.5))[sure].all()
    assert sure.mean() > 0.9


def test_lines_through_corners_and_edges_are_not_lost():
    """A grid whose every line runs along walls, through corners and along the diagonals of faces."""
    x, y, z = np.meshgrid(np.arange(-0.5, 9, 0.5), np.arange(-0.5, 4, 0.5), [-0.25, 0.75, 1.25, 2.25])
    points = np.column_stack([x.ravel(), y.ravel(), z.ravel()])
    import shapely

    flat = shapely.Polygon(COMB.vertices[: len(COMB.vertices) // 2, :2])
    place = shapely.points(points[:, :2])
    on_wall = shapely.distance(flat.boundary, place) == 0.0
    expected = shapely.contains(flat, place) & (points[:, 2] > 0) & (points[:, 2] < 2)
    assert (inside(COMB.solid(), points) == expected)[~on_wall].all()
    assert expected.sum() > 50


def test_cavities_and_parts_apart():
    hollow = difference(ball(0.05, n=40).solid(), [ball(0.03, n=40).solid()])
    solid = union([hollow, ball(0.01, n=40).solid(), box((1, 1, 1)).solid(Placement.at((2, 0, 0)))])
    points = [(0, 0, 0), (0.02, 0, 0), (0.04, 0, 0), (0.06, 0, 0), (2.5, 0.5, 0.5)]
    assert inside(solid, points).tolist() == [True, False, True, False, True]


def test_a_fine_bed_by_share_of_random_points():
    """Closed form: the share of points inside is the share of volume; 4 sigma of the binomial."""
    rng = np.random.default_rng(4)
    bed = heightfield(np.linspace(0, 1, 60), np.linspace(0, 0.5, 40), rng.uniform(0.02, 0.1, (60, 40)), 0.0)
    points = rng.uniform((0, 0, 0), (1, 0.5, 0.1), (50_000, 3))
    share = bed.volume / 0.05
    assert inside(bed.solid(), points).mean() == pytest.approx(share, abs=4 * np.sqrt(share / 50_000))


def test_one_point_is_told_as_many_are_without_the_kernel_taking_the_mesh_in():
    shape = Shape.trusted(COMB.vertices, COMB.faces[::-1])  # the same, but at hand nowhere
    points = np.random.default_rng(7).uniform(*shape.bounds, (60, 3))
    apart = [inside(shape.solid(), point[None])[0] for point in points]
    assert not shape.has_manifold
    assert apart == inside(COMB.solid(), points).tolist() == (solid_angle(shape, points) > 0.5).tolist()
    assert 0 < sum(apart) < 60


def test_a_line_through_a_corner_or_a_point_on_a_face_is_left_to_the_kernel():
    shape = Shape.trusted(COMB.vertices, np.roll(COMB.faces, 1, axis=0))
    tooth = shape.vertices[shape.vertices[:, 1].argmin()] + [0.0, 0.0, -1e-3]
    for point in (tooth + np.array([0.0, 1e-13, 2e-3]), shape.corners[0].mean(axis=0)):
        assert _counted(shape, point[None])[1].all()
    inside(shape.solid(), shape.corners[:1].mean(axis=1))
    assert shape.has_manifold


def test_many_points_told_together_agree_with_the_winding_number(monkeypatch):
    """In random solids of several shells, cut on a grid that lines up with some of the points."""
    rng = np.random.default_rng(11)
    for _ in range(25):
        blocks = [
            box(rng.integers(1, 6, 3) / 8).solid(Placement.at(rng.integers(0, 8, 3) / 8)) for _ in range(6)
        ]
        round_ones = [
            ball(rng.uniform(0.05, 0.3), n=12).solid(Placement.at(rng.uniform(0, 1, 3))) for _ in "ab"
        ]
        whole = difference(union([*blocks[:4], round_ones[0]]), [*blocks[4:], round_ones[1]])
        strewn = rng.uniform(-0.1, 1.4, (400, 3))
        on_grid = rng.integers(0, 12, (400, 3)) / 8 + rng.choice([0.0, 1e-4, 1 / 16], (400, 3))
        points = np.concatenate([strewn, on_grid])
        apart = points[~(on_skin(whole, points))]
        monkeypatch.setattr(contain, "AT_ONCE", int(rng.integers(50, 5000)))
        monkeypatch.setattr(contain, "MANY", 0)
        monkeypatch.setattr(contain, "FACES_A_POINT", 1e9)
        found = inside(whole, apart)
        assert (found == (solid_angle(whole, apart) > 0.5)).all()
        assert 0 < found.sum() < len(apart)


def on_skin(solid, points):
    """Tell which points lie nearer to a face than rounding, by the height over its plane and its box."""
    a, b, c = solid.vertices[solid.faces].transpose(1, 0, 2)
    normal = np.cross(b - a, c - a)
    normal /= np.linalg.norm(normal, axis=1)[:, None]
    height = np.abs(points @ normal.T - np.einsum("ij,ij->i", a, normal))
    low, high = np.minimum(np.minimum(a, b), c) - 1e-9, np.maximum(np.maximum(a, b), c) + 1e-9
    held = ((points[:, None] >= low) & (points[:, None] <= high)).all(axis=2)
    return ((height < 1e-9) & held).any(axis=1)


def test_no_points():
    assert inside(TUBE.solid(), np.zeros((0, 3))).shape == (0,)
