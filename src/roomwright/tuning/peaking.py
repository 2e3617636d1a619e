"""Levels of peaking filters in closed form, and their derivatives.

The filters are those of `signals.biquads` (R. Bristow-Johnson, Audio EQ Cookbook, W3C Note 2021),
given as rows of (ln f, dB, ln Q).
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

F = NDArray[np.float64]

_DB_PER_NEPER_POWER = 10.0 / np.log(10.0)


def peaking_levels_db(parameters: F, omega: F, sampling_rate_hz: float) -> F:
    """Level (n, F) in decibels of n peaking filters given as rows of (ln f, dB, ln Q)."""
    near, wide, amplitude_squared, _ = _terms(parameters, omega, sampling_rate_hz)
    return np.asarray(
        _DB_PER_NEPER_POWER
        * np.log((near + wide * amplitude_squared) / (near + wide / amplitude_squared))
    )


def peaking_derivatives(parameters: F, omega: F, sampling_rate_hz: float) -> F:
    """Derivatives (n, 3, F) of `peaking_levels_db` by ln f, dB and ln Q."""
    near, wide, amplitude_squared, near_by_ln_f = _terms(parameters, omega, sampling_rate_hz)
    numerator = near + wide * amplitude_squared
    denominator = near + wide / amplitude_squared
    top = wide * amplitude_squared / numerator
    bottom = wide / amplitude_squared / denominator
    by_ln_alpha = 2 * _DB_PER_NEPER_POWER * (top - bottom)
    centre = _centre(parameters, sampling_rate_hz)
    by_ln_f = _DB_PER_NEPER_POWER * near_by_ln_f * (
        1 / numerator - 1 / denominator
    ) + by_ln_alpha * centre / np.tan(centre)
    return np.stack([by_ln_f, (top + bottom) / 2, -by_ln_alpha], axis=1)


def _centre(parameters: F, sampling_rate_hz: float) -> F:
    return 2 * np.pi * np.exp(parameters[:, :1]) / sampling_rate_hz


def _terms(parameters: F, omega: F, sampling_rate_hz: float) -> tuple[F, F, F, F]:
    """The terms u, v, A^2, du/d ln f of |H|^2 = (u + v A^2) / (u + v / A^2).

    With the cookbook's alpha: u = (cos w - cos w0)^2 and v = (alpha sin w)^2. The difference of
    cosines is written as one of squared sines of half the angles, which keeps its digits at low
    frequencies.
    """
    centre = _centre(parameters, sampling_rate_hz)
    alpha = np.sin(centre) / (2 * np.exp(parameters[:, 2:]))
    difference = 2 * (np.sin(centre / 2) ** 2 - np.sin(omega / 2) ** 2)
    amplitude_squared = 10 ** (parameters[:, 1:2] / 20)
    return (
        difference**2,
        alpha**2 * np.sin(omega) ** 2,
        amplitude_squared,
        2 * difference * (np.sin(centre) * centre),
    )
