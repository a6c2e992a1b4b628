"""The return chamber as it runs down: the wall may stop dripping days before a pump draws air."""

from bisect import bisect_left
from types import SimpleNamespace

import pytest
from made_outages import band

from layout3d.flow.running import dripping
from layout3d.outage import run_down as module
from layout3d.outage.outages import outages

BAR = "{front: 80 mm}, {right: 500 mm, drip: {diameter: 3 mm, pitch: 40 mm, margin: 40 mm}}, cap"


def test_a_strong_pump_draws_air_first(sump_scene):
    found = outages(sump_scene(feed=BAR))
    assert found.run_down.first == ""
    assert found.mark.line.lowest_event == "evaporation until pump draws air"
    # stopped, the sump stands higher than it runs, by what runs back
    mark = found.mark
    assert mark.mark < mark.mark_stopped <= 0.4
    assert mark.running[0] < mark.stopped[0] < mark.stopped[1] <= 0.4


def test_holes_stop_first_where_the_pump_hardly_lifts_to_them(sump_scene):
    """Just above the level all holes run, just below it one has stopped; that sets the mark's low end."""

    def drips(share, level):
        return sum(dripping(sump_scene(feed=BAR, speed=f"{share} %"), level).values())

    speed = bisect_left(range(91), 1, lo=31, key=lambda share: drips(share, {"sump.chamber": -0.634})) - 1
    assert drips(speed, {})
    model = sump_scene(feed=BAR, speed=f"{speed} %")
    found = outages(model)
    down, mark = found.run_down, found.mark
    assert down.first.startswith("drip holes of feed.")
    assert down.first_days.likely < down.days.likely
    assert mark.line.lowest_event == f"evaporation until {down.first}"
    loss = down.loss.likely * 86400 * down.first_days.likely / 997.3
    chamber = found.circuit.sump.chamber
    fails = chamber.level(chamber.volume(found.circuit.chamber_level) - loss)
    whole = sum(dripping(model, {}).values())
    assert sum(dripping(model, {"sump.chamber": fails + 2e-3}).values()) == whole
    assert sum(dripping(model, {"sump.chamber": fails - 2e-3}).values()) < whole


@pytest.mark.parametrize(
    ("kind", "turn", "fails"),
    [
        ("heater, length: 150 mm", "0", True),
        ("heater, length: 150 mm", "{tip_right: 90 deg}", False),
        ("mist_maker, height: 130 mm", "0", True),
    ],
)
def test_a_heater_stands_dry_before_a_pump_draws_air(sump_scene, kind, turn, fails):
    """What evaporates of all the water is missing in the return chamber: it falls below an upright heater."""
    at = "{in: sump.chamber, left: 40 mm, front: 40 mm, bottom: 20 mm}"
    found = outages(sump_scene(more=f"rod: {{kind: {kind}, turn: {turn}, at: {at}}}\n"))
    event = found.mark.line.lowest_event
    assert event == f"evaporation until {'rod stands out of the water' if fails else 'pump draws air'}"
    assert found.run_down.first == fails * "rod stands out of the water"
    if fails:
        sooner, later = found.run_down.first_days.likely, found.run_down.days.likely
        kept = found.circuit.sump.chamber.volume(found.circuit.sump.floor + (0.17 if "150" in kind else 0.15))
        assert later / sooner == pytest.approx(
            found.circuit.stock / (found.circuit.chamber_volume - kept), rel=0.05
        )


def chamber_by_hand(monkeypatch, *rates):
    """A chamber of 0.08 m² with 12 L over its pump; a rate of loss for each setting of the area, [kg/s]."""
    from layout3d.water.level_table import LevelTable

    given = iter(rates)
    monkeypatch.setattr(module, "evaporation", lambda area, **_: next(given))
    monkeypatch.setattr(module, "evaporating_area", lambda model, found: band(1.0, 1.0, 1.0))
    monkeypatch.setattr(module, "water_of", lambda model: SimpleNamespace(density=1000.0))
    chamber = LevelTable(levels=(0.0, 0.4), volumes=(0.0, 0.032), name="chamber")
    conditions = SimpleNamespace(
        water_temperature=298.15, air_temperature=298.15, humidity=0.5, air_speed=0.1
    )
    found = SimpleNamespace(
        stock=0.012, sump=SimpleNamespace(chamber=chamber), chamber_level=0.2, draws_air=0.05
    )
    first = SimpleNamespace(level=0.04, words="the pump draws air")
    return module.chamber_run_down(
        SimpleNamespace(scene=SimpleNamespace(conditions=conditions)), found, first
    )


def test_days_and_daily_loss_by_hand(monkeypatch):
    """2, 3 and 4 kg a day of 12 kg: 6, 4 and 3 days; 3 L a day."""
    rates = [band(kilograms / 86400, kilograms / 86400, kilograms / 86400) for kilograms in (2, 3, 4)]
    down = chamber_by_hand(monkeypatch, *rates)
    assert (down.days.low, down.days.likely, down.days.high) == pytest.approx((3.0, 4.0, 6.0), rel=1e-9)
    assert down.daily.likely == pytest.approx(0.003, rel=1e-9)
    assert (down.first, down.first_days) == ("", None)


def test_where_it_may_be_that_nothing_evaporates_no_days_are_told(monkeypatch):
    down = chamber_by_hand(monkeypatch, *[band(0.0, 1e-5, 2e-5)] * 3)
    assert (down.days, down.why_not) == (None, "nothing evaporates in this air")
