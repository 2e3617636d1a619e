"""All figures of the bass of one channel over its seats."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy import fft

from roomwright._checks import finite, positive
from roomwright._errors import InputError
from roomwright.analysis.bass import (
    BassEvenness,
    DelayVerdict,
    bass_evenness,
    group_delay_verdict,
    late_energy_db,
)
from roomwright.analysis.decay import DecayResult, decay_times
from roomwright.analysis.modal_fit import FittedModes, fit_modes
from roomwright.analysis.phase import smoothed_group_delay_s
from roomwright.signals import frequencies_hz, log_frequencies, midbands, power_db, smooth_power

F = NDArray[np.float64]

#: Levels and group delays are averaged over this part of an octave, at twice as many places.
_LEVEL_FRACTION, _DELAY_FRACTION = 24, 6


@dataclass(frozen=True, slots=True, eq=False)
class BassFigures:
    """The bass of one source at P seats.

    `evenness` is over all seats, `late_db` (P,) the energy of more than 100 ms after the arrival,
    `delay` (P, f) the group delay at `delay_hz` against what is heard, `decay` (P, bands) that of
    third octaves with the shortest that can be read. `modes` are up to the top of the band, None
    where the responses are too short to find any.
    """

    band_hz: tuple[float, float]
    evenness: BassEvenness
    late_db: F
    delay_hz: F
    delay: DelayVerdict
    decay: DecayResult
    modes: FittedModes | None


def bass_figures(
    samples: ArrayLike, sampling_rate_hz: float, band_hz: tuple[float, float]
) -> BassFigures:
    """Figures of the bass; definitions and sources are those of the functions called.

    Parameters
    ----------
    samples
        Impulse responses of one source at P seats, shape (P, n), time zero in common.
    sampling_rate_hz
        Sampling rate, hertz.
    band_hz
        The band.

    Raises
    ------
    InputError
        If there are fewer than two seats, a sample is not a number, the band does not rise or
        lies outside the spectrum, or a response ends within 0.1 s of its arrival.
    """
    rate = positive(sampling_rate_hz, "the sampling rate")
    response = finite(samples, "the impulse responses").astype(np.float64)
    low, high = band_hz
    if not 0 < low < high < rate / 2:
        raise InputError(f"{low:g} to {high:g} Hz is no band below {rate / 2:g} Hz")
    if response.ndim != 2 or response.shape[0] < 2:
        raise InputError("the bass is judged over seats; responses at two or more are needed")
    at = log_frequencies(low, high, 2 * _LEVEL_FRACTION)
    power = np.abs(fft.rfft(response, workers=-1)) ** 2
    grid = frequencies_hz(response.shape[-1], rate)
    delay_hz = log_frequencies(low, high, 2 * _DELAY_FRACTION)
    delay = np.stack(
        [smoothed_group_delay_s(one, rate, _DELAY_FRACTION, delay_hz) for one in response]
    )
    return BassFigures(
        band_hz=(low, high),
        evenness=bass_evenness(power_db(smooth_power(power, grid, _LEVEL_FRACTION, at))),
        late_db=late_energy_db(response, rate, (low, high)),
        delay_hz=delay_hz,
        delay=group_delay_verdict(delay, delay_hz),
        decay=decay_times(response, rate, midbands(3, low, high)),
        modes=_modes(response, rate, high),
    )


def _modes(response: F, rate: float, highest_hz: float) -> FittedModes | None:
    try:
        return fit_modes(response, rate, highest_hz)
    except InputError:
        return None
