"""What the pumps bring against what the drains carry open."""

import pytest

RULE = "drain-capacity"


@pytest.mark.parametrize(
    ("speed", "severity"), [("67 %", None), ("68 %", "warning"), ("71 %", "warning"), ("72 %", "fault")]
)
def test_either_side_of_what_it_carries(faulty, speed, severity):
    """The leg through the glass is level, 256 mm long, 21.2 mm at its narrowest, and ends over an upright.

    Gradually varied flow from critical depth there, integrated with scipy: half full at n 0.013 it carries
    92.9 L/h, three quarters full at n 0.010 236.9 L/h.
    """
    found = tuple(finding for finding in faulty(RULE, speed=speed) if finding.rule == RULE)
    if severity is None:
        assert found == ()
        return
    (finding,) = found
    assert finding.severity == severity
    assert finding.measured > finding.limit
    assert "the drain 'overflow'" in finding.message
    assert (" at most" in finding.message) == (severity == "warning")
    carried = 236.9 if severity == "fault" else 92.9
    assert finding.limit * 3.6e6 == pytest.approx(carried, rel=0.005)


RETURN = """
sump:
  {kind: sump, at: [50, 50, -500], inside: [400, 300, 300], compartments: [{name: chamber, level: 200}]}
pump:
  {kind: pump, model: medium 2000, outlet: d20 pn 16,
  at: {in: sump.chamber, left: 100, front: 150, bottom: 0}}
riser: {kind: run, pipe: d20 pn 16, start: pump.outlet, route: [{up: 950}, {right: 100}, open]}"""


def test_a_return_without_a_drain_is_a_fault(check):
    (finding,) = check(RULE, RETURN)
    assert (finding.severity, finding.parts, finding.limit) == ("fault", ("pump",), 0.0)
    assert finding.measured > 0
    assert "no drain leads back" in finding.message


def test_a_scene_without_pumps_says_nothing(check):
    sump = RETURN.partition("pump:")[0]
    assert check(RULE, sump) == ()
    assert check(RULE) == ()
