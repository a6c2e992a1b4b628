"""Parts within the glass."""

from types import SimpleNamespace

import numpy as np
import pytest
from made_bodies import made_body, with_bodies
from made_outages import made_model

from layout3d.checks.rules import outside as module

RULE = "outside"


@pytest.mark.parametrize(
    ("tall", "severity", "measured"),
    [
        (400, None, None),
        (400.05, None, None),
        (400.2, "fault", 0.0002),
        (450, "fault", 0.05),
    ],
)
def test_either_side_of_each_limit(faulty, tall, severity, measured):
    """The tank is 400 mm high; a tenth of a millimetre is let off."""
    found = faulty(RULE, tall=tall)
    if severity is None:
        assert found == ()
    else:
        (finding,) = found
        assert finding.severity == severity
        assert finding.measured == pytest.approx(measured, abs=1e-6)


BASKET = "one: {{kind: filter_basket, size: [100, 100, 100], at: [{x}, {y}, 0]}}"


@pytest.mark.parametrize(
    ("x", "y", "pane"),
    [(45, 200, "left"), (555, 200, "right"), (300, 45, "front"), (300, 355, "back")],
)
def test_each_wall_counts(check, x, y, pane):
    (finding,) = check(RULE, BASKET.format(x=x, y=y))
    assert finding.measured == pytest.approx(0.005)
    assert f"past the inside face of tank.{pane}" in finding.message


def test_the_floor_counts(check):
    (finding,) = check(RULE, "rod: {kind: heater, at: [300, 200, -5]}", waterline=350)
    assert "past the inside face of tank.bottom" in finding.message


def test_slanted_walls_count(check):
    """A basket's corner 20 mm over a wall at 45 degrees."""
    tank = "DIAMOND"
    middle = 150 + 50 - 20 / 2**0.5
    (finding,) = check(RULE, BASKET.format(x=middle, y=middle), tank=tank)
    assert finding.measured == pytest.approx(0.020)
    assert "tank.side_4" in finding.message


def test_pipework_may_leave_and_equipment_may_stand_over_the_rim(check):
    hose = "hose: {TUBE, start: [300, 100, 50], route: [{up: 600}, {back: 500}, open]}"
    rod = "rod: {kind: heater, length: 500, at: [300, 200, 50]}"
    assert check(RULE, f"{hose}\n{rod}") == ()


def judged(low, high, **more):
    """Run the rule over a box in a tank of 800 by 400 by 500 mm."""
    model = with_bodies(made_model(tank=(0.8, 0.4, 0.5)), made_body("stone", low, high, **more))
    model.tank.sides = ("left", "right", "front", "back")
    model.tank.room_beside = lambda points: np.column_stack(
        [points[:, 0], 0.8 - points[:, 0], points[:, 1], 0.4 - points[:, 1]]
    )
    model.tank.panels = {name: SimpleNamespace(body=f"tank.{name}") for name in (*model.tank.sides, "bottom")}
    return list(module.outside.find(model))


@pytest.mark.parametrize(
    ("low", "high", "pane", "past"),
    [
        ((-5, 100, 100), (50, 200, 200), "left", 5),
        ((700, 100, 100), (806, 200, 200), "right", 6),
        ((100, -7, 100), (200, 200, 200), "front", 7),
        ((100, 100, 100), (200, 408, 200), "back", 8),
        ((100, 100, -9), (200, 200, 200), "bottom", 9),
        ((-5, 100, 100), (50, 411, 200), "back", 11),  # the worst of two
        ((-0.09, 100, 100), (50, 200, 200), None, 0),
        ((-0.11, 100, 100), (50, 200, 200), "left", 0.11),
    ],
)
def test_how_far_a_body_reaches_past_which_pane(low, high, pane, past):
    found = judged(low, high)
    assert [one.parts for one in found] == ([("stone", f"tank.{pane}")] if pane else [])
    for one in found:
        assert (one.measured, one.limit) == (pytest.approx(past / 1000), 0.0)
        assert one.message == f"stone reaches {past:g} mm past the inside face of tank.{pane}"
        assert one.remedy.startswith(f"move stone {past:g} mm or more")
        x, y, z = one.at
        reach = {"left": -x, "right": x - 0.8, "front": -y, "back": y - 0.4, "bottom": -z}
        assert reach[pane] == pytest.approx(past / 1000)


@pytest.mark.parametrize(("top", "count"), [(500.09, 0), (500.11, 1), (512, 1)])
def test_how_far_a_stone_stands_above_the_rim(top, count):
    found = judged((100, 100, 100), (200, 200, top))
    assert len(found) == count
    for one in found:
        assert (one.parts, one.measured) == (("stone",), pytest.approx(top / 1000 - 0.5))
        assert one.message.endswith(" above the glass's top edge")
        assert one.at[2] == pytest.approx(top / 1000)


@pytest.mark.parametrize("group", ["plant", "equipment"])
def test_what_may_stand_over_the_rim_may_stand_over_the_glass_there_too(group):
    """Up to the rim it may not."""
    assert judged((700, 100, 501), (900, 200, 600), group=group) == []
    (one,) = judged((700, 100, 400), (900, 200, 500), group=group)
    assert one.parts == ("stone", "tank.right")


@pytest.mark.parametrize(
    "more", [{"where": "room"}, {"group": "glass"}, {"group": "plumbing"}, {"part": "tank"}]
)
def test_what_is_not_in_the_tank_and_panes_and_pipework_may_leave_it(more):
    assert judged((-100, 100, 100), (50, 200, 600), **more) == []


def test_leaves_may_hang_over_the_glass():
    assert judged((-100, 100, 100), (50, 200, 600), group="plant", kind="foliage") == []
