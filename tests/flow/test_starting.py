"""Water has to get over every top of its pipe before a siphon can help."""

import pytest

from layout3d.flow.running import running

OVER = """
pump:
  {{kind: pump, model: small 1000, speed: {speed}, outlet: d20 pn 16, at: {{left: 150, back: 90, bottom: 0}}}}
line:
  kind: run
  pipe: d20 pn 16
  start: pump.outlet
  route: [{{up: 300}}, {{right: 200}}, {down}open]
"""


def over(scene, speed, down="{down: 250}, "):
    return running(scene(OVER.format(speed=speed, down=down)))


def test_either_side_of_the_top_of_a_pipe_that_goes_down_again(scene):
    """The pump is 80 mm high and its socket stands 20 mm over it: the top lies at 400 mm, 200 mm over the
    water. The rated shut-off head is 1.60 m: by affinity the water gets there at sqrt(0.2/1.6) = 35.4 % of
    its speed. The mouth at 150 mm is under water: a full pipe would run at any speed.
    """
    (failure,) = over(scene, "35.3 %").failures()
    assert failure.kind == "no flow"
    assert failure.measured == pytest.approx(0.2 + 1.6 * 0.353**2)
    assert failure.limit == pytest.approx(0.400)
    assert "its pipe has a top at 0.4 m" in failure.message
    found = over(scene, "35.5 %")
    assert tuple(found.failures()) == ()
    assert found.pumps[0].flow.likely > 0.0


def test_once_over_the_top_it_runs_as_a_siphon_and_says_so(scene):
    (system,) = over(scene, "40 %").systems
    deepest = max(system.siphons, key=lambda point: point.draw)
    assert deepest.draw > 0.1
    (level,) = over(scene, "40 %", down="").systems
    assert level.siphons == ()


def test_a_branch_behind_a_top_gets_nothing_while_a_lower_one_runs(scene):
    """The mouth of the upper way lies under water, lower than the other; but it has first to climb."""
    parts = """
pump:
  {kind: pump, model: small 600, speed: 62 %, outlet: d20 pn 16, at: {left: 150, back: 90, bottom: 0}}
line:
  kind: run
  pipe: d20 pn 16
  start: pump.outlet
  route: [{up: 150}, {tee: right, name: split}, {up: 280}, {front: 150}, {down: 350}, open]
low:
  kind: run
  pipe: d20 pn 16
  start: line.split
  route: [{right: 100}, open]
"""
    (system,) = running(scene(parts)).systems
    outs = {out.part: out for out in system.outs}
    assert outs["low"].flow.likely > 0.0
    assert outs["line"].flow.likely == 0.0
    crest = outs["line"].crest
    assert crest is not None
    assert crest.level < crest.height == pytest.approx(0.065 + 0.020 + 0.150 + 0.280, abs=1e-6)


def test_a_bar_behind_a_top_is_dry(bar_scene):
    """Its holes lie 160 mm under the tee: a full pipe would feed them at 35 % speed, but it does not fill."""
    found = running(bar_scene(speed="30 %", opening="0"))
    (failure,) = found.failures()
    assert failure.kind == "no flow"
    assert failure.limit > failure.measured
