"""A response seen through a window that shortens with frequency."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

from roomwright._checks import positive
from roomwright._errors import InputError
from roomwright.analysis.arrival import arrival_s


def frequency_dependent_window(
    samples: ArrayLike,
    sampling_rate_hz: float,
    cycles: float,
    at_hz: ArrayLike,
    centre_s: ArrayLike | None = None,
) -> NDArray[np.complex128]:
    """Frequency responses of what arrives within some cycles of the direct sound.

    At each frequency f the response is weighted by cos^2 from 1 at the direct sound to 0 at
    `cycles` / f on both sides of it, and transformed at f alone. The direct sound passes
    unchanged; a reflection of delay d counts by cos^2(pi f d / 2 cycles) (common practice, no
    source).

    Parameters
    ----------
    samples
        Impulse responses, shape (..., n).
    sampling_rate_hz
        Sampling rate, hertz.
    cycles
        Half the window's length in periods, above 0.
    at_hz
        Frequencies, hertz, shape (f,), above 0.
    centre_s
        Arrival of the direct sound, seconds, shape (...); None finds it.

    Returns
    -------
    Complex response with phase re sample 0, shape (..., f).

    Raises
    ------
    InputError
        If `cycles` or a frequency is not above 0, or a response has no arrival.
    """
    rate = positive(sampling_rate_hz, "the sampling rate")
    given = np.asarray(samples, dtype=np.float64)
    frequencies = np.asarray(at_hz, dtype=np.float64)
    if frequencies.size and frequencies.min() <= 0:
        raise InputError("the windowed response was asked for at 0 Hz; it starts above 0")
    centre = np.asarray(arrival_s(given, rate) if centre_s is None else centre_s)
    if np.isnan(centre).any():
        raise InputError("a response has no direct sound to centre the window on")
    windowed = [
        _at_frequency(
            given, rate, float(f), positive(cycles, "the number of cycles"), centre * rate
        )
        for f in frequencies
    ]
    return np.stack(windowed, axis=-1) if windowed else np.empty((*given.shape[:-1], 0), complex)


def _at_frequency(
    samples: NDArray[np.float64],
    rate: float,
    frequency: float,
    cycles: float,
    centre: NDArray[np.float64],
) -> NDArray[np.complex128]:
    """The windowed transform at one frequency, shape (...); `centre` in samples."""
    n = samples.shape[-1]
    half = cycles * rate / frequency
    width = min(int(2 * half) + 2, n)
    start = np.clip(np.floor(centre - half), 0, n - width).astype(np.intp)
    index = start[..., None] + np.arange(width)
    part = np.take_along_axis(samples, index, axis=-1)
    offset = np.clip((index - centre[..., None]) / half, -1.0, 1.0)
    window = np.cos(np.pi / 2 * offset) ** 2
    turn = np.exp(-2j * np.pi * frequency / rate * index)
    transformed: NDArray[np.complex128] = np.sum(part * window * turn, axis=-1)
    return transformed
