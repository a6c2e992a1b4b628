"""Sizes and systems of pipe and port."""

import re

import pytest

RULE = "sizes-match"


RUN = "run: {kind: run, KIND: SIZE, start: hole.inside, route: [{front: 200}, open]}"


@pytest.mark.parametrize(
    ("bulkhead", "kind", "size", "count"),
    [
        ("d20", "pipe", "d20 pn 16", 0),
        ("d25", "pipe", "d20 pn 16", 1),
        ("1/2 in thin", "pipe", "d20 pn 16", 1),
        ("1/2 in thin", "pipe", "1/2 in sch 40", 0),
        ("1/2 in heavy", "pipe", "1/2 in sch 80", 0),  # schedules share their outside diameter
        ("3/4 in thin", "pipe", "1/2 in sch 40", 1),
        ("d20", "tube", "d20 flexible", 0),  # a hose is cemented into sockets of its size
        ("d20", "tube", "12/16 mm", 1),
    ],
)
def test_pipe_and_bulkhead(check, bulkhead, kind, size, count):
    holes = f"hole: {{panel: back, left: 300, bottom: 200, bulkhead: {bulkhead}}}"
    found = check(RULE, RUN.replace("KIND", kind).replace("SIZE", size), holes=holes)
    assert [f.severity for f in found] == ["fault"] * count


@pytest.mark.parametrize("bulkhead", ["d25", "1/2 in thin", "3/4 in thin"])
def test_what_the_remedy_says_can_be_written_and_mends_it(check, bulkhead):
    holes = f"hole: {{panel: back, left: 300, bottom: 200, bulkhead: {bulkhead}}}"
    (finding,) = check(RULE, RUN.replace("KIND", "pipe").replace("SIZE", "d20 pn 16"), holes=holes)
    words = re.findall(r"`(pipe|tube): ([^`]+)`", finding.remedy)
    assert words
    for kind, size in words:
        assert check(RULE, RUN.replace("KIND", kind).replace("SIZE", size), holes=holes) == ()


@pytest.mark.parametrize(("tube", "count"), [("12/16 mm", 0), ("9/12 mm", 1)])
def test_a_tube_and_the_barb_it_goes_over(check, tube, count):
    parts = f"""
pump: {{PUMP, outlet: 12/16 mm, at: {{left: 300, front: 200, bottom: 0}}}}
hose: {{kind: run, tube: {tube}, start: pump.outlet, route: [{{up: 150}}, open]}}
"""
    assert len(check(RULE, parts)) == count


def test_the_end_counts_with_the_size_it_was_reduced_to(check):
    holes = "hole: {panel: back, left: 300, bottom: 200, bulkhead: d20}"
    start = "{from: hole.inside, offset: [0, -200, 0]}"
    route = "[{back: 60}, {reduce: d20 pn 16}, {back: 140}, open]"
    run = f"run: {{kind: run, pipe: d25 pn 16, start: {start}, route: {route}, end_at: hole.inside}}"
    assert check(RULE, run, holes=holes) == ()
    (finding,) = check(RULE, run.replace("{reduce: d20 pn 16}, ", ""), holes=holes)
    assert "d25 pn 16 of run" in finding.message
    assert "(25 mm against 20 mm outside)" in finding.message
