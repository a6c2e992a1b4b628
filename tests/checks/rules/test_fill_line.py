"""The return chamber's level against the band that every failure leaves."""

from types import SimpleNamespace

import pytest
from made_outages import made_circuit, made_event, made_model, made_outages

from layout3d.checks.rules import fill_line as module

RULE = "fill-line"


@pytest.mark.parametrize(("level", "edge"), [(100, 0.1019), (102, None), (199, None), (205, 0.200)])
def test_either_side_of_the_band(faulty, level, edge):
    """Two days of evaporation below, the baffle of 200 mm above."""
    found = faulty(RULE, level=level)
    if edge is None:
        assert [f for f in found if f.rule == RULE] == []
    else:
        (finding,) = found
        assert finding.measured == pytest.approx(level / 1000)
        assert finding.limit == pytest.approx(edge, abs=5e-5)
        assert finding.severity == "fault"


def test_both_kinds_of_marks_are_in_the_remedy(faulty):
    (finding,) = faulty(RULE)
    assert "with the pumps running, which is" in finding.remedy
    assert "with all pumps stopped and drained back" in finding.remedy
    assert finding.parts == ("sump.return",)


def test_no_band_is_told_with_what_would_open_it(faulty_text):
    """A chamber half as long has not two days of evaporation below its baffle."""
    (finding,) = faulty_text(
        RULE, ("level: 90", "level: 120"), ("length: 250", "length: 460"), ("height: 200", "height: 130")
    )
    told = "no fill line holds in sump.return: evaporation until pump draws air asks for"
    assert finding.message.startswith(told)
    assert "evaporation until pump draws air: top up" in finding.remedy
    assert finding.measured < 0.0


@pytest.mark.parametrize(
    ("conditions", "why"),
    [("air_speed: 2 m/s", "speed of the air is 2 m/s"), ("air_temperature: -5 °C", "temperature is -5 °C")],
)
def test_a_loss_that_no_figure_is_known_for_is_a_fault(faulty_text, conditions, why):
    """In such a wind some 20 L go in a day, and nothing was told of a chamber of 11 L."""
    (finding,) = faulty_text(
        RULE, ("level: 90", "level: 150"), ("parts:", f"conditions: {{{conditions}}}\nparts:")
    )
    assert (finding.severity, finding.parts) == ("fault", ("sump.return",))
    assert "how long sump.return lasts without a top-up could not be judged" in finding.message
    assert why in finding.message


def test_it_says_nothing_where_another_rule_tells_the_spill(faulty_text):
    for name in ("sump-drain-back", "drain-blocked"):
        assert faulty_text(RULE, scene=name) == ()


def line(room=-0.003, remedies=("cover the sump", "top up")):
    return SimpleNamespace(
        remedies=remedies, room=room, lowest_event="evaporation", highest_event="power cut"
    )


def mark(*, running=(0.10, 0.18), miss=0.0, holds=True, devices="", **more):
    return SimpleNamespace(
        running=running,
        stopped=running and (0.15, 0.23),
        mark=0.15 + miss,
        miss=miss,
        holds=holds,
        devices=devices,
        line=line(**more),
    )


def judged(monkeypatch, *, overflows=False, **events):
    found = made_outages(made_circuit(overflows=overflows), **events)
    monkeypatch.setattr(module, "outages", lambda model: found)
    return list(module.fill_line.find(made_model()))


def test_no_band_is_a_fault_with_what_it_lacks(monkeypatch):
    (one,) = judged(monkeypatch, mark=mark(running=None, holds=False))
    assert (one.severity, one.parts, one.unit) == ("fault", ("sump.return",), "m³")
    assert (one.measured, one.limit) == (-0.003, 0.0)
    assert one.at == pytest.approx((0.6, 0.25, -0.35))  # the return chamber's middle at its level
    assert one.message == (
        "no fill line holds in sump.return: evaporation asks for 3 L more than power cut leaves"
    )
    assert one.remedy == "cover the sump; top up"
    (one,) = judged(monkeypatch, mark=mark(running=None, holds=False, remedies=()))
    assert one.remedy == "make the return chamber larger"


def test_no_band_with_safeguards_failed_is_a_warning(monkeypatch):
    careful = mark(running=None, holds=False, devices="check valves fail")
    (one,) = judged(monkeypatch, careful_mark=careful)
    assert one.severity == "warning"
    assert one.message.startswith("no fill line holds in sump.return if check valves fail: evaporation asks")
    # what then spills is told by the rule sump-drain-back; a band that the level misses is none of it
    spills = (made_event(), made_event(floor=(0.0, 0.0, 1e-4)))
    assert judged(monkeypatch, careful_mark=careful, failed=spills) == []
    assert judged(monkeypatch, careful_mark=mark(miss=0.01, holds=False)) == []


def test_a_level_outside_the_band_is_told_with_the_edge_that_it_misses(monkeypatch):
    (below,) = judged(monkeypatch, mark=mark(miss=-0.06, holds=False))
    (above,) = judged(monkeypatch, mark=mark(miss=0.04, holds=False))
    assert (below.measured, below.limit, above.measured, above.limit) == pytest.approx(
        (0.09, 0.10, 0.19, 0.18)
    )
    assert below.message == (
        "sump.return is filled to 90 mm over the sump's floor with the pumps running, 60 mm below the lowest "
        "mark that holds, set by: evaporation"
    )
    assert above.message.endswith("running, 40 mm above the highest mark that holds, set by: power cut")
    assert (
        below.remedy
        == above.remedy
        == (
            "fill it to 100 mm to 180 mm with the pumps running, which is 150 mm to 230 mm with all pumps "
            "stopped and drained back"
        )
    )
    assert below.at == pytest.approx((0.6, 0.25, -0.35))


def test_it_is_silent_where_a_spill_is_told_by_its_own_rule(monkeypatch):
    """A likely spill of the power cut, or of a drain blocked alone; all drains at once are none of these."""
    none, wet = mark(running=None, holds=False), made_event(floor=(0.0, 1e-4, 2e-4))
    narrow = made_event(floor=(0.0, 0.0, 1e-4))
    assert judged(monkeypatch, mark=none, power_cut=wet) == []
    assert judged(monkeypatch, mark=none, blocked=(made_event(), wet, made_event())) == []
    assert judged(monkeypatch, mark=none, blocked=(wet,)) == []
    assert judged(monkeypatch, mark=none, overflows=True) == []
    assert len(judged(monkeypatch, mark=none, blocked=(made_event(), wet))) == 1
    assert len(judged(monkeypatch, mark=none, power_cut=narrow)) == 1
