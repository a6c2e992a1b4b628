"""Room over the sump."""

from types import SimpleNamespace

import numpy as np
import pytest
from made_bodies import made_body, with_bodies
from made_outages import made_model

from layout3d.checks.rules import sump_access as module

RULE = "sump-access"


@pytest.mark.parametrize(
    ("height", "severity", "measured"),
    [
        (356, None, None),
        (356.1, "warning", 0.0999),
        (411, "warning", 0.045),
        (411.1, "fault", 0.0449),
        (436, "fault", 0.02),
    ],
)
def test_either_side_of_each_limit(faulty, height, severity, measured):
    """100 mm for a hand, 45 mm for a flat one (limits hand_access)."""
    found = faulty(RULE, height=height)
    if severity is None:
        assert found == ()
    else:
        (finding,) = found
        assert finding.severity == severity
        assert finding.measured == pytest.approx(measured, abs=1e-6)


def test_without_a_stand_the_tank_itself_lies_over_it(check):
    sump = "sump: {SUMP, at: [0, 0, -350], inside: [450, 300, 300], compartments: [{name: a, level: 100}]}"
    (finding,) = check(RULE, sump)
    assert finding.parts == ("sump", "tank.bottom")
    assert finding.measured == pytest.approx(0.350 - 0.308 - 0.010)


def test_beside_the_tank_nothing_lies_over_it(check):
    sump = "sump: {SUMP, at: [-800, 0, -350], inside: [450, 300, 300], compartments: [{name: a, level: 100}]}"
    assert check(RULE, sump) == ()


def judged(*bodies):
    """Run the rule over a sump of 400 by 300 by 200 mm inside, its rim 190 mm over its floor at 0."""
    model = with_bodies(made_model(hand_access=0.1, hand_access_least=0.045), *bodies)
    interior = SimpleNamespace(bounds=np.array([[0.0, 0.0, 0.0], [0.4, 0.3, 0.2]]))
    built = SimpleNamespace(
        part=SimpleNamespace(name="sump"), data=SimpleNamespace(interior=interior, rim=0.19)
    )
    model.sumps = (built,)
    return list(module.sump_access.find(model))


def board(over, *, low=(100, 100), high=(200, 200), name="stand.top", group="stand"):
    return made_body(name, (*low, 190 + over), (*high, 210 + over), group=group, kind="board", where="room")


@pytest.mark.parametrize(
    ("over", "severity"), [(100, None), (99.9, "warning"), (45, "warning"), (44.9, "fault"), (-20, "fault")]
)
def test_the_lowest_board_over_a_sump_is_judged(over, severity):
    found = judged(board(over + 30, name="a"), board(over, name="b"), board(over + 40, name="c"))
    assert [one.severity for one in found] == ([severity] if severity else [])
    for one in found:
        assert (one.parts, one.limit) == (("sump", "b"), 0.1)
        assert one.measured == pytest.approx(over / 1000)
        assert one.at == pytest.approx((0.2, 0.15, 0.19))
        how = f"leaves {over:g} mm over" if over > 0 else f"is {-over:g} mm below"
        assert one.message.startswith(f"b {how} the rim of sump: ")


@pytest.mark.parametrize(
    "beside",
    [
        {"low": (400, 100), "high": (500, 200)},
        {"low": (-100, 100), "high": (0, 200)},
        {"low": (100, 300), "high": (200, 400)},
        {"low": (100, -100), "high": (200, 0)},
        {"group": "equipment"},
    ],
)
def test_what_lies_beside_it_or_can_be_taken_away_is_let_be(beside):
    assert judged(board(10, **beside)) == []


@pytest.mark.parametrize(("over", "count"), [(-89, 1), (-90, 0)])
def test_what_lies_below_the_middle_of_its_height_is_none_over_it(over, count):
    """Its lower face at 101 mm or 100."""
    assert len(judged(board(over))) == count
    assert judged() == []
