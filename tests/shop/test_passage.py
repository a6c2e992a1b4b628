"""Pieces through openings and out of tanks: where a book, a closed form or plain sight tells the answer."""

import math
from pathlib import Path

import numpy as np
import pytest
from closed_solids import ball

from layout3d.keep import forget
from layout3d.model.build import build_model
from layout3d.scene.reader import read_scene
from layout3d.shop.hardscape_in import way_words, ways_in
from layout3d.shop.opening import EASY, fits, openings, roomiest, thickest
from layout3d.shop.passage import Passage, _Room, _Search
from layout3d.solid.boolean import difference
from layout3d.solid.moving import Moving
from layout3d.solid.primitives import box
from layout3d.solid.shape import Placement

OBLONG = np.array([[0.0, 0.0], [0.3, 0.0], [0.3, 0.2], [0.0, 0.2]])
ROUND = 0.1 * np.array([[math.cos(k * math.pi / 20), math.sin(k * math.pi / 20)] for k in range(40)])


@pytest.mark.parametrize(("thick", "longest"), [(0.02, 0.3424), (0.10, 0.3000)])
def test_a_bar_passes_an_opening_as_a_rectangle_fits_in_a_rectangle(thick, longest):
    """Wetzel, Rectangles in rectangles, Math. Mag. 73(3), 2000, 204-211 (formula from memory): the longest p
    of p x q in 0.3 x 0.2. The piece is turned by steps of 5 degrees, which costs 2 % at most: it is refused
    rather than let through."""
    upright = [fit for fit in fits(box((0.975 * longest, thick, 1.0)).solid(), [OBLONG]) if fit.way[2] == 1.0]
    assert upright
    # none of the ways straight up along its length, whatever other ways there are
    for fit in fits(box((1.005 * longest, thick, 1.0)).solid(), [OBLONG]):
        assert fit.way[2] < 1.0 or abs((fit.turn @ [0.0, 0.0, 1.0])[2]) < 0.999


@pytest.mark.parametrize(("side", "passes"), [(0.1410, True), (0.1418, False)])
def test_a_square_bar_passes_a_round_opening_as_a_square_fits_in_a_circle(side, passes):
    """Its diagonal is the diameter, 200 mm: 141.4 mm a side. It is too long to pass but along its length."""
    assert any(True for _ in fits(box((side, side, 1.0)).solid(), [ROUND])) is passes


def test_the_least_turned_positions_come_first_though_the_others_are_not_yet_tried():
    """Those that are tight last, and of a like turn the roomiest first; turns as the trace of each tells."""
    bar = box((0.18, 0.07, 0.5)).solid(Placement.turned((0.3, 0.5, 1.0), 0.4))
    found = list(fits(bar, [OBLONG, OBLONG + 1.0]))
    turned = [math.acos(min(1.0, (np.trace(fit.turn) - 1.0) / 2.0)) for fit in found]
    ranks = [
        (fit.spare < EASY, round(angle, 3), -fit.spare) for fit, angle in zip(found, turned, strict=True)
    ]
    assert ranks == sorted(ranks, key=lambda rank: rank[:2])
    assert len({tight for tight, *_ in ranks}) == 2


def test_a_bar_is_led_in_along_its_own_length_where_it_cannot_stand_upright():
    """Through 500 x 150 mm into a tank 300 mm high a bar 700 mm long goes leaning."""
    tank = [
        box((0.9, 0.15, 0.01)).solid(Placement.at((0.0, 0.0, -0.01))),
        box((0.2, 0.15, 0.01)).solid(Placement.at((0.0, 0.0, 0.3))),
        box((0.2, 0.15, 0.01)).solid(Placement.at((0.7, 0.0, 0.3))),
        box((0.01, 0.15, 0.31)).solid(Placement.at((-0.01, 0.0, 0.0))),
        box((0.01, 0.15, 0.31)).solid(Placement.at((0.9, 0.0, 0.0))),
        box((0.9, 0.01, 0.31)).solid(Placement.at((0.0, -0.01, 0.0))),
        box((0.9, 0.01, 0.31)).solid(Placement.at((0.0, 0.15, 0.0))),
    ]
    opening = np.array([[0.2, 0.0], [0.7, 0.0], [0.7, 0.15], [0.2, 0.15]])
    bar = box((0.7, 0.04, 0.04)).solid(Placement.at((0.1, 0.055, 0.0)))
    passage = Passage(bar, tank, rim=0.31, openings=[opening])
    everything = frozenset(range(len(tank)))
    assert passage.straight(everything) is None
    way = passage.turned(everything)
    assert way is not None
    assert way.turned
    assert passage.turned(everything).poses == way.poses
    assert 0.3 < max(pose.rotation[2, 0] for pose in way.poses) < 0.999  # its length leans
    for pose in way.poses:
        assert pose.apply(bar.vertices)[:, 2].min() > -1e-9


def test_what_bars_a_way_bars_it_only_while_it_is_there():
    stone = box((0.1, 0.1, 0.1)).solid(Placement.at((0.2, 0.2, 0.0)))
    lid = box((2.0, 2.0, 0.02)).solid(Placement.at((-0.75, -0.75, 0.2)))
    opening = np.array([[0.0, 0.0], [0.5, 0.0], [0.5, 0.5], [0.0, 0.5]])
    passage = Passage(stone, [lid], rim=0.3, openings=[opening])
    assert passage.straight(frozenset({0})) is None
    assert passage.turned(frozenset({0})) is None
    assert passage.straight(frozenset()) is not None


def test_the_widest_ball_in_a_ball_a_block_and_a_block_with_a_hole():
    assert thickest(ball(0.05).solid())[0] == pytest.approx(0.05, rel=2e-3)  # a mesh within 0.01 mm of true
    radius, _ = thickest(box((0.3, 0.2, 0.1)).solid())
    assert 0.0499 < radius <= 0.05
    bored = difference(
        box((0.3, 0.2, 0.1)).solid(), [box((0.1, 0.2, 0.1)).solid(Placement.at((0.1, 0.0, 0.0)))]
    )
    radius, at = thickest(bored)
    assert 0.0499 < radius <= 0.05
    assert not 0.1 < at[0] < 0.2
    assert roomiest(OBLONG)[1] == pytest.approx(0.1, abs=1e-5)


def test_openings_are_what_braces_leave():
    braces = (
        "perimeter_brace: {width: 50, thickness: 10}, cross_braces: [{at: 450, width: 100, thickness: 10}]"
    )
    tank = f"tank: {{kind: tank, inside: [900, 400, 400], glass: 10, {braces}}}"
    text = f"format: 1\nunits: mm\nwaterline: 100\nparts: {{{tank}}}\n"
    found = openings(build_model(read_scene(Path("made.yaml"), text=text)))
    assert sorted(np.ptp(opening, axis=0).round(3).tolist() for opening in found) == [[0.35, 0.3]] * 2


def test_what_lies_on_top_is_set_last_and_words_tell_the_way_round_a_brace():
    text = """\
format: 1
units: mm
waterline: 100
parts:
  tank: {kind: tank, inside: [900, 400, 400], glass: 10, cross_braces: [{at: 450, width: 200, thickness: 10}]}
  top: {kind: rock, form: slab, size: [160, 140, 50], at: {left: 380, front: 200, bottom: 60}}
  base: {kind: rock, form: slab, size: [200, 160, 60], at: {left: 380, front: 200, bottom: 0}}
"""
    model = build_model(read_scene(Path("made.yaml"), text=text))
    first, last = ways_in(model)
    assert (first.body, last.body) == ("base", "top")
    assert way_words(last.way, style="metric") == "down, then 160 mm to the right"


def test_where_one_of_the_others_was_moved_the_rest_is_not_met_anew(monkeypatch, tmp_path):
    lid = box((0.4, 0.4, 0.01)).solid(Placement.at((-0.07, -0.07, 0.153)))
    stone, asked = box((0.06, 0.06, 0.057)).solid(), []

    def clear(moving, move, offset, index):
        asked.append(moving._others[index])
        return measured(moving, move, offset, index)

    measured = Moving.clear
    monkeypatch.setattr(Moving, "clear", clear)

    def way_past(*others):
        asked.clear()
        bounds = np.array([other.bounds for other in others])
        room = _Room.around(stone, bounds, rim=0.3, outs=[(0.0, 0.0, 1.0)], step=0.01)
        return _Search(stone, others, room, []).straight(frozenset(range(len(others))))

    monkeypatch.setenv("LAYOUT3D_CACHE", str(tmp_path))
    monkeypatch.setattr("layout3d.shop.passage.WORTH_FILING", 0.0)
    forget()
    way = way_past(lid, box((0.02, 0.02, 0.02)).solid(Placement.at((0.2, 0.01, 0.0))))
    assert lid in asked
    beside = box((0.02, 0.02, 0.02)).solid(Placement.at((0.2, 0.03, 0.0)))
    again = way_past(lid, beside)
    assert lid not in asked
    forget()  # as in the process of the next check
    next_time = way_past(lid, beside)
    assert lid not in asked
    monkeypatch.setenv("LAYOUT3D_CACHE", "off")
    forget()
    fresh = way_past(lid, beside)
    assert lid in asked
    assert fresh == next_time == again == way


def test_a_stone_that_is_drawn_out_through_the_glass_leaves_far_ways_out_as_they_were(monkeypatch):
    post = box((0.02, 0.02, 0.3)).solid(Placement.at((0.3, 0.1, 0.0)))
    pump, asked, measured = box((0.06, 0.06, 0.057)).solid(), [], Moving.clear
    monkeypatch.setattr(Moving, "clear", lambda *given: asked.append(given) or measured(*given))

    def way_past(front):
        asked.clear()
        stone = box((0.1, 0.1, 0.1)).solid(Placement.at((0.6, front, 0.0)))
        outs = [(0.0, -1.0, 0.0), (1.0, 0.0, 0.0)]
        passage = Passage(pump, [post, stone], rim=0.3, openings=[], outs=outs)
        return passage.straight(frozenset((0, 1)))

    forget()
    monkeypatch.setattr("layout3d.shop.passage.WORTH", 0.0)
    ways = [way_past(-0.05), way_past(-0.08)]
    assert ways[0] is not None
    assert ways[0] == ways[1]
    assert not asked
    # it ends past the stone: nowhere on its way, nor beyond, is anything met
    assert min(pose.offset[1] for pose in ways[0].poses) < -0.08 - 0.06


@pytest.mark.usefixtures("memory_alone")
def test_where_a_piece_was_moved_what_barred_its_ways_is_looked_at_first(monkeypatch):
    lean = Placement.turned((0.3, 0.2, 1.0), 0.6)
    walls = [
        box((0.4, 0.4, 0.01)).solid(Placement.at((-0.17, -0.17, 0.15)) @ lean),
        *(box((0.02, 0.3, 0.2)).solid(Placement.at((x, -0.1, 0.0)) @ lean) for x in (-0.06, 0.2)),
    ]
    stone, asked, measured = box((0.06, 0.06, 0.057)), [], Moving.clear
    monkeypatch.setattr(Moving, "clear", lambda *given: asked.append(given) or measured(*given))

    def ways_past(left, others):
        asked.clear()
        bounds = np.array([other.bounds for other in others])
        solid = stone.solid(Placement.at((left, 0.0, 0.0)))
        room = _Room.around(solid, bounds, rim=0.3, outs=[(0.0, 0.0, 1.0)], step=0.01)
        return _Search(solid, others, room, []).straight(frozenset(range(len(others)))), len(asked)

    forget()
    ways_past(0.0, walls)
    for others in (walls, [walls[0].moved(Placement.at((0.5, 0.0, 0.0))), *walls[1:]], walls[::-1]):
        again, few = ways_past(0.003, others)
        forget()
        fresh, many = ways_past(0.003, others)
        assert again == fresh
        assert few < many or others is not walls  # where others stand, what barred them tells less
        ways_past(0.0, walls)


@pytest.mark.usefixtures("memory_alone")
def test_what_barred_the_last_path_out_the_same_way_is_looked_at_first(monkeypatch):
    sides = [((0.02, 0.6, 0.4), (x, -0.25, -0.1)) for x in (-0.1, 0.15)]
    sides += [((0.6, 0.02, 0.4), (-0.25, y, -0.1)) for y in (-0.1, 0.15)]
    sides += [((0.6, 0.6, 0.02), (-0.25, -0.25, z)) for z in (-0.05, 0.18)]
    shut_in = [
        box(size).solid(Placement.at(at) @ Placement.turned((0.3, 0.2, 1.0), 0.1)) for size, at in sides
    ]
    stone, asked, measured = box((0.06, 0.06, 0.057)).solid(), [], Moving.clear
    monkeypatch.setattr(Moving, "clear", lambda *given: asked.append(given) or measured(*given))
    outs = [(0.0, 0.0, 1.0), (0.0, -1.0, 0.0), (0.0, 1.0, 0.0), (-1.0, 0.0, 0.0), (1.0, 0.0, 0.0)]
    room = _Room.around(stone, np.array([each.bounds for each in shut_in]), rim=0.3, outs=outs, step=0.01)
    forget()
    search, stops = _Search(stone, shut_in, room, []), []
    led, of_stops = search._stops, lambda *given: (len(asked), led(*given), len(asked))

    def counted(*given):
        before, found, after = of_stops(*given)
        stops.append(after - before)
        return found

    monkeypatch.setattr(search, "_stops", counted)
    assert search.roundabout(frozenset(range(len(shut_in)))) is None
    assert search.tried > 50
    assert len(asked) - sum(stops) < 1.5 * search.tried
