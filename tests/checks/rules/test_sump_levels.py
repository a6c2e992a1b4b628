"""Levels of a sump beside each other."""

from types import SimpleNamespace

import pytest
from made_outages import made_model, made_room

from layout3d.checks.rules import sump_levels as module

RULE = "sump-levels"


@pytest.mark.parametrize(
    ("level", "severity", "measured"),
    [
        (200, None, None),
        (200.1, "fault", 0.0001),
        (250, "fault", 0.05),
    ],
)
def test_either_side_of_each_limit(faulty, level, severity, measured):
    """No higher than the compartment before."""
    found = faulty(RULE, level=level)
    if severity is None:
        assert found == ()
    else:
        (finding,) = found
        assert finding.severity == severity
        assert finding.measured == pytest.approx(measured, abs=1e-6)


SUMP = "sump: {SUMP, at: [0, 0, -500], inside: [450, 300, 300], compartments: [\
{name: a, length: 100, level: 200, baffle: {height: 250, gap: 50}}, {name: b, level: LEVEL}]}"


@pytest.mark.parametrize(("level", "count"), [(200, 0), (202, 0), (202.1, 1), (198, 0), (197.9, 1)])
def test_under_a_baffle_both_sides_are_level(check, level, count):
    found = check(RULE, SUMP.replace("LEVEL", str(level)))
    assert [f.severity for f in found] == ["fault"] * count


def judged(*levels, gaps=(0.0, 0.0, 0.0), flow=None):
    """Run the rule over compartments of 100 mm each in a row, their floor at -500 mm, baffles of 150."""
    compartments = [
        made_room(
            (0.1 * number, 0.0, -0.5),
            (0.1 * number + 0.1, 0.3, -0.2),
            name="abc"[number],
            level=level,
            baffle_gap=gaps[number],
            baffle_height=0.15,
            water_z=-0.5 + level,
        )
        for number, level in enumerate(levels)
    ]
    model = made_model(sump_level_step=0.002, baffle_to_rim=0.02)
    model.sumps = (
        SimpleNamespace(
            part=SimpleNamespace(name="sump"), data=SimpleNamespace(compartments=tuple(compartments))
        ),
    )
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(module, "circuit", lambda model: flow)
        return list(module.sump_levels.find(model))


def test_each_pair_is_judged_and_told_in_full():
    """The second stands 10 mm over the first, the third 20 over the second."""
    first, second = judged(0.15, 0.16, 0.18)
    assert (first.parts, second.parts) == (("sump.a", "sump.b"), ("sump.b", "sump.c"))
    assert (first.measured, first.limit, second.measured) == (pytest.approx(0.01), 0.0, pytest.approx(0.02))
    assert first.at == pytest.approx((0.15, 0.15, -0.34))
    assert first.message == "sump.b stands 10 mm higher than sump.a, which fills it"
    assert first.remedy == "set `level:` of b to 150 mm or less"
    assert judged(0.15, 0.15, 0.10) == []


@pytest.mark.parametrize("rise", [0.01, -0.01])
def test_under_a_baffle_either_way_is_told(rise):
    (one,) = judged(0.15, 0.15 + rise, gaps=(0.05, 0.0))
    assert (one.severity, one.measured, one.limit) == ("fault", pytest.approx(0.01), 0.002)
    assert one.message.startswith(
        "sump.a and sump.b differ by 10 mm, yet the baffle between them is open below"
    )
    assert one.remedy == "set `level:` of b to 150 mm, as in a"


OVER = "sump: {SUMP, at: [0, 0, -500], inside: [450, 300, 300], compartments: [\
{name: a, length: 100, level: LEVEL, baffle: {height: HIGH}}, {name: b, level: 150}]}"


@pytest.mark.parametrize(
    ("level", "high", "count"),
    [(222, 200, 0), (222.1, 200, 1), (290, 200, 1), (172, 100, 0), (172.1, 100, 1)],
)
def test_water_stands_no_higher_over_a_baffle_than_the_flow_lifts_it(check, level, high, count):
    """With no flow figured by 20 mm (limit baffle_to_rim), over a drowned baffle over the water behind it."""
    found = check(RULE, OVER.replace("LEVEL", str(level)).replace("HIGH", str(high)))
    assert [(f.severity, f.parts) for f in found] == [("fault", ("sump.a",))] * count


def test_the_flow_is_that_of_the_pump_where_it_is_known():
    """It stands 8 mm over the baffle at the high figure of the flow, and 2 mm more are let be."""
    head = SimpleNamespace(head=SimpleNamespace(high=0.008))
    flow = SimpleNamespace(flow=1e-4, sump=SimpleNamespace(name="sump"), compartments=(head, head))
    assert judged(0.1595, 0.1, flow=flow) == []
    (one,) = judged(0.165, 0.1, flow=flow)
    assert (one.measured, one.limit) == (0.165, pytest.approx(0.160))
    assert one.remedy == "set `level:` of a to 158 mm or less, or leave it out"
