"""How fast predicted bass dies away in third-octave bands, read by a filter that hides little.

A Gaussian band without phase rings least of all for its width, evenly before and after. Predicted
responses have no noise, so the decay is read down to where the line ends.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy import fft

from roomwright.signals import band_edges, frequencies_hz

F = NDArray[np.float64]

_START_DB = -5.0
_STOP_DB = -25.0


@dataclass(frozen=True, slots=True)
class BandDecay:
    """Decay times (P, bands) for 60 dB; `limit_s` (bands,) is what a sudden end reads as."""

    mid_hz: F
    time_s: F
    limit_s: F

    @property
    def slowest(self) -> float:
        """The slowest band's time re the shortest that can be read, in the median over points."""
        return float(np.max(np.median(self.time_s, axis=0) / self.limit_s))


def band_decay(responses: F, rate_hz: float, mid_hz: F) -> BandDecay:
    """Decay times of responses (P, n) from -5 to -25 dB of their backward-integrated energy.

    Each band is exp(-(f - mid)^2 / 2 s^2) with the power bandwidth of a third octave, applied
    without phase; a lone impulse read the same way gives the limit (ISO 3382-1:2009, 5.3.3 for
    the integration and the range).
    """
    n = responses.shape[-1]
    low, high = band_edges(mid_hz, 3)
    # Twice the length, so that what rings ahead of time zero does not fall upon the end.
    grid = frequencies_hz(2 * n, rate_hz)
    spectrum = fft.rfft(responses, 2 * n)
    alone = np.ones(grid.size)
    times, limits = [], []
    for mid, width in zip(mid_hz, high - low, strict=True):
        deviation = width / np.sqrt(np.pi)
        weight = np.exp(-0.5 * ((grid - mid) / deviation) ** 2)
        times.append(_times(_power(spectrum * weight), rate_hz))
        limits.append(_times(_power((alone * weight)[None]), rate_hz)[0])
    return BandDecay(np.asarray(mid_hz), np.stack(times, axis=-1), np.array(limits))


def _power(spectrum: NDArray[np.complex128]) -> F:
    """Power over time (P, 2 n), free of the ripple of the oscillation, from time -n on."""
    whole = np.zeros((spectrum.shape[0], 2 * (spectrum.shape[1] - 1)), dtype=np.complex128)
    whole[:, : spectrum.shape[1]] = spectrum
    analytic = fft.ifft(whole)
    return np.asarray(np.roll(np.abs(analytic) ** 2, analytic.shape[1] // 2, axis=1))


def _times(power: F, rate_hz: float) -> F:
    energy = np.cumsum(power[:, ::-1], axis=1)[:, ::-1]
    level = 10.0 * np.log10(np.maximum(energy / energy[:, :1], 1e-30))
    times = np.empty(level.shape[0])
    for p, row in enumerate(level):
        part = np.flatnonzero((row <= _START_DB) & (row >= _STOP_DB))
        if part.size < 2:
            # Between two samples it passed the whole range.
            start = np.flatnonzero(row > _START_DB)[-1]
            part = np.array([start, start + 1])
        slope = np.polyfit(part / rate_hz, row[part], 1)[0]
        times[p] = -60.0 / slope
    return times
