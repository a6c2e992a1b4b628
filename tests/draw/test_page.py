from __future__ import annotations

import itertools
import math

import numpy as np
import pytest

from layout3d.checks.base import Finding
from layout3d.draw.camera import camera_for
from layout3d.draw.overlay import text_size, wrapped
from layout3d.draw.page import finding_point, legend_rows, place_badges, scale_bar

BOX = np.array([[x, y, z] for x in (0.0, 1.0) for y in (0.0, 0.5) for z in (0.0, 0.5)])
CAMERA = camera_for("front", BOX, size=(1600, 1200), frame=(200, 120, 1400, 1000))


def found(at=None, parts=()):
    return Finding(rule="r", severity="fault", parts=parts, message="m", remedy="", at=at)


@pytest.mark.parametrize(("style", "unit"), [("metric", 0.001), ("inch", 0.0254)])
def test_scale_bar_is_as_long_as_it_says(style, unit):
    bar = scale_bar(CAMERA, (0.5, 0.25, 0.25), style=style, corner=(40.0, 1100.0), room=260.0)
    ends = CAMERA.project(np.array([[0.0, 0.25, 0.25], [bar.metres, 0.25, 0.25]]))
    assert bar.pixels == pytest.approx(ends[1, 0] - ends[0, 0])
    assert bar.pixels <= 260.0
    figure, name = bar.text.split()
    assert float(figure) * unit == pytest.approx(bar.metres)
    assert name == ("mm" if style == "metric" else "in")


def test_scale_bar_is_the_longest_round_one_that_fits():
    scale = float(CAMERA.pixels_per_metre(BOX[:1])[0])
    bar = scale_bar(CAMERA, (0, 0, 0), style="metric", corner=(0, 0), room=0.21 * scale)
    assert bar.metres == 0.2
    assert scale_bar(CAMERA, (0, 0, 0), style="metric", corner=(0, 0), room=0.19 * scale).metres == 0.1


def test_a_lone_badge_stands_where_its_finding_lies():
    point = (0.3, 0.2, 0.4)
    (badge,) = place_badges([(7, found(point), point)], CAMERA, radius=15.0, page=(0, 0, 1600, 1200))
    assert badge.number == 7
    assert badge.centre == badge.at == pytest.approx(tuple(CAMERA.project(np.array([point]))[0]))


def test_badges_of_one_place_step_aside_but_keep_their_points():
    items = [(k, found(), (0.3, 0.2, 0.4)) for k in range(1, 9)]
    badges = place_badges(items, CAMERA, radius=15.0, page=(0, 0, 1600, 1200))
    assert len(badges) == 8
    assert len({badge.at for badge in badges}) == 1
    for a, b in itertools.combinations(badges, 2):
        assert math.dist(a.centre, b.centre) >= 2 * 15.0


def test_badges_keep_off_text_and_off_the_page_there_are_none():
    point = (0.3, 0.2, 0.4)
    x, y = CAMERA.project(np.array([point]))[0]
    taken = [(x - 60, y - 10, x + 60, y + 10)]
    (badge,) = place_badges([(1, found(), point)], CAMERA, radius=15.0, page=(0, 0, 1600, 1200), taken=taken)
    assert abs(badge.centre[1] - y) >= 25.0 or abs(badge.centre[0] - x) >= 75.0
    assert place_badges([(1, found(), (9.0, 0, 0))], CAMERA, radius=15.0, page=(0, 0, 1600, 1200)) == ()


def test_a_finding_without_a_place_lies_on_its_first_part_that_is_drawn():
    bounds = {"pump": np.array([[0.0, 0.0, 0.0], [0.2, 0.4, 0.6]])}
    assert finding_point(found(parts=("gone", "pump")), bounds) == pytest.approx((0.1, 0.2, 0.3))
    assert finding_point(found(parts=("gone",)), bounds) is None
    assert finding_point(found(at=(1.0, 2.0, 3.0), parts=("pump",)), bounds) == (1.0, 2.0, 3.0)


@pytest.mark.parametrize(
    ("lines", "rows"),
    [
        ([], (0, 0)),
        ([1] * 6, (6, 0)),
        ([1] * 7, (5, 2)),
        ([2, 2, 2], (3, 0)),
        ([2, 2, 3], (2, 1)),
        ([9], (0, 1)),
    ],
)
def test_a_long_legend_counts_what_it_leaves_out(lines, rows):
    assert legend_rows(lines, 6) == rows


def test_a_long_message_breaks_between_words_and_loses_none():
    text = "return_pump brings up 47.3 L and then runs dry, with 505.4 mm left below the rim of tank"
    lines = wrapped(text, 17.0, 300.0, first=200.0)
    assert " ".join(lines) == text
    assert text_size(lines[0], 17.0)[0] <= 200.0
    assert max(text_size(line, 17.0)[0] for line in lines) <= 300.0
    assert len(lines) == math.ceil((text_size(text, 17.0)[0] + 100.0) / 300.0 + 0.2)
