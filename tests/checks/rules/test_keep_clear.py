"""Space kept clear over equipment."""

import pytest

RULE = "keep-clear"


@pytest.mark.parametrize(
    ("over", "severity", "measured"),
    [
        (120, None, None),
        (119.8, "fault", 0.0002),
        (60, "fault", 0.03),
    ],
)
def test_either_side_of_each_limit(faulty, over, severity, measured):
    """A pump 65 mm high with 120 mm over it; the depth is at most as wide as the heater, 30 mm."""
    found = faulty(RULE, over=over)
    if severity is None:
        assert found == ()
    else:
        (finding,) = found
        assert finding.severity == severity
        assert finding.measured == pytest.approx(measured, abs=1e-5)


PUMP = "pump: {PUMP, outlet: OUT, clear: 120, at: {left: 60, front: 200, bottom: 0}, fixed_to: FIX}\n"


def test_the_run_on_the_outlet_is_let_off_and_others_are_not(check):
    pump = PUMP.replace("OUT", "12/16 mm").replace("FIX", "tank.left")
    own = "hose: {TUBE, start: pump.outlet, route: [{up: 250}, open]}"
    strange = own.replace("start: pump.outlet", "start: [70, 200, 120]")
    assert check(RULE, pump + own) == ()
    (finding,) = check(RULE, pump + strange)
    assert finding.parts == ("hose.tube_1", "pump")


def test_what_it_is_fixed_to_is_let_off_but_not_the_whole_of_that_part(check):
    """Fixed to the left pane, under a brace of the same tank: the brace is still in the way of a hand."""
    brace = "perimeter_brace: {width: 60, thickness: 10, below_top: 40}"
    tank = f"kind: tank, inside: [600, 400, 200], glass: 10, {brace}"
    pump = PUMP.replace("OUT", "12/16 mm").replace("FIX", "tank.left")
    (finding,) = check(RULE, pump, tank=tank)
    assert finding.parts == ("tank.perimeter_brace", "pump")


def test_sand_over_a_buried_pump_is_in_the_way(check):
    pump = PUMP.replace("OUT", "12/16 mm").replace("FIX", "tank.left")
    (finding,) = check(RULE, pump + "sand: {SAND, depth: 120, pitch: 100}")
    assert finding.parts == ("sand", "pump")


def test_leaves_give_way(check):
    pump = PUMP.replace("OUT", "12/16 mm").replace("FIX", "tank.left")
    fern = "fern: {FERN, at: [60, 200, 100], fixed_to: room}"
    assert check(RULE, pump + fern) == ()


@pytest.mark.parametrize(("part", "count"), [("TUBE", 0), ("PIPE", 1)])
def test_a_hose_that_pours_into_a_basket_is_let_off_and_a_stiff_pipe_is_not(check, part, count):
    sock = "sock: {kind: filter_basket, size: [100, 100, 100], at: [300, 200, 0]}\n"
    over = f"over: {{{part}, start: [300, 200, 350], route: [{{down: 200}}, open]}}"
    assert len(check(RULE, sock + over)) == count
