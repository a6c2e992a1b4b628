import pytest
from hypothesis import given
from hypothesis import strategies as st

from layout3d.errors import OutOfRange
from layout3d.outage.evaporation import (
    _density,
    evaporation,
    natatorium_rate,
    saturation_pressure,
    still_surface_rate,
)

DAY = 86400.0
AIRS = {"water": 25.0, "air": 22.0, "humidity": 0.5}
WARMTH, HUMIDITY = st.floats(10.0, 35.0), st.floats(0.0, 1.0)


@given(water=WARMTH, air=WARMTH, humidity=HUMIDITY, more=st.floats(0.0, 0.5))
def test_moister_air_never_takes_more(water, air, humidity, more):
    for rate in (natatorium_rate, still_surface_rate):
        assert rate(water, air, min(1.0, humidity + more)) <= rate(water, air, humidity) + 1e-15
        assert rate(water, air, humidity) >= 0.0


@given(water=WARMTH, air=WARMTH, humidity=HUMIDITY)
def test_the_band_rises_and_grows_with_the_area(water, air, humidity):
    one = evaporation(1.0, water=water, air=air, humidity=humidity)
    two = evaporation(2.0, water=water, air=air, humidity=humidity)
    assert two.likely == pytest.approx(2 * one.likely)
    assert 0.0 <= one.low <= one.likely <= one.high


def test_cold_water_under_moist_air_loses_nothing():
    assert evaporation(1.0, water=15.0, air=30.0, humidity=0.9).high == 0.0


def test_still_warm_water_by_hand():
    """Water of 28 °C, air of 22 °C half moist: vapour 3776 and 1320 Pa (steam tables 3782 and 2645).

    Moist air, dry part by 287.05 and vapour by 461.5 J/(kg K): 1.1556 at the water, 1.1901 kg/m³ in the room,
    with 24.08 and 8.21 g of vapour a kg. 35 x 1.1556 x 0.0345^(1/3) x 0.01587 = 0.209 kg/(m² h), above the
    drift of 5e-5 x 2456 = 0.123. In cooler water under warm dry air nothing rises: drift alone.
    """
    assert still_surface_rate(28.0, 22.0, 0.5) * DAY == pytest.approx(0.209 * 24, rel=0.01)
    # 20 °C: 2339 Pa; air of 30 °C at 0.3: 0.3 x 4247 Pa; drier and so heavier by less than it is warmer
    assert still_surface_rate(20.0, 30.0, 0.3) * DAY == pytest.approx(5e-5 * (2339 - 1274) * 24, rel=0.01)


def test_wind_takes_more():
    rates = [evaporation(1.0, **AIRS, speed=speed).high for speed in (0.0, 0.1, 0.3)]
    assert rates == sorted(rates)


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"humidity": 50.0}, "a share, not per cent"),
        ({"water": 298.0}, "not kelvin"),
        ({"air": -5.0}, "temperature"),
        ({"water": 50.5}, "temperature"),
        ({"speed": 3.0}, "speed of the air"),
    ],
)
def test_bad_figures_are_refused(change, words):
    with pytest.raises(OutOfRange, match=words):
        evaporation(1.0, **(AIRS | change))


def test_pressure_rises_with_warmth():
    assert saturation_pressure(30.0) > saturation_pressure(20.0)


def test_moist_air_is_as_heavy_as_the_tables_say():
    """Dry at 15 °C and 101,325 Pa: 1.2250 kg/m³ (International Standard Atmosphere).

    By R = 8.31446 J/(mol K) over 18.0153 g/mol for vapour alone, 0.5884 kg/m³ at its boiling point.
    """
    assert _density(15.0, 0.0) == pytest.approx(1.2250, abs=1e-4)
    assert _density(100.0, 101325.0) == pytest.approx(101325.0 * 0.0180153 / (8.31446 * 373.15), rel=1e-4)
