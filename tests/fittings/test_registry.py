"""The registry: every fitting says all of itself in its own file, and no other file names it."""

import ast
import math
from pathlib import Path

import pytest
from fluids.fittings import K_branch_converging_Crane, K_branch_diverging_Crane, K_gate_valve_Crane, ft_Crane

import layout3d
from layout3d.catalog import default
from layout3d.errors import OutOfRange, SceneMistake, UnknownName
from layout3d.fittings.base import Through
from layout3d.fittings.losses import change_loss
from layout3d.fittings.registry import by_word, fitting, fittings

CATALOG = default()
PACKAGE = Path(layout3d.__file__).parent
ELSEWHERE = {
    ("catalog/shipped.py", "elbow_90"),  # columns of the tables of sockets
    ("catalog/shipped.py", "elbow_45"),
    ("catalog/shipped.py", "coupling"),
    ("flow/network.py", "ball_valve"),  # what a valve without a loss of its own is taken for
    ("flow/overflow.py", "elbow_90"),  # the turn that water takes into a level leg
    ("report/outage.py", "check_valve"),  # a key of the output
    ("solid/boolean.py", "union"),  # of solids
}


def test_a_kind_is_named_in_its_own_file_only():
    """No other file lists kinds; ends are words of a run's data as well."""
    named = {kind for kind, each in fittings().items() if each.place != "end"}
    others = {path: path.read_text() for path in PACKAGE.rglob("*.py") if path.parent != PACKAGE / "fittings"}
    found = {
        (str(path.relative_to(PACKAGE)), node.value)
        for path, text in others.items()
        if any(kind in text for kind in named)
        for node in ast.walk(ast.parse(text))
        if isinstance(node, ast.Constant) and node.value in named
    }
    assert found <= ELSEWHERE


def test_every_word_finds_its_fitting():
    assert all(each.word == word for word, each in by_word().items())
    assert {each.kind for each in by_word().values()} == {
        k for k, f in fittings().items() if f.place != "turn"
    }
    for each in fittings().values():
        assert bool(each.alone or each.step) == bool(each.word)


@pytest.mark.parametrize("kind", [k for k, f in fittings().items() if k != "reducing_bush"])
def test_faces_lie_a_socket_before_the_take_offs(kind):
    """Centre to face is centre to socket bottom and the socket's depth."""
    pipe = CATALOG.pipe("2 in sch 40")
    size = fitting(kind).size(CATALOG, pipe)
    depth = 0.045 if kind == "rubber_coupling" else pipe.socket_depth
    assert size.face == pytest.approx([take_off + depth for take_off in size.take_off])


def test_a_coupling_is_as_long_as_its_gap_and_two_sockets():
    pipe = CATALOG.pipe("1 in sch 40")
    assert fitting("coupling").size(CATALOG, pipe).length == pytest.approx(
        pipe.coupling_gap + 2 * pipe.socket_depth
    )


def test_sizes_refuse_what_they_do_not_know():
    with pytest.raises(UnknownName, match="nearest: 'elbow_90'"):
        fitting("elbow90")
    with pytest.raises(SceneMistake, match="lacks the pipe it comes down to"):
        fitting("reducing_bush").size(CATALOG, "1 in sch 40")
    with pytest.raises(OutOfRange, match="has no wall"):
        fitting("reducing_bush").size(CATALOG, "3/4 in sch 40", "1 in sch 40")
    odd = CATALOG.with_own({"pipes": {"odd": {"outside_diameter": 0.030, "inside_diameter": 0.026}}})
    with pytest.raises(OutOfRange, match="no length of a union is known for odd"):
        fitting("union").size(odd, "odd")
    with pytest.raises(OutOfRange, match="no length of a rubber coupling is known for 1/2 in sch 40"):
        fitting("rubber_coupling").size(CATALOG, "1/2 in sch 40")


def test_a_scene_may_give_only_the_lengths_it_needs():
    odd = CATALOG.with_own(
        {
            "pipes": {"odd": {"size": "odd", "outside_diameter": 0.030, "inside_diameter": 0.026}},
            "fittings": {"odd": {"union_gap": 0.012, "union_body": 0.060}},
        }
    )
    assert fitting("union").size(odd, "odd").take_off == (0.006, 0.006)


def test_what_is_shut_or_against_its_arrow_lets_nothing_through():
    assert fitting("ball_valve").loss(Through(bore=0.02, opening=0.0)) is None
    assert fitting("gate_valve").loss(Through(bore=0.02, opening=0.0)) is None
    assert fitting("check_valve").loss(Through(bore=0.02, forward=False)) is None
    assert fitting("check_valve").loss(Through(bore=0.02)).likely > 2.0


@pytest.mark.parametrize("kind", ["reducing_bush", "rubber_coupling"])
def test_a_change_of_bore_counts_whichever_way_water_goes(kind):
    """Borda-Carnot, (1 - b²)² of the smaller bore, where it widens; Crane and Rennels where it narrows."""
    narrow, wide = 0.02, 0.03
    widening = fitting(kind).loss(Through(bore=narrow, before=narrow, after=wide))
    assert widening.at("low") >= (1 - (narrow / wide) ** 2) ** 2 - 1e-12
    back = fitting(kind).loss(Through(bore=narrow, before=narrow, after=wide, forward=False))
    assert back.at("low") >= change_loss(wide, narrow).low - 1e-12
    assert back.likely != pytest.approx(widening.likely, rel=1e-3)
    assert fitting(kind).loss(Through(bore=narrow, before=wide, after=narrow)).likely == pytest.approx(
        back.likely
    )


@pytest.mark.parametrize("bore", [0.01544, 0.02057, 0.02624, 0.04044, 0.05204, 0.07727])
def test_an_open_gate_valve_loses_what_crane_says_or_a_little_more(bore):
    """Crane TP-410, 8 f_T at full bore, by fluids; Hooper and handbooks lie near."""
    crane = K_gate_valve_Crane(D1=bore, D2=bore, angle=0.0, fd=ft_Crane(bore))
    loss = fitting("gate_valve").loss(Through(bore=bore))
    assert loss.low <= 1.05 * crane
    assert loss.high >= crane
    assert loss.high <= 2.0 * crane


def test_the_branch_of_a_wye_loses_what_crane_says():
    """Crane TP-410, 2009, 45 degrees: all of the water in by the branch (low), half of it out (high)."""
    whole = K_branch_converging_Crane(0.05, 0.05, Q_run=1e-12, Q_branch=1.0, angle=45)
    half = K_branch_diverging_Crane(0.05, 0.05, Q_run=0.5, Q_branch=0.5, angle=45) / 0.5**2
    loss = fitting("wye").loss(Through(bore=0.05, branch=True))
    assert loss.low == pytest.approx(whole, abs=0.01)
    assert loss.high == pytest.approx(half, abs=0.01)
    assert loss.likely < fitting("tee").loss(Through(bore=0.05, branch=True)).likely


def test_sockets_of_a_wye_keep_clear_of_each_other():
    """Two cylinders of radius r whose axes part at 45 degrees touch up to r / tan(22.5 degrees)."""
    for name in CATALOG.names("pipes"):
        pipe = CATALOG.pipe(name)
        take_off = fitting("wye").size(CATALOG, name).take_off[2]
        assert take_off >= pipe.outside_diameter / 2 / math.tan(math.pi / 8)


def test_a_gate_valve_keeps_room_for_the_hand_and_its_wheel_rises():
    """Rising stem: its wheel stands a bore higher open than shut; a hand's breadth over it stays free."""
    made = fitting("gate_valve")
    size = made.size(CATALOG, "1 in sch 40")
    bore = size.pipe.inside_diameter
    tops = {opening: made.shape(size, opening=opening).shape.bounds[1, 2] for opening in (0.0, 0.5, 1.0)}
    assert tops[1.0] == pytest.approx(size.handle, abs=1e-6)
    assert tops[1.0] - tops[0.0] == pytest.approx(bore, abs=1e-6)
    assert tops[1.0] - tops[0.5] == pytest.approx(bore / 2, abs=1e-6)
    room = made.shape(size, opening=0.0).room.bounds
    assert room[1, 2] >= tops[1.0] + 0.045
    assert room[0, 2] < tops[0.0]
