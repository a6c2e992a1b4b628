"""An overflow box in the tank: its own water comes down to its drain's mouth, the tank's to the weir."""

from pathlib import Path

import pytest

from layout3d.model.build import build_model
from layout3d.outage.outages import outages, water_levels
from layout3d.scene.reader import read_scene

WEIR = Path(__file__).parents[2] / "scenes" / "weir.yaml"


@pytest.fixture(scope="module")
def model():
    return build_model(read_scene(WEIR))


@pytest.fixture(scope="module")
def found(model):
    return outages(model)


def test_a_power_cut_leaves_the_tank_at_the_weir_and_the_box_at_its_standpipe(model, found):
    """By hand: the slab of water over the crest, the box's between its level and the lower standpipe."""
    circuit, cut = found.circuit, found.power_cut
    (box,) = circuit.boxes
    data = model.overflow_boxes[0].data
    assert cut.tank_levels[1] == pytest.approx(data.crest)
    lower = min(drain.mouth_crest for drain in circuit.drains)
    low, high = data.interior.bounds
    plan = (high[0] - low[0]) * (high[1] - low[1])
    came = before_less_after = cut.before.tank[1] - cut.after.tank[1]
    over_the_weir = circuit.tank.volume(circuit.level.likely) - circuit.tank.volume(data.crest)
    in_the_box = came - over_the_weir
    assert before_less_after > over_the_weir
    # standpipes take some of the plan
    assert 0.8 * plan * (box.level - lower) < in_the_box <= plan * (box.level - lower)
    assert cut.box_levels["box"][1] == pytest.approx(lower)


def test_a_hole_in_the_box_empties_the_box_and_the_tank_to_its_weir(model, found):
    (box,) = found.circuit.boxes
    data = model.overflow_boxes[0].data
    hole = next(iter(data.holes))
    event = next(one for one in found.holes if one.subject == hole)
    assert event.tank_levels[1] == pytest.approx(data.crest)
    assert event.rules[1] == "the weir of box"
    assert event.box_levels["box"] == (pytest.approx(data.floor, abs=1e-3),) * 3
    over = found.circuit.tank.volume(found.circuit.level.likely) - found.circuit.tank.volume(data.crest)
    assert event.before.tank[1] - event.after.tank[1] == pytest.approx(over + box.volume, rel=0.01)
    # what the pump brings up until it runs dry goes the same way
    assert event.floor.likely > over + box.volume + 0.9 * found.circuit.stock


def test_a_blocked_drain_first_fills_the_box(model, found):
    """By hand: the box rises from its level to the other standpipe's rim, or to the weir where none is."""
    circuit, data = found.circuit, model.overflow_boxes[0].data
    (box,) = circuit.boxes
    low, high = data.interior.bounds
    plan = (high[0] - low[0]) * (high[1] - low[1])
    lower, upper = sorted(circuit.drains, key=lambda drain: drain.mouth_crest)
    events = {event.subject: event for event in found.blocked}
    rise = upper.mouth_crest - max(box.level, lower.mouth_crest)
    taken = events[lower.name].moved.likely
    # standpipes take some of the plan
    assert 0.8 * plan * rise < taken <= plan * rise
    assert events[upper.name].moved.likely == pytest.approx(0.0, abs=1e-6)
    assert events[lower.name].chamber_levels[1] < events[upper.name].chamber_levels[1]
    both = events["all drains"]
    in_tank = circuit.tank.volume(both.tank_levels[1]) - circuit.tank.volume(circuit.level.likely)
    filled = both.moved.likely - in_tank
    assert 0.8 * plan * (data.crest - box.level) < filled <= plan * (data.crest - box.level)
    ends = [events[name].box_levels["box"][1] for name in (lower.name, upper.name, "all drains")]
    assert ends == pytest.approx([upper.mouth_crest, box.level, data.crest])
    assert box.level > lower.mouth_crest
    # what was over the lowest inlet of the chamber is in tank and box then; behind its baffle nothing moves
    inlet, chamber = model.sumps[0].data.compartments
    levels = water_levels(found, both, 1)
    assert levels == {
        "": both.tank_levels[1],
        "box": both.box_levels["box"][1],
        "sump.inlet": pytest.approx(inlet.water_z),
        "sump.return": both.chamber_levels[1],
    }
    assert levels["sump.return"] < chamber.water_z
