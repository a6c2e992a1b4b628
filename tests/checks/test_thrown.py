"""Where water flies: against the closed form of a throw, and against what stands in its way."""

import math

import pytest

from layout3d.checks.thrown import Jet, falls_on, jets, leaves_tank
from layout3d.flow.running import running

GRAVITY = 9.80665  # ISO 80000-3, standard acceleration of free fall, [m/s²]


def jet(*, start=(0.3, 0.2, 0.4), speed=1.0, angle=45.0, back=False):
    """Return a jet that leaves towards the front, or the back, ``angle`` over the level."""
    along, up = (speed * turn(math.radians(angle)) for turn in (math.cos, math.sin))
    return Jet(
        part="bar",
        body="bar.pipe_1",
        words="",
        of=1,
        start=start,
        velocity=(0.0, along if back else -along, up),
    )


@pytest.mark.parametrize("angle", [20, 45, 70])
def test_a_throw_by_closed_form(angle):
    """Range v² sin 2a / g and height (v sin a)² / 2 g on the level (any textbook of mechanics)."""
    path, turn = jet(speed=2.0, angle=angle).path(0.4), math.radians(angle)
    assert 0.2 - path[-1, 1] == pytest.approx(4.0 * math.sin(2 * turn) / GRAVITY)
    assert path[:, 2].max() - 0.4 == pytest.approx((2.0 * math.sin(turn)) ** 2 / (2 * GRAVITY), rel=1e-2)
    assert not len(jet(speed=0.0).path(0.5))


def test_what_lands_before_the_glass_stays_in_the_tank(model_of):
    """At 45° from the rim's height, 200 mm before the front glass of 10 mm: v² / g is 0.2 m at 1.40 m/s."""
    model = model_of("")
    reach = math.sqrt(0.2 * GRAVITY)
    assert [leaves_tank(model, jet(speed=share * reach)) for share in (0.99, 1.03)] == [False, True]
    # 100 mm under the rim, 60 mm before the glass: it hits the pane unless it rises over the rim on its way
    low = (0.3, 0.06, 0.3)
    assert not leaves_tank(model, jet(start=low, speed=8.0))
    assert leaves_tank(model, jet(start=low, speed=8.0, angle=70))
    assert not leaves_tank(model, jet(start=(0.3, -0.1, 0.4), speed=8.0))  # it is outside already


def test_what_stands_in_its_way_stops_it(model_of):
    """A slab on its edge 100 mm before the front glass, up to 200 mm over the rim."""
    slab = "slab: {kind: rock, form: slab, size: [600, 40, 600], at: {left: 300, front: 100, bottom: 0}}"
    assert not leaves_tank(model_of(slab), jet(speed=2.0))
    assert leaves_tank(model_of(slab), jet(speed=2.0, back=True))


def test_a_drop_falls_straight_down_on_what_is_under_it(model_of):
    lamp = (
        "lamp: {kind: light, size: [100, 100, 20], at: {left: LEFT, front: 200, bottom: 250}, fixed_to: room}"
    )
    shelf = (
        "\nshelf: {kind: rock, form: slab, size: [300, 200, 30], at: {left: 300, front: 200, bottom: 330}}"
    )
    for left, more, hit in ((300, "", True), (360, "", False), (300, shelf, False)):
        model = model_of(lamp.replace("LEFT", str(left)) + more)
        bodies = model.bodies_of("lamp")
        assert (falls_on(model, jet(speed=0.0), bodies) is not None) is hit


def test_jets_of_a_scene_have_the_speed_of_their_head(model_of):
    """Torricelli: sqrt(2 g h) of the static head over each hole; the nozzle's is its flow over its bore."""
    bar = """
pump: {kind: pump, model: small 1000, outlet: d20 pn 16, at: {left: 100, front: 200, bottom: 0}}
bar: {PIPE, start: pump.outlet, route: [{up: 300}, {right: 300, drip: {diameter: 3, pitch: 100}}, nozzle]}
"""
    model = model_of(bar)
    *holes, nozzle = sorted(jets(model), key=lambda one: one.words == "the end of bar")
    assert len(holes) == holes[0].of > 1
    assert nozzle.velocity[0] == pytest.approx(nozzle.speed)
    (run,) = running(model).bars
    heads = [hole.head for hole in run.holes]
    assert [one.speed**2 / (2 * GRAVITY) for one in holes] == pytest.approx(heads, rel=1e-3)
    assert all(one.velocity[2] == pytest.approx(-one.speed) for one in holes)
