"""A blocked drain against the room in the tank."""

import pytest

RULE = "drain-blocked"


@pytest.mark.parametrize(
    ("waterline", "severity"), [(375, None), (380, "warning"), (400, "warning"), (405, "fault")]
)
def test_either_side_of_the_room(faulty, waterline, severity):
    """Some 16.5 L come up; over 0.32 m² that is 51 mm of the 450 mm, and 25 mm are to be left (freeboard)."""
    found = faulty(RULE, waterline=waterline)
    if severity is None:
        assert found == ()
    else:
        (finding,) = found
        assert (finding.severity, finding.parts) == (severity, ("standpipe", "down"))
        assert finding.unit == ("m³" if severity == "fault" else "m")


def test_what_spills_is_told(faulty):
    """152 mm of chamber, 344 by 300 mm less the pump, and 0.6 L besides: 16.1 L into 36 mm of 0.32 m²."""
    (finding,) = faulty(RULE)
    assert finding.measured - finding.limit == pytest.approx(0.0046, abs=4e-4)
    assert "run over the rim of tank" in finding.message


def test_a_second_drain_takes_the_flow(faulty_text):
    second = """
  spare: {kind: run, pipe: d40 pn 10, start: second.inside,
    route: [{front: 140}, {up: waterline - 110}, open]}
  spare_down: {kind: run, pipe: d40 pn 10, start: second.outside,
    route: [{back: 60}, {down: 300}, {front: 350}, {down: 250}, open],
    supports: [{at: [500], against: stand.top}]}
"""
    hole = (
        "      supply:",
        "      second: {panel: back, left: 480, bottom: 100, bulkhead: d40}\n      supply:",
    )
    found = [
        f
        for f in faulty_text(RULE, hole, ("  nozzle:", f"{second.strip(chr(10))}\n  nozzle:"))
        if f.rule == RULE
    ]
    (finding,) = found
    assert finding.severity == "note"
    assert finding.message.startswith("with all drains blocked at once")
