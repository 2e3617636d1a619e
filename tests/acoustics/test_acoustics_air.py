from __future__ import annotations

import numpy as np
import pytest

from roomwright._errors import InputError
from roomwright.acoustics import air_density_kg_m3, attenuation_db_per_m, speed_of_sound_m_s


@pytest.mark.parametrize(("temperature", "speed"), [(20, 343.21), (15, 340.28), (25, 346.13)])
def test_speed_of_sound_matches_handbook(temperature, speed):
    """331.3 sqrt(1 + T/273.15), two decimals printed."""
    assert speed_of_sound_m_s(temperature) == pytest.approx(speed, abs=0.0051)


def test_speed_of_sound_agrees_with_iso_9613():
    """ISO 9613-1: 343.2 sqrt(T / 293.15 K); the two constants differ by 0.005 %."""
    for temperature in (-10.0, 5.0, 20.0, 35.0):
        expected = 343.2 * np.sqrt((temperature + 273.15) / 293.15)
        assert speed_of_sound_m_s(temperature) == pytest.approx(expected, rel=1e-4)


def test_density_at_room_temperature():
    """1.204 kg/m3 at 20 degrees C and 101.325 kPa: usual handbook value."""
    assert air_density_kg_m3(20.0) == pytest.approx(1.204, abs=5e-4)
    assert air_density_kg_m3(20.0, 50.6625) == pytest.approx(0.602, abs=5e-4)


def exact_midband(nominal_hz):
    """IEC 61260-1 base-10 midband: Table 1 of ISO 9613-1 is computed at these."""
    return 1000.0 * 10.0 ** (round(10.0 * np.log10(nominal_hz / 1000.0)) / 10.0)


@pytest.mark.parametrize(
    ("temperature", "humidity", "nominal_hz", "db_per_km"),
    [
        (20, 50, 1000, 4.66),
        (20, 50, 2000, 9.86),
        (25, 50, 1000, 5.68),
        (25, 100, 2000, 11.4),
        (10, 70, 1000, 3.66),
        (10, 50, 4000, 46.7),
        (15, 50, 1000, 4.16),
        (0, 20, 2000, 34.6),
        (30, 50, 4000, 24.5),
        (-20, 70, 8000, 27.8),
    ],
)
def test_attenuation_matches_table_1_of_iso_9613_1(temperature, humidity, nominal_hz, db_per_km):
    """ISO 9613-1:1993 Table 1, three digits printed: half a unit in the last is 0.5 %."""
    value = 1000.0 * attenuation_db_per_m(exact_midband(nominal_hz), temperature, humidity)
    assert value == pytest.approx(db_per_km, rel=5.5e-3)


def test_attenuation_at_high_frequencies():
    """The same equations evaluated independently at the exact midbands, four digits printed."""
    value = 1000.0 * attenuation_db_per_m(exact_midband(np.array(4000)), 20.0, 50.0)
    assert value == pytest.approx(29.42, abs=0.006)
    frequency = [exact_midband(f) for f in (8000, 10000, 16000)]
    expected = [103.9, 158.8, 358.8]
    assert 1000.0 * attenuation_db_per_m(frequency, 20.0, 50.0) == pytest.approx(expected, abs=0.06)


def test_attenuation_grows_as_frequency_squared_when_low():
    """Far below both relaxations every term is proportional to f squared."""
    low, high = attenuation_db_per_m([0.1, 0.2], 20.0, 50.0)
    assert high / low == pytest.approx(4.0, rel=1e-4)


@pytest.mark.parametrize(
    ("temperature", "humidity", "pressure"), [(80, 50, 101), (20, 101, 101), (20, 50, 0)]
)
def test_attenuation_refuses_what_is_out_of_range(temperature, humidity, pressure):
    with pytest.raises(InputError, match=r"temperature_c|humidity_percent|pressure_kpa"):
        attenuation_db_per_m([1000.0], temperature, humidity, pressure)
