"""Power over time and octave of what a sweep, its decay and its harmonics leave of a take: noise.

Deconvolved, the response to the sweep begins the circle and its harmonics end it; between them
lies noise alone, each frequency at another time after the sweep has passed it. Convolved with the
sweep again, that part of the circle is the recording without the sweep, its decay and its
harmonics.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from typing import Final

import numpy as np
import scipy.fft
from numpy.typing import NDArray

from roomwright.model import Sweep
from roomwright.signals import band_edges, harmonic_advance_s, midbands, sweep_samples

F = NDArray[np.float64]

#: Octaves looked at, and the length of a cell: a syllable or a slam.
CELL_OCTAVES_HZ: Final = midbands(1, 63.0, 16000.0)
CELL_S: Final = 0.08

#: Harmonics up to this order are measured as distortion; higher ones of a sound loudspeaker lie
#: below a room's noise. Common practice, no source.
_HIGHEST_ORDER: Final = 5

#: A cell counts if this share of it is free of sweep, decay and harmonics: a slow sweep leaves even
#: a small part of a decay far above the noise.
_FREE: Final = 1.0

#: The decay is over where a cell of the circle comes this close to the noise, power.
_DECAYED: Final = 1.5

#: ... or where it falls no more: power that does not fall by this within this time decays by less
#: than 17 dB a second, slower than any furnished room (a reverberation time of 3.5 s). Modes beat,
#: and their power may stand still: only octaves above the Schroeder frequency of a small room
#: (2000 sqrt(T / V) Hz, some 350 Hz for 0.9 s and 30 m3) tell.
_FALLS_DB, _FALLS_WITHIN_S, DIFFUSE_FROM_HZ = 4.0, 0.24, 450.0


@dataclass(frozen=True, slots=True, eq=False)
class Cells:
    """Noise power over time and octave.

    Attributes
    ----------
    time_s
        Middle of each cell after the sweep's start, shape (T,).
    power
        Shape (T, B) for `CELL_OCTAVES_HZ`; NaN where the sweep or its decay is, and in octaves that
        it does not cover: what is in them does not spoil the response.
    above
        Whether a cell lies above the frequency that the sweep passes then, shape (T, B).
    degrees
        Degrees of freedom of each cell's power were the noise Gaussian, shape (T, B).
    sweep_hz
        Frequency that the sweep passes at `time_s`, shape (T,).
    """

    time_s: F
    power: F
    above: NDArray[np.bool_]
    degrees: F
    sweep_hz: F


def noise_cells(
    circle: NDArray[np.floating], sweep: Sweep, rate: int, *, last_s: float = 0.0
) -> Cells:
    """Cells of what the sweep leaves of a take.

    Parameters
    ----------
    circle
        Deconvolved, shape (n,), n even.
    sweep, rate
        What was played, and the rate.
    last_s
        How much later the last of several sources played the same sweep; `above` and `sweep_hz` are
        those of the first.
    """
    size = 2 * (round(CELL_S * rate) // 2)
    last = round(last_s * rate)
    decay = _decays(circle[last:], sweep, rate, size)
    first = last + int(decay.min())
    stop = circle.size - round(harmonic_advance_s(sweep, _HIGHEST_ORDER) * rate)
    spectrum = scipy.fft.rfft(_gated(circle, first, stop), workers=1)
    spectrum *= _sweep_spectrum(sweep, rate, circle.size)
    left = scipy.fft.irfft(spectrum, circle.size, workers=1)
    power, width = octave_cells(left, size, rate)
    return _masked(power, width, decay, last, stop, circle.size, size, sweep, rate)


@lru_cache(maxsize=4)
def _sweep_spectrum(sweep: Sweep, rate: int, length: int) -> NDArray[np.complex64]:
    samples = sweep_samples(sweep, rate)
    spectrum: NDArray[np.complex64] = scipy.fft.rfft(samples, length)
    spectrum.flags.writeable = False
    return spectrum


def _gated(circle: NDArray[np.floating], first: int, stop: int) -> NDArray[np.floating]:
    kept = np.zeros_like(circle)
    kept[first:stop] = circle[first:stop]
    return kept


def octave_cells(samples: NDArray[np.floating], size: int, rate: int) -> tuple[F, F]:
    """Power in Hann windows that overlap by half, (T, B), and the bins of each octave, (B,)."""
    bins = np.abs(scipy.fft.rfft(_windows(samples, size), axis=-1, workers=1)) ** 2
    low, high = band_edges(CELL_OCTAVES_HZ, 1)
    edges = np.searchsorted(scipy.fft.rfftfreq(size, 1.0 / rate), np.stack([low, high], axis=1))
    power = np.stack([bins[:, a:b].sum(axis=1) for a, b in edges], axis=1).astype(np.float64)
    return power, np.diff(edges, axis=1)[:, 0].astype(np.float64)


def whole_power(samples: NDArray[np.floating], size: int) -> F:
    """Power of all frequencies together in the windows of `octave_cells`, in its units, (T,)."""
    # Parseval's theorem for one side of the spectrum.
    energy = np.einsum("ts,ts->t", *(2 * (_windows(samples, size),)))
    return np.asarray(0.5 * size * energy, dtype=np.float64)


def _windows(samples: NDArray[np.floating], size: int) -> NDArray[np.floating]:
    count = 2 * (samples.size // size) - 1
    at = np.arange(count)[:, None] * (size // 2) + np.arange(size)
    return np.asarray(samples[at] * np.hanning(size).astype(samples.dtype))


def _decays(circle: NDArray[np.floating], sweep: Sweep, rate: int, size: int) -> NDArray[np.intp]:
    """Samples after which each octave of the response has died away, shape (B,)."""
    end = round(harmonic_advance_s(sweep, _HIGHEST_ORDER) * rate)
    power, _ = octave_cells(circle[: circle.size - end], size, rate)
    noise = np.quantile(power, 0.35, axis=0)
    # One quiet cell may be chance; a decay ends where three in a row are noise.
    quiet = power < _DECAYED * noise
    still = quiet[:-2] & quiet[1:-1] & quiet[2:]
    still |= falls_no_more(power, size // 2, rate)
    found = np.where(still.any(axis=0), np.argmax(still, axis=0), power.shape[0] - 1)
    decay = (found + 2) * (size // 2) + size // 2
    return np.asarray(decay, dtype=np.intp)


def falls_no_more(power: F, hop: int, rate: int) -> NDArray[np.bool_]:
    """Where the power of three cells is still there a while later, shape (T - 2, B)."""
    if power.shape[0] < 3:
        return np.zeros((0, power.shape[1]), dtype=bool)
    mean = (power[:-2] + power[1:-1] + power[2:]) / 3.0
    lag = round(_FALLS_WITHIN_S * rate / hop)
    stays = np.zeros(mean.shape, dtype=bool)
    if lag < mean.shape[0]:
        stays[:-lag] = mean[lag:] * 10.0 ** (_FALLS_DB / 10.0) > mean[:-lag]
    return stays & (CELL_OCTAVES_HZ > DIFFUSE_FROM_HZ)


def _masked(
    power: F,
    width: F,
    decay: NDArray[np.intp],
    last: int,
    stop: int,
    total: int,
    size: int,
    sweep: Sweep,
    rate: int,
) -> Cells:
    middles = (np.arange(power.shape[0]) + 1) * (size // 2)
    low, high = band_edges(CELL_OCTAVES_HZ, 1)
    lag_s = sweep.duration_s / float(np.log(sweep.stop_hz / sweep.start_hz))
    # The sweep passes the octave between these samples; a cell reaches half its size either way.
    enters, leaves = (
        lag_s * np.log(np.clip(edge, sweep.start_hz, sweep.stop_hz) / sweep.start_hz) * rate
        for edge in (low, high)
    )
    points = np.linspace(0.0, 1.0, 9)
    passed = enters[:, None] + (leaves - enters)[:, None] * points
    after = (middles[:, None, None] - passed) % total
    margin = size // 2
    free = (after >= last + decay[:, None] + margin) & (after <= stop - size)
    # The pilot before the sweep dies away in the same room.
    since_pilot = middles[:, None] + round(sweep.gap_s * rate)
    free &= (since_pilot >= decay + margin)[..., None]
    # What was recorded is cut off at both ends; the circle may be longer.
    recorded = round((sweep.duration_s + sweep.tail_s) * rate)
    free &= ((middles >= size) & (middles <= min(recorded, total) - size))[:, None, None]
    # What is left of an octave that the sweep does not cover comes of its neighbours' edges.
    free &= ((low >= sweep.start_hz) & (high <= sweep.stop_hz))[:, None]
    share = free.mean(axis=-1)
    above = (middles[:, None] < 0.5 * (enters + leaves)).astype(bool)
    time_s = middles / rate
    rolling = sweep.start_hz * np.exp(np.minimum(time_s, sweep.duration_s) / lag_s)
    with np.errstate(invalid="ignore", divide="ignore"):
        cells = np.where(share >= _FREE, power / share, np.nan)
    # A Hann window has 1.5 bins of noise bandwidth, and two degrees of freedom a bin of its own.
    degrees = 2.0 * width[None, :] / 1.5 * np.maximum(share, _FREE)
    return Cells(time_s, cells, above, np.maximum(degrees, 1.0), rolling)
