"""What is seen and what is hidden, against closed forms and against rays cast through the solids."""

import math
from dataclasses import replace

import numpy as np
import pytest
from closed_solids import ball

from layout3d.parts.base import Body
from layout3d.sheets.projection import BEHIND, VIEWS, project
from layout3d.solid.primitives import box
from layout3d.solid.shape import Placement


def body(name, shape, at=(0.0, 0.0, 0.0), *, group="equipment", turn=0.0):
    placement = Placement.at(at) @ Placement.turned((1.0, 2.0, 3.0), turn)
    return Body(
        name=name, part=name, kind="x", group=group, solid=shape.solid(placement), material="pvc", density=1.0
    )


def length(segments):
    return float(np.linalg.norm(segments[:, 1] - segments[:, 0], axis=1).sum())


def on_paper(segments):
    """Return the length of what is drawn, what stands twice counted once."""
    import shapely

    rounded = np.round(segments, 9)
    return float(shapely.union_all(shapely.linestrings(rounded)).length)


def test_a_box_before_another_hides_what_it_covers():
    """Front view: a far square of 2 behind a near one of 2, shifted by 1 across and up."""
    near = body("near", box((2.0, 1.0, 2.0)))
    far = body("far", box((2.0, 1.0, 2.0)), (1.0, 3.0, 1.0))
    first, second = project([near, far], VIEWS["front"])
    assert on_paper(first.seen) == pytest.approx(8.0)
    # of its outline of 8, one on the left and one below lie behind the near box
    assert on_paper(second.seen) == pytest.approx(6.0, abs=1e-6)
    hidden = second.hidden.reshape(-1, 2)
    assert ((hidden >= np.array((0.0, 0.0)) - 1e-9) & (hidden <= np.array((3.0, 3.0)) + 1e-9)).all()


def test_a_ball_is_drawn_by_its_outline_alone():
    (lines,) = project([body("ball", ball(0.1))], VIEWS["plan"])
    assert on_paper(lines.seen) == pytest.approx(2 * math.pi * 0.1, rel=0.01)  # a polygon of the true area


def test_glass_hides_nothing():
    pane = body("pane", box((4.0, 0.1, 4.0)), (-1.0, -1.0, -1.0), group="glass")
    thing = body("thing", box((1.0, 1.0, 1.0)))
    assert on_paper(project([pane, thing], VIEWS["front"])[1].seen) == pytest.approx(4.0)
    wood = replace(pane, group="stand")
    assert not len(project([wood, thing], VIEWS["front"])[1].seen)
    assert on_paper(project([wood, thing], VIEWS["front"], see_through=["stand"])[1].seen) == pytest.approx(
        4.0
    )


def test_a_cut_takes_away_what_stands_before_it():
    near = body("near", box((2.0, 1.0, 2.0)))
    far = body("far", box((1.0, 1.0, 1.0)), (0.5, 3.0, 0.5))
    # the viewer of the front stands at -y: behind y = 2 lies the far one alone
    lines = project([near, far], VIEWS["front"], behind=-2.0)
    assert not len(lines[0].seen)
    assert on_paper(lines[1].seen) == pytest.approx(4.0)


@pytest.mark.parametrize("seed", range(4))
@pytest.mark.parametrize("view", ["front", "plan", "isometric"])
def test_rays_find_the_same(seed, view):
    """The middle of each piece that is drawn as seen is looked at along a ray, and so is each hidden one."""
    random = np.random.default_rng(seed)
    bodies = [
        body(
            f"b{k}",
            box(random.uniform(0.2, 1.0, 3)),
            random.uniform(-0.6, 0.6, 3),
            turn=float(random.uniform(0, 3)),
        )
        for k in range(6)
    ]
    axes = VIEWS[view].axes
    told = {True: 0, False: 0}
    for lines in project(bodies, VIEWS[view]):
        for seen, segments in ((True, lines.seen), (False, lines.hidden)):
            for middle in segments.mean(axis=1):
                edge = _depth_on(lines.body, axes, middle)
                if edge is None:
                    continue
                start = middle @ axes[:2] + (edge + BEHIND) * axes[2]
                end = middle @ axes[:2] + 10.0 * axes[2]
                blocked = any(other.solid.manifold.ray_cast(tuple(start), tuple(end)) for other in bodies)
                told[seen] += 1
                assert blocked != seen
    assert min(told.values()) > 10


def _depth_on(one, axes, middle):
    """Return how near to the viewer the one edge is that a body has at a place of the picture."""
    flat = one.solid.vertices @ axes.T
    found = []
    for a, b in {
        tuple(sorted(pair)) for f in one.solid.faces for pair in ((f[0], f[1]), (f[1], f[2]), (f[2], f[0]))
    }:
        way = flat[b] - flat[a]
        size = float(way[:2] @ way[:2])
        if size < 1e-12 or np.linalg.norm(one.solid.vertices[b] - one.solid.vertices[a]) == 0:
            continue
        share = float((middle - flat[a, :2]) @ way[:2]) / size
        if -1e-9 <= share <= 1 + 1e-9 and np.linalg.norm(flat[a, :2] + share * way[:2] - middle) < 1e-9:
            found.append(float(flat[a, 2] + share * way[2]))
    return found[0] if len(found) == 1 else None
