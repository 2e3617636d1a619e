"""Statistical room acoustics: reverberation time, critical distance, steady level."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

from roomwright._checks import finite, positive
from roomwright._errors import InputError
from roomwright.acoustics.air import attenuation_db_per_m, speed_of_sound_m_s
from roomwright.acoustics.walls import absorption_at
from roomwright.model import Room

_DB_PER_NEPER_POWER = 10.0 / np.log(10.0)


def sabine_s(
    areas: ArrayLike,
    absorption: ArrayLike,
    volume: float,
    air_power_m: ArrayLike = 0.0,
    c: float = 343.0,
) -> NDArray[np.float64]:
    """Reverberation time by Sabine, (24 ln 10 / c) V / (sum S alpha + 4 m V), seconds.

    Parameters
    ----------
    areas
        (n,) areas of the surfaces, m2.
    absorption
        (n, B) random-incidence absorption, 0 to 1.
    volume
        Volume of air, m3.
    air_power_m
        Power attenuation of the air m, 1/m: a number or (B,).
    c
        Speed of sound, m/s.

    Returns
    -------
    ndarray
        (B,) seconds, infinite where nothing absorbs.

    Raises
    ------
    InputError
        If shapes do not agree or a value is outside its range.

    References
    ----------
    Kuttruff, Room Acoustics, chapter 5.
    """
    area, alpha = _surfaces(areas, absorption)
    return _decay_time(area @ alpha, volume, air_power_m, c)


def eyring_s(
    areas: ArrayLike,
    absorption: ArrayLike,
    volume: float,
    air_power_m: ArrayLike = 0.0,
    c: float = 343.0,
) -> NDArray[np.float64]:
    """Reverberation time by Eyring: Sabine with -S ln(1 - mean alpha); seconds.

    Parameters, returns and errors are those of `sabine_s`.

    References
    ----------
    Eyring, JASA 1, 1930; Kuttruff, Room Acoustics, chapter 5.
    """
    area, alpha = _surfaces(areas, absorption)
    total = area.sum()
    return _decay_time(total * _exponent(area @ alpha / total), volume, air_power_m, c)


def millington_s(
    areas: ArrayLike,
    absorption: ArrayLike,
    volume: float,
    air_power_m: ArrayLike = 0.0,
    c: float = 343.0,
) -> NDArray[np.float64]:
    """Reverberation time by Millington: Sabine with -sum S ln(1 - alpha); seconds.

    Parameters, returns and errors are those of `sabine_s`.

    References
    ----------
    Millington, JASA 4, 1932; Kuttruff, Room Acoustics, chapter 5.
    """
    area, alpha = _surfaces(areas, absorption)
    return _decay_time(area @ _exponent(alpha), volume, air_power_m, c)


def fitzroy_s(
    pair_areas: ArrayLike,
    absorption: ArrayLike,
    volume: float,
    air_power_m: ArrayLike = 0.0,
    c: float = 343.0,
) -> NDArray[np.float64]:
    """Reverberation time of a box by Fitzroy: the area-weighted mean over the three axes.

    Parameters
    ----------
    pair_areas
        (3,) total area of the two planes across x, y and z, m2.
    absorption
        (3, B) mean absorption of each pair, 0 to 1.
    volume, air_power_m, c
        As in `sabine_s`.

    Returns
    -------
    ndarray
        (B,) seconds.

    Raises
    ------
    InputError
        If shapes do not agree or a value is outside its range.

    References
    ----------
    Fitzroy, JASA 31(7), 1959 (from memory).
    """
    area, each = _pair_times(pair_areas, absorption, volume, air_power_m, c)
    return np.asarray(area @ each / area.sum())


def arau_s(
    pair_areas: ArrayLike,
    absorption: ArrayLike,
    volume: float,
    air_power_m: ArrayLike = 0.0,
    c: float = 343.0,
) -> NDArray[np.float64]:
    """Reverberation time of a box by Arau-Puchades: the area-weighted geometric mean.

    Parameters, returns and errors are those of `fitzroy_s`.

    References
    ----------
    Arau-Puchades, Acustica 65, 1988 (from memory).
    """
    area, each = _pair_times(pair_areas, absorption, volume, air_power_m, c)
    with np.errstate(divide="ignore"):
        return np.asarray(np.exp(area @ np.log(each) / area.sum()))


def critical_distance_m(
    volume_m3: float, reverberation_time_s: ArrayLike, directivity_factor: ArrayLike = 1.0
) -> NDArray[np.float64]:
    """Distance at which direct and reverberant sound are equal, 0.057 sqrt(Q V / T).

    Parameters
    ----------
    volume_m3
        Volume of air.
    reverberation_time_s
        Reverberation time, any shape.
    directivity_factor
        Q of the source on the axis considered, broadcast with the time.

    Raises
    ------
    InputError
        If the volume is not positive.

    References
    ----------
    Kuttruff, Room Acoustics, chapter 5.
    """
    volume = positive(volume_m3, "volume_m3")
    ratio = np.asarray(directivity_factor, np.float64) * volume / np.asarray(reverberation_time_s)
    return np.asarray(0.057 * np.sqrt(ratio))


def steady_level_db(
    power_level_db: ArrayLike,
    distance_m: ArrayLike,
    areas: ArrayLike,
    absorption: ArrayLike,
    directivity_factor: ArrayLike = 1.0,
) -> NDArray[np.float64]:
    """Steady level in a diffuse room, LW + 10 lg(Q / (4 pi r^2) + 4 / R), dB.

    Parameters
    ----------
    power_level_db
        Sound power level re 1 pW: a number or (B,).
    distance_m
        Distance from the source: a number or an array that broadcasts with (B,).
    areas, absorption
        (n,) m2 and (n, B), as in `sabine_s`; R = S alpha / (1 - mean alpha).
    directivity_factor
        Q toward the receiver: a number or (B,).

    Returns
    -------
    ndarray
        Level re 20 uPa (rho c taken as 400 Pa s/m).

    Raises
    ------
    InputError
        If shapes do not agree or a value is outside its range.

    References
    ----------
    Beranek, Acoustics, chapter 10.
    """
    area, alpha = _surfaces(areas, absorption)
    mean = area @ alpha / area.sum()
    direct = np.asarray(directivity_factor) / (4.0 * np.pi * np.asarray(distance_m) ** 2)
    diffuse = 4.0 * (1.0 - mean) / (area @ alpha)
    return np.asarray(np.asarray(power_level_db) + 10.0 * np.log10(direct + diffuse))


def room_reverberation_s(room: Room, frequency_hz: ArrayLike) -> NDArray[np.float64]:
    """Reverberation time of a room by Eyring, with the absorption of its air; seconds.

    Parameters
    ----------
    room
        Any room; the absorption of its surfaces is interpolated over log frequency.
    frequency_hz
        (f,) frequencies above 0.

    Returns
    -------
    ndarray
        (f,).

    Raises
    ------
    InputError
        If a frequency is not above 0.

    References
    ----------
    Eyring, JASA 1, 1930; ISO 9613-1:1993 for the air.
    """
    surfaces = room.surfaces_with_areas()
    areas = np.array([area for _, _, area in surfaces])
    absorption = absorption_at(
        np.array([surface.absorption for _, surface, _ in surfaces]), frequency_hz
    )
    air = attenuation_db_per_m(
        np.atleast_1d(frequency_hz), room.temperature_c, room.humidity_percent
    )
    return eyring_s(
        areas,
        absorption,
        room.volume_m3,
        air / _DB_PER_NEPER_POWER,
        speed_of_sound_m_s(room.temperature_c),
    )


def _surfaces(
    areas: ArrayLike, absorption: ArrayLike
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    area = finite(np.asarray(areas, dtype=np.float64), "areas")
    alpha = finite(np.asarray(absorption, dtype=np.float64), "absorption")
    if area.ndim != 1 or alpha.ndim != 2 or alpha.shape[0] != area.size:
        raise InputError(
            f"areas has shape {area.shape} and absorption {alpha.shape};"
            " they must be (n,) and (n, bands)"
        )
    if np.any(area < 0) or area.sum() == 0:
        raise InputError("areas must be 0 or more, and not all 0")
    if np.any((alpha < 0) | (alpha > 1)):
        raise InputError("absorption must be 0 to 1")
    return area, alpha


def _exponent(absorption: NDArray[np.float64]) -> NDArray[np.float64]:
    """-ln(1 - alpha), infinite where alpha is 1."""
    with np.errstate(divide="ignore"):
        return -np.log1p(-absorption)


def _decay_time(
    absorbing_area: NDArray[np.float64], volume: float, air_power_m: ArrayLike, c: float
) -> NDArray[np.float64]:
    air = np.asarray(air_power_m, dtype=np.float64)
    if np.any(air < 0):
        raise InputError(f"air_power_m holds {air.min():g}; it must be 0 or more")
    cubic_metres = positive(volume, "volume")
    constant = 24.0 * np.log(10.0) / positive(c, "c")
    with np.errstate(divide="ignore"):
        return np.asarray(constant * cubic_metres / (absorbing_area + 4.0 * air * cubic_metres))


def _pair_times(
    pair_areas: ArrayLike, absorption: ArrayLike, volume: float, air_power_m: ArrayLike, c: float
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Areas (3,), and the time (3, B) the box would have with each pair's absorption alone."""
    area, alpha = _surfaces(pair_areas, absorption)
    if area.size != 3:
        raise InputError(f"pair_areas holds {area.size} areas; it must hold three")
    return area, _decay_time(area.sum() * _exponent(alpha), volume, air_power_m, c)
