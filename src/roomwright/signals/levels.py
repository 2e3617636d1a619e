"""Levels in decibels. Every decibel reference of the program is stated here.

`power_db` is for quantities proportional to power (squared pressure, energy, spectra of
power), `amplitude_db` for those proportional to pressure or voltage. Both are re 1; sound
pressure levels are re `REFERENCE_PRESSURE_PA`.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

#: Reference sound pressure in air, pascal (ISO 1683).
REFERENCE_PRESSURE_PA = 20e-6


def power_db(power: ArrayLike) -> NDArray[np.float64]:
    """Level of a power-like quantity, dB re 1.

    Parameters
    ----------
    power
        Any shape, not negative; 0 gives -inf.

    Returns
    -------
    10 lg(power), same shape.
    """
    with np.errstate(divide="ignore"):
        level: NDArray[np.float64] = 10.0 * np.log10(np.asarray(power, dtype=np.float64))
    return level


def amplitude_db(amplitude: ArrayLike) -> NDArray[np.float64]:
    """Level of a pressure-like quantity, dB re 1.

    Parameters
    ----------
    amplitude
        Any shape, real or complex; its magnitude counts and 0 gives -inf.

    Returns
    -------
    20 lg abs(amplitude), same shape.
    """
    with np.errstate(divide="ignore"):
        level: NDArray[np.float64] = 20.0 * np.log10(np.abs(np.asarray(amplitude)))
    return level


def from_power_db(level_db: ArrayLike) -> NDArray[np.float64]:
    """Power-like quantity of a level in dB re 1; the inverse of `power_db`."""
    power: NDArray[np.float64] = 10.0 ** (np.asarray(level_db, dtype=np.float64) / 10.0)
    return power


def from_amplitude_db(level_db: ArrayLike) -> NDArray[np.float64]:
    """Pressure-like quantity of a level in dB re 1; the inverse of `amplitude_db`."""
    amplitude: NDArray[np.float64] = 10.0 ** (np.asarray(level_db, dtype=np.float64) / 20.0)
    return amplitude


def rms(signal: ArrayLike, axis: int = -1) -> NDArray[np.float64]:
    """Root mean square of a real signal.

    Parameters
    ----------
    signal
        Samples, any shape; float32 is summed in float64.
    axis
        The axis of time.

    Returns
    -------
    The shape of `signal` without `axis`.
    """
    mean: NDArray[np.float64] = np.mean(np.square(signal, dtype=np.float64), axis=axis)
    return np.sqrt(mean)


def pressure_level_db(rms_pa: ArrayLike) -> NDArray[np.float64]:
    """Sound pressure level, dB re 20 uPa, of an rms pressure in pascal; 0 gives -inf."""
    return amplitude_db(np.asarray(rms_pa, dtype=np.float64) / REFERENCE_PRESSURE_PA)
