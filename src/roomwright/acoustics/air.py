"""Air: speed of sound, density and absorption."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

from roomwright._checks import positive, within

_ABSOLUTE_ZERO_C = -273.15
_REFERENCE_K = 293.15
_TRIPLE_POINT_K = 273.16
_REFERENCE_KPA = 101.325
_GAS_CONSTANT_DRY_AIR = 287.05


def speed_of_sound_m_s(temperature_c: float) -> float:
    """Speed of sound in dry air, 331.3 sqrt(1 + T / 273.15) m/s.

    Parameters
    ----------
    temperature_c
        Air temperature, degrees Celsius, above absolute zero.

    Raises
    ------
    InputError
        If the temperature is outside -273.15 to 1000.

    References
    ----------
    Ideal-gas law; 331.3 m/s at 0 degrees C is the usual handbook value (from memory).
    """
    temperature = within(temperature_c, _ABSOLUTE_ZERO_C, 1000.0, "temperature_c")
    return float(331.3 * np.sqrt(1.0 + temperature / 273.15))


def air_density_kg_m3(temperature_c: float, pressure_kpa: float = _REFERENCE_KPA) -> float:
    """Density of dry air by the ideal-gas law, kg/m3.

    Parameters
    ----------
    temperature_c
        Air temperature, degrees Celsius.
    pressure_kpa
        Ambient pressure, kPa.

    Raises
    ------
    InputError
        If the temperature is outside -273 to 1000 or the pressure is not positive.
    """
    temperature = within(temperature_c, -273.0, 1000.0, "temperature_c")
    pressure_pa = 1000.0 * positive(pressure_kpa, "pressure_kpa")
    return pressure_pa / (_GAS_CONSTANT_DRY_AIR * (temperature - _ABSOLUTE_ZERO_C))


def attenuation_db_per_m(
    frequency_hz: ArrayLike,
    temperature_c: float,
    humidity_percent: float,
    pressure_kpa: float = _REFERENCE_KPA,
) -> NDArray[np.float64]:
    """Pure-tone attenuation of sound by the air itself, dB per metre.

    Parameters
    ----------
    frequency_hz
        Frequencies, any shape.
    temperature_c
        Air temperature, degrees Celsius, -73 to 60.
    humidity_percent
        Relative humidity, 0 to 100.
    pressure_kpa
        Ambient pressure, kPa.

    Returns
    -------
    ndarray
        Same shape as `frequency_hz`. The power coefficient m per metre is this over 4.343.

    Raises
    ------
    InputError
        If an argument is outside its range.

    References
    ----------
    ISO 9613-1:1993, equations 3 to 5 and annex B.
    """
    frequency = np.asarray(frequency_hz, dtype=np.float64)
    kelvin = within(temperature_c, -73.0, 60.0, "temperature_c") - _ABSOLUTE_ZERO_C
    humidity = within(humidity_percent, 0.0, 100.0, "humidity_percent")
    pressure = positive(pressure_kpa, "pressure_kpa") / _REFERENCE_KPA
    ratio = kelvin / _REFERENCE_K

    saturation = 10.0 ** (-6.8346 * (_TRIPLE_POINT_K / kelvin) ** 1.261 + 4.6151)
    molar_percent = humidity * saturation / pressure
    oxygen_hz = pressure * (
        24.0 + 4.04e4 * molar_percent * (0.02 + molar_percent) / (0.391 + molar_percent)
    )
    nitrogen_hz = (
        pressure
        * ratio**-0.5
        * (9.0 + 280.0 * molar_percent * np.exp(-4.170 * (ratio ** (-1.0 / 3.0) - 1.0)))
    )
    squared = frequency**2
    classical = 1.84e-11 * ratio**0.5 / pressure
    oxygen = 0.01275 * np.exp(-2239.1 / kelvin) / (oxygen_hz + squared / oxygen_hz)
    nitrogen = 0.1068 * np.exp(-3352.0 / kelvin) / (nitrogen_hz + squared / nitrogen_hz)
    attenuation: NDArray[np.float64] = np.asarray(
        8.686 * squared * (classical + ratio**-2.5 * (oxygen + nitrogen))
    )
    return attenuation
