"""What is told of a text, and in what order."""

import pytest

from layout3d.view.answers import FIT, Bench, Fit, Judged, Placed, Text
from layout3d.view.looks import Looks


def test_what_is_known_first_is_told_first_and_is_no_more_than_a_part(scene_file):
    bench, told = Bench(scene_file), []
    text = scene_file.read_text().replace("water: 120 ", "water: 249 ")  # too near the rim, which is no fit
    bench.answer(Text(1, text, ("judged",)), told.append)
    bench.answer(Text(2, text.replace("left: 290", "left: 140"), ("judged", "looks")), told.append)
    assert [type(answer) for answer in told] == [Placed, Fit, Judged, Placed, Fit, Judged, Looks]
    (first, *_), (placed, fit, judged, looks) = told[:3], told[3:]
    assert {one.rule for one in fit.findings} == {"overlap"}
    assert fit.findings == tuple(one for one in judged.findings if one.rule in FIT)
    assert len(judged.findings) > len(fit.findings)
    before, after = ({thing.name: thing for thing in one.things} for one in (first, placed))
    assert before["other"].shape == after["other"].shape
    move = after["other"].stands @ before["other"].stands.inverse()
    assert move.offset == pytest.approx([-0.15, 0.0, 0.0])
    assert before["stone"].stands == after["stone"].stands
    assert placed.things == looks.things
