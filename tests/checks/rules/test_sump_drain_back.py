"""What runs back in a power cut against the room in the sump."""

import pytest

RULE = "sump-drain-back"


@pytest.mark.parametrize(
    ("level", "severity"), [(290, None), (305, "warning"), (312, "warning"), (318, "fault"), (325, "fault")]
)
def test_either_side_of_the_room(faulty, level, severity):
    found = faulty(RULE, level=level)
    if severity is None:
        assert found == ()
    else:
        (finding,) = found
        assert (finding.severity, finding.parts) == (severity, ("sump",))
        assert finding.measured > finding.limit > 0


def test_the_mark_that_would_do_is_told(faulty):
    (finding,) = faulty(RULE, level=312)
    assert finding.remedy.startswith("fill the return chamber to ")
    assert "end up on the floor" in finding.message


def test_a_spill_only_if_the_check_valve_fails_is_a_warning(faulty_text):
    valve = ("up: 400,", "up: 200, check_valve, up: 200,")
    deep = ("mouth: 130}", "mouth: 80}")
    held = [f for f in faulty_text("siphon", valve, deep) if f.rule == RULE]
    (finding,) = held
    assert finding.severity == "warning"
    assert "if check valves fail" in finding.message
