"""Clips that find nothing to hold on to are told, and the rest of the scene is built and checked."""

import pytest

from layout3d.checks.rules.support_fixed import support_fixed
from layout3d.fittings.supports import clip_stand
from layout3d.model.build import build_model
from layout3d.scene.reader import read_scene

SCENE = """
format: 1
units: mm
waterline: 100
parts:
  tank: {{kind: tank, inside: [1200, 600, 600], glass: 12}}
  bar:
    kind: run
    pipe: d20 pn 16
    start: {start}
    route: [{{right: 200}}, cap]
    supports: [{supports}]
"""


def found(start, supports):
    model = build_model(read_scene("scene.yaml", text=SCENE.format(start=start, supports=supports)))
    return model, list(support_fixed.find(model))


@pytest.mark.parametrize(
    ("start", "against", "says"),
    [
        ([600, 300, 500], "bottom", "500 mm from tank.bottom, 100 mm over"),
        ([600, 590, 300], "back", "10 mm from tank.back"),
        ([1300, 300, 900], "", "nothing of the tank stands square beside it"),
    ],
)
def test_a_clip_without_a_hold_is_a_fault_and_the_run_is_built(start, against, says):
    support = "{at: [50]" + (f", against: {against}" if against else "") + "}"
    model, faults = found(start, support)
    (fault,) = faults
    assert fault.severity == "fault"
    assert says in fault.message
    assert "supports[1].at[1]" in fault.remedy
    assert not [body for body in model.bodies if body.kind == "clip"]
    assert [body for body in model.bodies if body.kind == "pipe"]


def test_a_clip_under_the_tank_is_screwed_to_the_board_above_it():
    text = SCENE.format(start=[300, 300, -150], supports="{at: [50]}")
    model = build_model(read_scene("scene.yaml", text=text + "  stand: {kind: stand, height: 700}\n"))
    assert not list(support_fixed.find(model))
    (clip,) = (body for body in model.bodies if body.kind == "clip")
    top = next(body for body in model.bodies if body.name == "stand.top")
    assert clip.solid.bounds[1, 2] == pytest.approx(top.solid.bounds[0, 2])
    (join,) = (j for j in model.joins if clip.name in (j.a, j.b) and "stand.top" in (j.a, j.b))
    assert join.how == "held"


def test_one_bad_clip_leaves_the_good_ones():
    model, faults = found([100, 560, 300], "{at: [50], against: back}, {at: [100], against: front}")
    assert len(faults) == 1
    assert len(model.built["bar"].data.supports) == 1


@pytest.mark.parametrize(("more", "count"), [(-0.1, 0), (0.1, 1)])
def test_just_either_side_of_what_a_clip_reaches(more, count):
    """It reaches 400 mm from the middle of the pipe."""
    _, faults = found([100, 300, 400 + more], "{at: [50], against: bottom}")
    assert len(faults) == count
    _, faults = found([100, 300, clip_stand(0.020) * 1000 - more], "{at: [50], against: bottom}")
    assert len(faults) == count
