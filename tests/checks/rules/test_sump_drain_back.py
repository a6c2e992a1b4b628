"""What runs back in a power cut against the room in the sump."""

from types import SimpleNamespace

import pytest
from made_outages import made_event, made_model, made_outages

from layout3d.checks.rules import sump_drain_back as module

RULE = "sump-drain-back"


@pytest.mark.parametrize(("level", "severity"), [(290, None), (312, "warning"), (325, "fault")])
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
    (finding,) = faulty_text(RULE, valve, deep, scene="siphon")
    assert finding.severity == "warning"
    assert "if check valves fail" in finding.message


def found(monkeypatch, outages):
    monkeypatch.setattr(module, "outages", lambda model: outages)
    return list(module.sump_drain_back.find(made_model()))


def test_the_likely_spill_is_a_fault_with_its_likely_figures(monkeypatch):
    """16 L run back, 2 of them past the rim: there was room for 14."""
    cut = made_event(
        moves=(0.016, 0.016, 0.018),
        floor=(0.0, 0.002, 0.005),
        tank=(0.281, 0.282, 0.283),
        rules=("", "a", "b"),
    )
    (one,) = found(monkeypatch, made_outages(power_cut=cut, failed=(made_event(floor=(0.0, 0.0, 0.1)),)))
    assert (one.severity, one.parts, one.unit) == ("fault", ("sump",), "m³")
    assert (one.measured, one.limit) == pytest.approx((0.016, 0.014))
    assert one.at == pytest.approx((0.6, 0.25, -0.2))  # over the middle of the return chamber, at its rim
    assert one.message == (
        "in a power cut 16 L run back into sump, the tank down to 281 mm by a, which has room for 14 L: 2 L "
        "end up on the floor"
    )
    assert one.remedy == ("fill the return chamber to 100 mm to 180 mm over its floor with the pumps running")


def test_a_spill_at_the_high_figure_alone_is_a_warning_with_its_high_figures(monkeypatch):
    cut = made_event(
        moves=(0.016, 0.016, 0.016),
        floor=(0.0, 0.0, 0.004),
        rules=("c", "a", "b"),
        tank=(0.281, 0.281, 0.281),
    )
    careful = SimpleNamespace(running=(0.01, 0.02), line=None)
    (one,) = found(monkeypatch, made_outages(power_cut=cut, careful_mark=careful))
    assert (one.severity, one.measured, one.limit) == ("warning", 0.016, pytest.approx(0.012))
    assert "the tank down to 281 mm by b, which has room for 12 L: 4 L may" in one.message
    assert "to 100 mm to 180 mm over" in one.remedy  # not by the mark for failed valves


def test_of_safeguards_that_fail_the_worst_is_told_and_never_more_than_a_warning(monkeypatch):
    line = SimpleNamespace(remedies=("drain less", "drain less", "raise it"))
    careful = SimpleNamespace(running=None, line=line)
    events = [
        made_event(moves=(0.02,) * 3, floor=(0.0, spilled / 2, spilled), devices=name)
        for name, spilled in (("valves fail", 0.002), ("breaks fail", 0.008), ("both fail", 0.004))
    ]
    (one,) = found(monkeypatch, made_outages(failed=tuple(events), careful_mark=careful))
    assert (one.severity, one.measured, one.limit) == ("warning", 0.02, pytest.approx(0.012))
    assert one.message.startswith(
        "in a power cut up to 20 L run back into sump if breaks fail, which has room for 12 L: "
    )
    assert one.remedy == "drain less; raise it"
    line.remedies = ()
    (one,) = found(monkeypatch, made_outages(failed=tuple(events), careful_mark=careful))
    assert one.remedy == "make the sump larger"


def test_where_nothing_spills_or_a_drain_ends_beside_the_sump_it_says_nothing(monkeypatch):
    dry, wet = made_event(), made_event(floor=(0.0, 0.1, 0.2))
    assert found(monkeypatch, None) == []
    assert found(monkeypatch, made_outages(failed=(dry,))) == []
    assert found(monkeypatch, made_outages(power_cut=wet, beside=(wet,))) == []
