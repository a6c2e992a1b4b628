"""A clogged sock against the water over the return pump's inlet."""

import pytest

RULE = "pump-dry"


@pytest.mark.parametrize(
    ("length", "severity", "cover"),
    [(220, None, None), (230, "warning", 0.0056), (250, "fault", -0.0044), (300, "fault", -0.0293)],
)
def test_either_side_of_the_inlet(faulty, length, severity, cover):
    """97.4 mm of rise over a sock of 224 mm by its length, out of a chamber of 174 by 300 mm."""
    found = [one for one in faulty(RULE, length=length) if "sock" in one.parts]
    if severity is None:
        assert found == []
    else:
        (finding,) = found
        assert (finding.severity, finding.parts) == (severity, ("pump", "sock"))
        assert finding.measured == pytest.approx(cover, abs=1e-3)
        assert finding.limit == 0.010


def test_without_a_sock_nothing_is_told(check):
    assert check(RULE) == ()


LOWER = ("waterline: 415}", "waterline: 375}")
SPARE = """
  spare: {kind: run, pipe: d40 pn 10, start: second.inside,
    route: [{front: 140}, {up: waterline - UNDER}, open]}
  spare_down: {kind: run, pipe: d40 pn 10, start: second.outside,
    route: [{back: 60}, {down: 300}, {front: 350}, {down: 250}, open],
    supports: [{at: [500], against: stand.top}]}
""".strip("\n")
HOLE = ("      supply:", "      second: {panel: back, left: 480, bottom: 100, bulkhead: d40}\n      supply:")


def dry(findings):
    return [(one.severity, one.parts) for one in findings if one.rule == RULE]


def test_a_pump_that_runs_dry_behind_the_only_drain_is_told(faulty_text):
    """Of 51 mm of rise 75 have room: the pump draws air first, which is a note unless it stops by itself."""
    (found,) = [one for one in faulty_text("drain-blocked", LOWER) if one.rule == RULE]
    assert (found.severity, found.parts, found.measured) == ("note", ("pump",), pytest.approx(0.0, abs=1e-9))
    assert found.message.startswith("with the drain 'overflow' blocked pump brings up")
    stops = ("kind: pump, ", "kind: pump, stops_dry: true, ")
    assert dry(faulty_text("drain-blocked", LOWER, stops)) == []
    # where the tank runs over before, the rule drain-blocked tells it
    assert dry(faulty_text("drain-blocked")) == []


@pytest.mark.parametrize(("under", "severity"), [(110, "note"), (50, "warning")])
def test_a_pump_that_runs_dry_before_the_second_drain_begins_is_a_warning(faulty_text, under, severity):
    """The strainer's slots begin 19 mm under the water; the spare rim stands 10 mm over, or 70."""
    spare = ("  nozzle:", f"{SPARE.replace('UNDER', str(under))}\n  nozzle:")
    assert dry(faulty_text("drain-blocked", LOWER, HOLE, spare)) == [(severity, ("pump",))]
