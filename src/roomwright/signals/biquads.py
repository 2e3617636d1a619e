"""Second-order filter sections, by the formulas of the Audio EQ Cookbook.

R. Bristow-Johnson, Audio EQ Cookbook, W3C Working Group Note 2021 (from memory). All kinds are
given by Q; for shelves Q = 1/sqrt(2) is the cookbook's slope S = 1. The peaking Q makes equal
boost and cut exact inverses.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from math import cos, pi, sin, sqrt

import numpy as np
from numpy.typing import ArrayLike, NDArray

from roomwright._errors import InputError
from roomwright.model import Biquad, BiquadKind

#: b0, b1, b2, a0, a1, a2 before normalising.
_Section = tuple[float, float, float, float, float, float]


def coefficients(biquad: Biquad, sampling_rate_hz: float) -> NDArray[np.float64]:
    """Coefficients b0, b1, b2, 1, a1, a2 of one biquad, shape (6,).

    Raises
    ------
    InputError
        If its frequency reaches half the sampling rate.
    """
    if biquad.frequency_hz >= sampling_rate_hz / 2:
        raise InputError(
            f"a {biquad.kind} filter stands at {biquad.frequency_hz:g} Hz; at a sampling rate of "
            f"{sampling_rate_hz:g} Hz it must stand below {sampling_rate_hz / 2:g} Hz"
        )
    omega = 2 * pi * biquad.frequency_hz / sampling_rate_hz
    alpha = sin(omega) / (2 * biquad.q)
    amplitude = 10.0 ** (biquad.gain_db / 40.0)
    section = np.array(_FORMULAS[biquad.kind](cos(omega), alpha, amplitude))
    normalised: NDArray[np.float64] = section / section[3]
    return normalised


def cascade_sos(biquads: Sequence[Biquad], sampling_rate_hz: float) -> NDArray[np.float64]:
    """Second-order sections of several biquads in series, shape (n, 6); n may be 0.

    Raises
    ------
    InputError
        As `coefficients` does.
    """
    sections = [coefficients(biquad, sampling_rate_hz) for biquad in biquads]
    return np.array(sections, dtype=np.float64).reshape(-1, 6)


def response(
    sos: ArrayLike, frequencies_hz: ArrayLike, sampling_rate_hz: float
) -> NDArray[np.complex128]:
    """Complex frequency response of second-order sections in series.

    Parameters
    ----------
    sos
        Shape (n, 6), scipy's order; no section at all is a wire.
    frequencies_hz
        Hertz, shape (f,).
    sampling_rate_hz
        Sampling rate, hertz.

    Returns
    -------
    Shape (f,).
    """
    b0, b1, b2, a0, a1, a2 = np.asarray(sos, dtype=np.float64).reshape(-1, 6).T[..., None]
    delay = np.exp(-2j * np.pi * np.asarray(frequencies_hz) / sampling_rate_hz)
    sections = (b0 + delay * (b1 + delay * b2)) / (a0 + delay * (a1 + delay * a2))
    product: NDArray[np.complex128] = sections.prod(axis=0)
    return product


def _peaking(c: float, alpha: float, a: float) -> _Section:
    return 1 + alpha * a, -2 * c, 1 - alpha * a, 1 + alpha / a, -2 * c, 1 - alpha / a


def _low_shelf(c: float, alpha: float, a: float) -> _Section:
    slope = 2 * sqrt(a) * alpha
    return (
        a * ((a + 1) - (a - 1) * c + slope),
        2 * a * ((a - 1) - (a + 1) * c),
        a * ((a + 1) - (a - 1) * c - slope),
        (a + 1) + (a - 1) * c + slope,
        -2 * ((a - 1) + (a + 1) * c),
        (a + 1) + (a - 1) * c - slope,
    )


def _high_shelf(c: float, alpha: float, a: float) -> _Section:
    slope = 2 * sqrt(a) * alpha
    return (
        a * ((a + 1) + (a - 1) * c + slope),
        -2 * a * ((a - 1) + (a + 1) * c),
        a * ((a + 1) + (a - 1) * c - slope),
        (a + 1) - (a - 1) * c + slope,
        2 * ((a - 1) - (a + 1) * c),
        (a + 1) - (a - 1) * c - slope,
    )


def _low_pass(c: float, alpha: float, _: float) -> _Section:
    return (1 - c) / 2, 1 - c, (1 - c) / 2, 1 + alpha, -2 * c, 1 - alpha


def _high_pass(c: float, alpha: float, _: float) -> _Section:
    return (1 + c) / 2, -(1 + c), (1 + c) / 2, 1 + alpha, -2 * c, 1 - alpha


def _all_pass(c: float, alpha: float, _: float) -> _Section:
    return 1 - alpha, -2 * c, 1 + alpha, 1 + alpha, -2 * c, 1 - alpha


_FORMULAS: dict[BiquadKind, Callable[[float, float, float], _Section]] = {
    "peaking": _peaking,
    "low_shelf": _low_shelf,
    "high_shelf": _high_shelf,
    "low_pass": _low_pass,
    "high_pass": _high_pass,
    "all_pass": _all_pass,
}
