"""How the power of a response runs over time in a narrow band."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray
from scipy import fft

from roomwright.analysis._noise_floor import SHORTEST_BLOCK_S
from roomwright.signals import band_edges, band_filter_sos, frequencies_hz, response

#: Room for what a time-reversed filter sends ahead of time zero, in inverse bandwidths: there
#: its response has fallen by 54 dB.
_LEAD_BANDWIDTHS = 4.0

#: Power is sampled at least this often.
_LONGEST_STEP_S = 0.001

#: Where a filter's response ends: -80 dB.
_SKIRT_END = 1e-4


@dataclass(frozen=True, slots=True)
class BandPower:
    """Instantaneous power of one band of responses.

    `power` has shape (..., m), in the square of the samples' unit, free of the ripple of the
    squared oscillation; `step_s` is its sampling interval and `lead_s` how much of it lies
    ahead of time zero.
    """

    power: NDArray[np.float64]
    step_s: float
    lead_s: float


def bandwidth_hz(mid_hz: float, fraction: int) -> float:
    """Bandwidth between the -3 dB edges of a 1/`fraction`-octave band, hertz."""
    low, high = band_edges(mid_hz, fraction)
    return float(high - low)


def block_s(mid_hz: float, fraction: int) -> float:
    """Averaging time that shows a band's decay without most of its fluctuation, seconds."""
    return max(SHORTEST_BLOCK_S, 0.25 / bandwidth_hz(mid_hz, fraction))


def broad_power(samples: NDArray[np.float64], sampling_rate_hz: float) -> BandPower:
    """Squared samples, unfiltered."""
    return BandPower(samples**2, 1.0 / sampling_rate_hz, 0.0)


def power_in_bands(
    samples: NDArray[np.float64],
    sampling_rate_hz: float,
    mids_hz: NDArray[np.float64],
    fraction: int,
) -> Iterator[BandPower]:
    """Power over time in each band, one transform of the responses for all of them.

    The IEC 61260-1 filter runs backwards in time: its own ringing then precedes the sound it
    belongs to and leaves the decay alone (Jacobsen & Rindel 1987, from memory).

    Parameters
    ----------
    samples
        Impulse responses, shape (..., n).
    sampling_rate_hz
        Sampling rate, hertz.
    mids_hz
        Exact midbands, hertz.
    fraction
        Bands in an octave.
    """
    n = samples.shape[-1]
    lead_s = _LEAD_BANDWIDTHS / min(bandwidth_hz(float(mid), fraction) for mid in mids_hz)
    lead = int(np.ceil(lead_s * sampling_rate_hz))
    length = fft.next_fast_len(n + lead, real=True)
    spectrum = fft.rfft(samples, length, workers=-1)
    duration_s = length / sampling_rate_hz
    for mid in mids_hz:
        low, weights = _reversed_filter(float(mid), fraction, sampling_rate_hz, length)
        kept_bins = spectrum[..., low : low + weights.size] * weights
        m = fft.next_fast_len(max(2 * weights.size, int(duration_s / _LONGEST_STEP_S)))
        # Only the passed bins are transformed: shifting them down leaves the power as it is.
        analytic = fft.ifft(kept_bins, m, workers=-1)
        power = 2 * (m / length) ** 2 * (analytic.real**2 + analytic.imag**2)
        step_s = duration_s / m
        shift, kept = int(lead_s / step_s), int((lead_s + n / sampling_rate_hz) / step_s)
        yield BandPower(np.roll(power, shift, axis=-1)[..., :kept], step_s, shift * step_s)


@lru_cache(maxsize=64)
def _reversed_filter(
    mid_hz: float, fraction: int, rate: float, length: int
) -> tuple[int, NDArray[np.complex128]]:
    """First bin the filter passes, of the rfft grid of `length` samples, and its response there."""
    grid = frequencies_hz(length, rate)
    weights = response(band_filter_sos(mid_hz, fraction, rate), grid, rate).conj()
    passed = np.flatnonzero(np.abs(weights) > _SKIRT_END)
    kept = weights[passed[0] : passed[-1] + 1].copy()
    kept.flags.writeable = False
    return int(passed[0]), kept
