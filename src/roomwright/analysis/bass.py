"""Figures of the bass: evenness over seats, energy that lingers, group delay against thresholds."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy import fft

from roomwright._checks import finite, positive
from roomwright._errors import InputError
from roomwright.analysis.arrival import onset_index
from roomwright.analysis.average import (
    level_spread,
    mean_output_level_db,
    mean_spatial_variance_db2,
)
from roomwright.signals import frequencies_hz, power_db

F = NDArray[np.float64]

#: Group delay that stays unheard: a period up to 100 Hz, then these, straight over log frequency
#: between (period: rule from memory; 6 ms: average detection in the bass, about 7 ms, thesis,
#: Aalto 2016, abstract; 2 ms: Blauert & Laws 1978 give 3.2 ms at 500 Hz for headphones).
_PERIODS_UP_TO_HZ = 100.0
_DELAY_LINE_HZ, _DELAY_LINE_S = (100.0, 250.0, 500.0), (6e-3, 6e-3, 2e-3)

#: The bass is cut out of a response with edges that fall over this share of an octave.
_EDGE_OCTAVES = 1.0 / 3.0


@dataclass(frozen=True, slots=True)
class BassEvenness:
    """How even the bass is over seats and frequency, each (...,).

    `mean_spatial_variance_db2` is the mean over frequency of the population variance of the level
    over seats; `deviation_db` and `range_db` the means over frequency of the standard deviation
    and of the highest less the lowest; `mean_output_level_db` the mean level over seats and
    frequency; `flatness_db` the standard deviation over frequency of the mean over seats.
    """

    mean_spatial_variance_db2: F
    deviation_db: F
    range_db: F
    mean_output_level_db: F
    flatness_db: F


def bass_evenness(level_db: ArrayLike) -> BassEvenness:
    """Evenness of levels over seats and frequency.

    Parameters
    ----------
    level_db
        Shape (..., seats, f), on frequencies in equal steps of log frequency: only then do means
        over frequency weigh octaves alike.

    Raises
    ------
    InputError
        If a level is not a number, or an axis is missing.

    Notes
    -----
    Variance and output level as Welti & Devantier, JAES 54(5), 2006 (definitions from memory);
    the others common practice.
    """
    level = finite(level_db, "the bass levels").astype(np.float64)
    if level.ndim < 2:
        raise InputError(
            f"bass levels of shape {level.shape} cannot be judged; they must be (seats, f)"
        )
    spread = level_spread(level)
    return BassEvenness(
        mean_spatial_variance_db2=mean_spatial_variance_db2(level),
        deviation_db=spread.deviation_db.mean(axis=-1),
        range_db=spread.range_db.mean(axis=-1),
        mean_output_level_db=mean_output_level_db(level),
        flatness_db=spread.mean_db.std(axis=-1),
    )


def late_energy_db(
    samples: ArrayLike,
    sampling_rate_hz: float,
    band_hz: tuple[float, float] = (20.0, 120.0),
    after_s: float = 0.1,
) -> F:
    """Energy in a band later than some time after the arrival, dB re that from the arrival on.

    The band is cut out without phase, with edges a third of an octave wide outside it, so up to
    about the period of the lower edge is smeared over both sides of the limit.

    Parameters
    ----------
    samples
        Impulse responses, shape (..., n).
    sampling_rate_hz
        Sampling rate, hertz.
    band_hz
        The band.
    after_s
        Seconds after the arrival.

    Returns
    -------
    Shape (...).

    Raises
    ------
    InputError
        If the band does not rise, lies outside the spectrum, or a response ends too early.
    """
    rate = positive(sampling_rate_hz, "the sampling rate")
    response = finite(samples, "the impulse response").astype(np.float64)
    low, high = band_hz
    if not 0 < low < high < rate / 2:
        raise InputError(f"{low:g} to {high:g} Hz is no band below {rate / 2:g} Hz")
    start = np.asarray(onset_index(response))
    length = response.shape[-1]
    limit = start + round(positive(after_s, "the time after the arrival") * rate)
    if np.any(limit >= length):
        raise InputError(
            f"a response of {length / rate:.3f} s ends before {after_s:g} s after its arrival"
        )
    # Silence on both sides keeps the two ends apart.
    size = fft.next_fast_len(2 * length, real=True)
    spectrum = fft.rfft(response, size) * _band(frequencies_hz(size, rate), low, high)
    energy = fft.irfft(spectrum, size)[..., :length] ** 2
    following = np.cumsum(energy[..., ::-1], axis=-1)[..., ::-1]
    late, whole = (
        np.take_along_axis(following, at[..., None], axis=-1)[..., 0] for at in (limit, start)
    )
    return power_db(late / whole)


def _band(frequency_hz: F, low_hz: float, high_hz: float) -> F:
    """Weight 1 in the band, falling as a squared cosine over the edges outside it."""
    with np.errstate(divide="ignore"):
        below = np.log2(low_hz / frequency_hz) / _EDGE_OCTAVES
        above = np.log2(frequency_hz / high_hz) / _EDGE_OCTAVES
    outside = np.clip(np.maximum(below, above), 0.0, 1.0)
    weight: F = np.cos(0.5 * np.pi * outside) ** 2
    return weight


def group_delay_limit_s(frequency_hz: ArrayLike) -> F:
    """Group delay beyond the usual that stays unheard, seconds, shape of `frequency_hz`.

    One period up to 100 Hz, 6 ms from there to 250 Hz, 2 ms from 500 Hz on. No classic table
    reaches below 300 Hz: the rule is from memory.

    Raises
    ------
    InputError
        If a frequency is not above 0.
    """
    frequency = finite(frequency_hz, "the frequencies").astype(np.float64)
    if np.any(frequency <= 0):
        raise InputError("a threshold of group delay needs frequencies above 0")
    line = np.interp(np.log(frequency), np.log(_DELAY_LINE_HZ), _DELAY_LINE_S)
    return np.where(frequency <= _PERIODS_UP_TO_HZ, 1.0 / frequency, line)


@dataclass(frozen=True, slots=True)
class DelayVerdict:
    """Group delay against its threshold; arrays (..., f), `worst` (...,).

    `deviation_s` is the group delay less its median over the band, `share` that over the
    threshold without sign, `worst` the largest share: up to 1 is unheard.
    """

    deviation_s: F
    share: F
    worst: F


def group_delay_verdict(group_delay_s: ArrayLike, frequency_hz: ArrayLike) -> DelayVerdict:
    """How far group delay departs from its median, against what is heard.

    Parameters
    ----------
    group_delay_s
        Group delay or excess group delay, seconds, shape (..., f), over the band to judge.
    frequency_hz
        Hertz, shape (f,), above 0.

    Raises
    ------
    InputError
        If a delay is not a number or a frequency not above 0.
    """
    delay = finite(group_delay_s, "the group delay").astype(np.float64)
    deviation = delay - np.median(delay, axis=-1, keepdims=True)
    share = np.abs(deviation) / group_delay_limit_s(frequency_hz)
    return DelayVerdict(deviation, share, share.max(axis=-1))
