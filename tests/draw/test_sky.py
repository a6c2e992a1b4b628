"""Light that is kept while things move: the same as made anew, to the last part."""

import numpy as np
import pytest

from layout3d.draw import sky
from layout3d.draw.light import daylight, lamplight
from layout3d.draw.sky import surface_points, thinned
from layout3d.solid.primitives import box

LAMPS = np.array([[0.1, 0.2, 0.6], [0.3, 0.2, 0.6]], dtype=np.float32)


def test_surface_points_lie_on_the_surface_and_are_spread_by_area():
    shape = box((1.0, 0.5, 0.25))
    points = surface_points(shape.vertices.astype(np.float32), shape.faces, 0.02)
    assert len(points) == pytest.approx(shape.area / 0.02**2, rel=0.01)
    off = np.minimum(np.abs(points), np.abs(points - np.array([1.0, 0.5, 0.25])))
    assert off.min(axis=1).max() < 1e-6
    top = np.abs(points[:, 2] - 0.25) < 1e-6
    assert top.mean() == pytest.approx(0.5 / shape.area, abs=0.01)
    assert surface_points(points, np.zeros((0, 3), dtype=np.int32), 0.1).shape == (0, 3)


def test_thinning_leaves_one_point_a_cube():
    points = np.random.default_rng(3).random((5000, 3)).astype(np.float32)
    kept = thinned(points, 0.2)
    cubes = {tuple(c) for c in ((points - points.min(axis=0)) / np.float32(0.2)).astype(int)}
    assert len(kept) == len(cubes)
    assert len(thinned(points[:0], 0.2)) == 0


def blob(random):
    """A crumpled ball somewhere: its points, normals and faces."""
    count = 300
    ways = random.normal(size=(count, 3))
    ways /= np.linalg.norm(ways, axis=1, keepdims=True)
    points = ways * random.uniform(0.02, 0.06, (count, 1)) + random.uniform(0.0, 0.4, 3)
    faces = random.integers(0, count, (2 * count, 3))
    return points.astype(np.float32), ways.astype(np.float32), faces.astype(np.int32)


@pytest.mark.parametrize("seed", range(6))
def test_what_moves_comes_and_goes_leaves_the_light_that_is_made_anew(seed):
    random = np.random.default_rng(seed)
    things, whose = [blob(random) for _ in range(5)], f"test {seed}"
    for _ in range(8):
        change = random.integers(4)
        if change == 0 and len(things) > 1:
            things.pop(random.integers(len(things)))
        elif change == 1:
            things.append(blob(random))
        elif change == 2:
            things.reverse()
        else:  # far, or less than a cell
            chosen = random.integers(len(things))
            points, normals, faces = things[chosen]
            by = random.normal(size=3) * random.choice([0.001, 0.01, 0.3])
            things[chosen] = points + by.astype(np.float32), normals, faces
        lit = [(points, normals) for points, normals, _ in things]
        throwers = [(points, faces) for points, _, faces in things if random.random() > 0.1]
        for light, more in ((daylight, ()), (lamplight, (LAMPS,))):
            kept, anew = (light(lit, throwers, *more, cell=0.005, whose=each) for each in (whose, None))
            assert all(map(np.array_equal, kept, anew))


def test_of_what_lies_far_from_all_that_moves_nothing_is_lit_again(monkeypatch):
    """A row of blobs: as the last one is lowered, it throws shadow on itself alone, and only it is lit."""
    random = np.random.default_rng(4)
    things = [blob(random) for _ in range(6)]
    things = [(p - p.mean(axis=0) + np.float32([i, 0, 0]), n, f) for i, (p, n, f) in enumerate(things)]
    looked_at = []
    parts = sky._Way._parts
    monkeypatch.setattr(
        sky._Way, "_parts", lambda way, rows, *more: looked_at.append(rows) or parts(way, rows, *more)
    )

    def lit(whose):
        looked_at.clear()
        surfaces = [(points, normals) for points, normals, _ in things]
        return daylight(surfaces, [(points, faces) for points, _, faces in things], cell=0.01, whose=whose)

    lit("row")
    every = sum(rows.shape[1] for rows in looked_at)
    lit("row")
    assert not looked_at
    points, normals, faces = things[-1]
    things[-1] = points - np.float32([0, 0, 0.005]), normals, faces
    found = lit("row")
    assert sum(rows.shape[1] for rows in looked_at) < every / 4
    assert all(map(np.array_equal, found, lit(None)))
