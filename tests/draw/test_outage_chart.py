"""The outage chart by its data: which levels, in what words, none over another."""

from itertools import pairwise
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from layout3d.draw.outage_chart import apart, levels_shown, outage_figure
from layout3d.model.build import build_model
from layout3d.outage.outages import outages
from layout3d.scene.reader import read_scene

FAULTY = Path(__file__).resolve().parents[2] / "scenes" / "faulty"
NAMES = ("siphon", "pump-dry", "sump-drain-back", "drain-blocked")


@pytest.fixture(scope="module", params=NAMES)
def drawn(request):
    model = build_model(read_scene(FAULTY / f"{request.param}.yaml"))
    found = outages(model)
    return model, found, outage_figure(model, found)


def words_of(figure):
    from matplotlib.backends.backend_agg import FigureCanvasAgg

    renderer = FigureCanvasAgg(figure).get_renderer()
    texts = [*figure.axes[0].texts, *figure.texts]
    return {text.get_text(): text.get_window_extent(renderer) for text in texts}


def test_no_words_stand_over_others_or_off_the_page(drawn):
    _, _, figure = drawn
    boxes = list(words_of(figure).items())
    page = figure.bbox
    for number, (words, box) in enumerate(boxes):
        assert page.x0 <= box.x0 <= box.x1 <= page.x1, words
        assert page.y0 <= box.y0 <= box.y1 <= page.y1, words
        for other, there in boxes[number + 1 :]:
            across = min(box.x1, there.x1) - max(box.x0, there.x0)
            up = min(box.y1, there.y1) - max(box.y0, there.y0)
            assert across <= 0.0 or up <= 1.0, (words, other)


def test_every_level_is_drawn_where_it_is(drawn):
    model, found, figure = drawn
    heights = [line.get_ydata()[0] for line in figure.axes[0].lines]
    for level in levels_shown(model, found):
        assert np.isclose(heights, level.z).any(), level.words


def test_the_levels_are_those_of_the_report(drawn):
    model, found, _ = drawn
    shown = levels_shown(model, found)
    by_words = {level.words.partition("  ")[0]: level for level in shown if level.vessel == "tank"}
    assert by_words["running"].z == found.circuit.level.likely
    assert by_words["after a power cut"].z == found.power_cut.tank_level.likely
    assert by_words["overflow blocked"].z == found.blocked[-1].tank_level.likely
    sump = {level.words.partition("  ")[0]: level.z for level in shown if level.vessel == "sump"}
    assert sump["running, as filled"] == found.circuit.chamber_level
    marks = [z - found.circuit.sump.floor for words, z in sump.items() if words.startswith("fill line")]
    assert tuple(sorted(marks)) == pytest.approx(found.mark.running or ())


def test_true_to_scale(drawn):
    """A metre across is a metre up."""
    _, _, figure = drawn
    axes = figure.axes[0]
    box = axes.get_window_extent()
    across = box.width / (axes.get_xlim()[1] - axes.get_xlim()[0])
    up = box.height / (axes.get_ylim()[1] - axes.get_ylim()[0])
    assert across == pytest.approx(up, rel=1e-6)


@given(wanted=st.lists(st.floats(-1.0, 1.0), max_size=12), gap=st.floats(0.01, 0.5))
def test_apart_keeps_the_order_and_the_gap(wanted, gap):
    found = apart(wanted, gap)
    order = sorted(range(len(wanted)), key=lambda place: (wanted[place], place))
    placed = [found[place] for place in order]
    assert all(b - a >= gap - 1e-9 for a, b in pairwise(placed))
    # what is apart already stays
    wide = all(wanted[b] - wanted[a] >= gap for a, b in pairwise(order))
    if wide:
        assert found == pytest.approx(wanted)
