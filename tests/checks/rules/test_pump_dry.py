"""A clogged sock against the water over the return pump's inlet."""

from types import SimpleNamespace

import numpy as np
import pytest
from made_outages import made_circuit, made_drain, made_event, made_model, made_outages

from layout3d.checks.rules import pump_dry as module

RULE = "pump-dry"


@pytest.mark.parametrize(
    ("length", "severity", "cover"),
    [(220, None, None), (230, "warning", 0.0056), (250, "fault", -0.0044)],
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


def test_a_pump_that_runs_dry_behind_the_only_drain_is_told(faulty_text):
    """Of 51 mm of rise 75 have room: the pump draws air first, which is a note unless it stops by itself."""
    (found,) = faulty_text(RULE, LOWER, scene="drain-blocked")
    assert (found.severity, found.parts, found.measured) == ("note", ("pump",), pytest.approx(0.0, abs=1e-9))
    assert found.message.startswith("with the drain 'overflow' blocked pump brings up")
    stops = ("kind: pump, ", "kind: pump, stops_dry: true, ")
    assert faulty_text(RULE, LOWER, stops, scene="drain-blocked") == ()
    # where the tank runs over before, the rule drain-blocked tells it
    assert faulty_text(RULE, scene="drain-blocked") == ()


@pytest.mark.parametrize(("under", "severity"), [(110, "note"), (50, "warning")])
def test_a_pump_that_runs_dry_before_the_second_drain_begins_is_a_warning(faulty_text, under, severity):
    """The strainer's slots begin 19 mm under the water; the spare rim stands 10 mm over, or 70."""
    spare = ("  nozzle:", f"{SPARE.replace('UNDER', str(under))}\n  nozzle:")
    (found,) = faulty_text(RULE, LOWER, HOLE, spare, scene="drain-blocked")
    assert (found.severity, found.parts) == (severity, ("pump",))


LOWEST, HIGHEST = -0.45, -0.43  # inlets


def judged(monkeypatch, *, stops=(), chamber_level=-0.30, drains=2, **events):
    """Run the rule over two pumps whose inlets lie 50 and 70 mm over the sump's floor."""
    names = {"low": LOWEST, "high": HIGHEST}
    pumps = tuple(SimpleNamespace(name=name, inlet=(0.0, 0.0, z)) for name, z in names.items())
    body = SimpleNamespace(solid=SimpleNamespace(bounds=np.array([[0.5, 0.2, -0.5], [0.6, 0.4, -0.4]])))
    part = {name: SimpleNamespace(name=name, stops_dry=name in stops) for name in names}
    model = made_model(
        built={name: SimpleNamespace(bodies=[body]) for name in names},
        pumps=tuple(SimpleNamespace(part=one) for one in part.values()),
        water_cover=0.010,
    )
    circuit = made_circuit(
        pumps=pumps, chamber_level=chamber_level, drains=(made_drain("a"), made_drain("b"))[:drains]
    )
    found = made_outages(circuit, **events)
    monkeypatch.setattr(module, "outages", lambda model: found)
    return list(module.pump_dry.find(model))


def clogged(low):
    return made_event("sock", moves=(0.004, 0.006, 0.008), chamber=(low, low + 0.01, low + 0.02))


@pytest.mark.parametrize(
    ("cover", "severity"),
    [(0.010, None), (0.0099, "warning"), (1e-6, "warning"), (0.0, "fault"), (-0.001, "fault")],
)
def test_the_cover_of_the_highest_inlet_at_the_low_figure(monkeypatch, cover, severity):
    found = judged(monkeypatch, clogged=(clogged(HIGHEST + cover),))
    assert [one.severity for one in found] == ([severity] if severity else [])
    for one in found:
        assert (one.parts, one.limit) == (("high", "sock"), 0.010)
        assert one.measured == pytest.approx(cover, abs=1e-9)
        assert one.at == pytest.approx((0.55, 0.3, HIGHEST))


def test_what_a_sock_holds_back_is_told_in_full(monkeypatch):
    (one,) = judged(monkeypatch, clogged=(clogged(HIGHEST + 0.004),))
    assert one.message == (
        "sock, clogged, holds back 8 L and leaves 4 mm of water over the inlet of high (10 mm wanted, limit "
        "water_cover)"
    )
    assert one.remedy == (
        "fill the return chamber 6 mm higher, set the pump lower, or use a sock with less room over the water"
    )


def test_each_clogged_sock_is_judged(monkeypatch):
    events = (clogged(HIGHEST + 0.02), clogged(HIGHEST - 0.01), clogged(HIGHEST + 0.005))
    assert [one.severity for one in judged(monkeypatch, clogged=events)] == ["fault", "warning"]


@pytest.mark.parametrize(("level", "count"), [(HIGHEST, 0), (HIGHEST + 1e-4, 1)])
def test_an_inlet_out_of_the_water_from_the_start_is_none_of_it(monkeypatch, level, count):
    assert len(judged(monkeypatch, chamber_level=level, clogged=(clogged(HIGHEST - 0.01),))) == count


def blocked(subject, low, spilled=0.0):
    return made_event(
        subject,
        moves=(0.010, 0.012, 0.012),
        floor=(0.0, 0.0, spilled),
        chamber=(low, low, low),
        tank=(0.4, 0.41, 0.42),
    )


def test_each_pump_is_told_once_by_the_first_blocked_drain_that_dries_it(monkeypatch):
    """With a blocked only the higher pump draws air, with all blocked the lower does too."""
    events = (blocked("a", HIGHEST), blocked("b", HIGHEST - 0.005), blocked("all drains", LOWEST))
    first, second = judged(monkeypatch, blocked=events)
    assert (first.severity, first.parts, first.measured, first.limit) == ("warning", ("high",), 0.0, 0.0)
    assert (second.severity, second.parts, second.measured) == ("note", ("low",), 0.0)
    assert first.at == pytest.approx((0.55, 0.3, HIGHEST))
    assert first.message == (
        "with the drain 'a' blocked high brings up 12 L and then runs dry, with 80 mm left below the rim of "
        "tank: that damages a pump that does not stop by itself"
    )
    assert second.message.startswith("with all drains blocked low brings up 12 L ")
    own = "stop it by a float switch, or use one that stops by itself (`stops_dry: true`)"
    assert first.remedy == f"{own}, or fill the return chamber more"
    assert second.remedy == own


def test_none_is_told_that_stays_covered_or_stops_or_spills_first(monkeypatch):
    covered = (blocked("a", HIGHEST + 1e-4), blocked("all drains", HIGHEST + 1e-4))
    assert judged(monkeypatch, blocked=covered) == []
    dry = (blocked("a", HIGHEST - 0.001), blocked("all drains", LOWEST))
    assert [one.parts for one in judged(monkeypatch, blocked=dry, stops=("low",))] == [("high",)]
    # what the first blocked drain spills, its own rule tells; the second may still dry the pump
    spills = (blocked("a", HIGHEST, 1e-4), blocked("b", HIGHEST), blocked("all drains", HIGHEST, 1e-4))
    assert ["'b'" in one.message for one in judged(monkeypatch, blocked=spills)] == [True]
    assert judged(monkeypatch, blocked=dry, drains=0) == []
