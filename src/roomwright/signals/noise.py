"""Gaussian noise of a given spectrum.

An *amplitude spectrum* here holds the rms amplitude of each bin of the rfft grid: the mean
square of the noise is the sum of its squares.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy import fft

from roomwright._checks import finite
from roomwright._errors import InputError
from roomwright.signals.bands import band_edges
from roomwright.signals.levels import from_amplitude_db, from_power_db, power_db, rms
from roomwright.signals.spectra import frequencies_hz

#: Below this the slope of a shaped spectrum is not followed any further: nothing hears it, and
#: a rising slope would put all the power near 0 Hz.
_LOWEST_SLOPE_HZ = 10.0

#: Points in an octave where a shaped density is integrated: 0.001 dB for 20 dB an octave.
_POINTS_PER_OCTAVE = 64


def pink_noise(
    n: int,
    sampling_rate_hz: float,
    rng: np.random.Generator,
    low_hz: float = 20.0,
    high_hz: float = 20000.0,
) -> NDArray[np.float64]:
    """Gaussian noise of equal power in every octave between two sharp limits.

    Parameters
    ----------
    n
        Samples.
    sampling_rate_hz
        Sampling rate, hertz.
    rng
        Source of randomness.
    low_hz, high_hz
        Limits, hertz; above half the sampling rate there is nothing.

    Returns
    -------
    Shape (n,), of rms 1 exactly.

    Raises
    ------
    InputError
        If no bin of `n` samples lies between the limits.
    """
    grid = frequencies_hz(n, sampling_rate_hz)
    inside = (grid >= low_hz) & (grid <= high_hz) & (grid > 0)
    if not inside.any():
        raise InputError(
            f"{n} samples at {sampling_rate_hz:g} Hz hold no frequency between "
            f"{low_hz:g} and {high_hz:g} Hz; noise needs more samples or a wider band"
        )
    spectrum = np.zeros_like(grid)
    spectrum[inside] = grid[inside] ** -0.5
    noise = shaped_noise(spectrum, n, rng)
    return noise / rms(noise)


def octave_shaped_noise_spectrum(
    levels_db: ArrayLike, mids_hz: ArrayLike, n: int, sampling_rate_hz: float
) -> NDArray[np.float64]:
    """Amplitude spectrum of noise with given octave-band levels.

    The density is a straight line in dB over log frequency between the midbands, its corners
    placed such that each octave holds its level; levels that jump up and down by much more than
    10 dB from octave to octave are beyond straight lines. Outside the midbands the end slopes go
    on, down to 10 Hz; below that the density stays as it is there.

    Parameters
    ----------
    levels_db
        Rms level of each octave band, dB re 1.0, shape (bands,).
    mids_hz
        Rising octave midbands, hertz, shape (bands,), two or more.
    n
        Samples of the noise.
    sampling_rate_hz
        Sampling rate, hertz.

    Returns
    -------
    Rms amplitude of each rfft bin, shape (n // 2 + 1,); 0 at 0 Hz.

    Raises
    ------
    InputError
        If levels and midbands are not as many, fewer than two, or do not rise.
    """
    levels = finite(levels_db, "the octave levels").astype(np.float64)
    mids = np.asarray(mids_hz, dtype=np.float64)
    if levels.shape != mids.shape or mids.ndim != 1 or mids.size < 2 or (np.diff(mids) <= 0).any():
        raise InputError(
            f"{levels.size} octave levels were given for {mids.size} midbands; "
            "noise needs one level for each of two or more rising midbands"
        )
    density_db = _octave_densities_db(levels, mids)
    grid = frequencies_hz(n, sampling_rate_hz)
    spectrum = np.zeros_like(grid)
    heard = np.maximum(grid[1:], min(_LOWEST_SLOPE_HZ, mids[0]))
    bin_width_db = power_db(sampling_rate_hz / n)
    spectrum[1:] = from_amplitude_db(_along_slopes(heard, mids, density_db) + bin_width_db)
    return spectrum


def shaped_noise(spectrum: ArrayLike, n: int, rng: np.random.Generator) -> NDArray[np.float64]:
    """Gaussian noise of a given amplitude spectrum.

    Parameters
    ----------
    spectrum
        Rms amplitude of each rfft bin, shape (..., n // 2 + 1).
    n
        Samples.
    rng
        Source of randomness.

    Returns
    -------
    Shape (..., n); periodic in n.

    Raises
    ------
    InputError
        If the spectrum does not have n // 2 + 1 bins.
    """
    amplitude = np.asarray(spectrum, dtype=np.float64)
    if n < 1 or amplitude.shape[-1] != n // 2 + 1:
        raise InputError(
            f"the spectrum has {amplitude.shape[-1]} bins; noise of {n} samples needs {n // 2 + 1}"
        )
    bins = rng.standard_normal(amplitude.shape) + 1j * rng.standard_normal(amplitude.shape)
    bins *= amplitude * (n / 2)
    # The bins at 0 and at half the rate have no mirror image: one real part carries them.
    for alone in (0, -1) if n % 2 == 0 else (0,):
        bins[..., alone] = bins[..., alone].real * 2
    noise: NDArray[np.float64] = fft.irfft(bins, n, workers=-1)
    return noise


def _along_slopes(
    at_hz: NDArray[np.float64], mids: NDArray[np.float64], values: NDArray[np.float64]
) -> NDArray[np.float64]:
    """Straight lines over log frequency through (mids, values), the end ones going on."""
    x, corners = np.log2(at_hz), np.log2(mids)
    segment = np.clip(np.searchsorted(corners, x) - 1, 0, mids.size - 2)
    slopes = np.diff(values) / np.diff(corners)
    line: NDArray[np.float64] = values[segment] + slopes[segment] * (x - corners[segment])
    return line


def _octave_densities_db(
    levels_db: NDArray[np.float64], mids: NDArray[np.float64]
) -> NDArray[np.float64]:
    """Densities per hertz at the midbands whose slopes give each octave its level."""
    low, high = band_edges(mids, 1)
    steps = (np.arange(_POINTS_PER_OCTAVE) + 0.5) / _POINTS_PER_OCTAVE
    points = low[:, None] * (high / low)[:, None] ** steps
    widths = points * np.log(high / low)[:, None] / _POINTS_PER_OCTAVE
    density_db = levels_db - power_db(high - low)
    for _ in range(60):
        powers = from_power_db(_along_slopes(points, mids, density_db)) * widths
        density_db = density_db + (levels_db - power_db(powers.sum(axis=-1)))
    return density_db
