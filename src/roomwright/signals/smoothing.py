"""Smoothing over fractions of an octave."""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

from roomwright._errors import InputError


def log_frequencies(low_hz: float, high_hz: float, per_octave: int) -> NDArray[np.float64]:
    """Frequencies from `low_hz` in equal steps of 1/`per_octave` octave up to `high_hz`.

    Returns
    -------
    Hertz, shape (m,); `high_hz` is the last one if it lies a whole number of steps above.

    Raises
    ------
    InputError
        If the limits are not positive and rising, or there is less than one step an octave.
    """
    if not 0 < low_hz <= high_hz < np.inf or per_octave < 1:
        raise InputError(
            f"frequencies were asked for from {low_hz:g} to {high_hz:g} Hz in {per_octave} steps "
            "an octave; the limits must be above 0 and rising, the steps 1 or more"
        )
    # The small number keeps the last step when rounding puts it a hair above the limit.
    steps = int(np.floor(per_octave * np.log2(high_hz / low_hz) + 1e-9))
    frequencies: NDArray[np.float64] = low_hz * 2.0 ** (np.arange(steps + 1) / per_octave)
    return frequencies


def smooth_power(
    power: ArrayLike, frequencies_hz: ArrayLike, fraction: float, at_hz: ArrayLike
) -> NDArray[np.float64]:
    """Power averaged over 1/`fraction` octave around given frequencies.

    The average over f 2^(-1/2n) to f 2^(+1/2n), every hertz counting alike, of the straight
    lines through the bins: parts of bins count at the ends, and a window narrower than a bin
    interpolates. Windows are cut at the ends of the grid. Rounding stays some 120 dB below the
    mean power of the lower frequencies.

    Parameters
    ----------
    power
        Shape (..., bins), in any unit; squared magnitudes, not dB.
    frequencies_hz
        Uniform grid, hertz, shape (bins,).
    fraction
        n: 3 averages over a third of an octave.
    at_hz
        Where to average, hertz, shape (m,), within the grid.

    Returns
    -------
    Shape (..., m), never negative for powers that are not.

    Raises
    ------
    InputError
        If power and frequencies do not fit each other, the grid is not uniform, `fraction` is
        not above 0, or a frequency lies outside the grid.
    """
    smooth: NDArray[np.float64] = _window_mean(
        np.asarray(power, np.float64), frequencies_hz, fraction, at_hz
    )
    return np.maximum(smooth, 0.0)


def smooth_complex(
    response: ArrayLike, frequencies_hz: ArrayLike, fraction: float, at_hz: ArrayLike
) -> NDArray[np.complex128]:
    """A complex response averaged over 1/`fraction` octave around given frequencies.

    As `smooth_power`, over the complex values: what arrives late turns fast and averages out.
    Bulk delay is best taken out before.

    Returns
    -------
    Shape (..., m).

    Raises
    ------
    InputError
        As `smooth_power` does.
    """
    return _window_mean(np.asarray(response, np.complex128), frequencies_hz, fraction, at_hz)


def _window_mean(
    values: NDArray[Any], frequencies_hz: ArrayLike, fraction: float, at_hz: ArrayLike
) -> NDArray[Any]:
    grid = np.asarray(frequencies_hz, dtype=np.float64)
    at = np.asarray(at_hz, dtype=np.float64)
    _check(values, grid, fraction, at)
    step = (grid[-1] - grid[0]) / (grid.size - 1)
    half_width = 2.0 ** (0.5 / fraction)
    # In bins from here on. A window at 0 Hz has no width; it gets a little.
    low = np.clip((at / half_width - grid[0]) / step, 0, grid.size - 1)
    high = np.clip((at * half_width - grid[0]) / step, 0, grid.size - 1)
    high = np.maximum(high, low + 1e-6)
    trapezia = np.cumsum((values[..., 1:] + values[..., :-1]) / 2, axis=-1)
    mean: NDArray[Any] = (_integral(values, trapezia, high) - _integral(values, trapezia, low)) / (
        high - low
    )
    return mean


def _integral(
    values: NDArray[Any], trapezia: NDArray[Any], at_bin: NDArray[np.float64]
) -> NDArray[Any]:
    """Integral of the straight lines through `values` from bin 0 to fractional bins."""
    index = np.minimum(at_bin.astype(np.intp), values.shape[-1] - 2)
    rest = at_bin - index
    start, stop = values[..., index], values[..., index + 1]
    whole = np.where(index > 0, trapezia[..., index - 1], 0.0)
    integral: NDArray[Any] = whole + rest * (start + (stop - start) * rest / 2)
    return integral


def _check(
    values: NDArray[Any], grid: NDArray[np.float64], fraction: float, at: NDArray[np.float64]
) -> None:
    if grid.size < 2 or values.shape[-1:] != grid.shape:
        raise InputError(
            f"a response of shape {values.shape} has frequencies of shape {grid.shape}; "
            "the last axis must be the same and hold 2 bins or more"
        )
    steps = np.diff(grid)
    if not np.allclose(steps, steps[0], rtol=1e-6) or steps[0] <= 0:
        raise InputError("the frequencies to smooth over must rise in equal steps")
    if not fraction > 0:
        raise InputError(f"smoothing over 1/{fraction:g} octave; the fraction must be above 0")
    if at.size and not (grid[0] <= at.min() and at.max() <= grid[-1]):
        raise InputError(
            f"smoothing was asked for from {at.min():g} to {at.max():g} Hz; the response "
            f"reaches from {grid[0]:g} to {grid[-1]:g} Hz"
        )
