"""What the pumps bring against what the drains carry open."""

import pytest

RULE = "drain-capacity"


@pytest.mark.parametrize(
    ("speed", "severity"), [("65 %", None), ("75 %", "warning"), ("85 %", "warning"), ("90 %", "fault")]
)
def test_either_side_of_what_it_carries(faulty, speed, severity):
    """d25 PN 10 has a bore of 22.0 mm. Wyly and Eaton 1961 at 7/24: 27.8 x 0.1283 x 0.866^(8/3) gpm, 552 L/h.

    Half of the lower figure, at 1/4, is 213 L/h: below the 31 mm that they tried, low is halved.
    """
    found = faulty(RULE, speed=speed)
    if severity is None:
        assert found == ()
        return
    (finding,) = found
    assert finding.severity == severity
    assert finding.measured > finding.limit
    carried = 552 if severity == "fault" else 213
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


def test_what_can_not_be_figured_is_told_once(faulty_text):
    """No loss is known for a ball valve less than 28 % open."""
    told = faulty_text(RULE, ("{down: 300}", "{down: 120}, {ball_valve: 20 %}, {down: 180}"))
    assert [(f.rule, f.severity) for f in told if "could not be judged" in f.message] == [
        ("drain-capacity", "fault"),
        ("drain-uphill", "fault"),
    ]
