"""Gain, delay and biquads of every subwoofer as a chain whose parameters can be improved."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from roomwright.model import Biquad

F = NDArray[np.float64]
C = NDArray[np.complex128]

_DB_PER_NEPER = 20.0 / np.log(10.0)

#: Step of the difference that gives a slope, in natural logarithms and in 20 dB.
_STEP = 1e-4


@dataclass(frozen=True, slots=True)
class FilterLimits:
    """What the biquads of one subwoofer may be.

    Boosts are small because they cost headroom at every seat; a Q of 4 at 40 Hz rings no longer
    than the room does (common practice, no source).
    """

    lowest_hz: float = 15.0
    highest_hz: float = 160.0
    largest_cut_db: float = 12.0
    largest_boost_db: float = 3.0
    lowest_q: float = 0.5
    highest_q: float = 4.0


@dataclass(frozen=True, slots=True)
class FilterChain:
    """Gain, delay, some peaking filters and some all-passes, for B sets of N sources.

    Parameters of a source, (K,): gain in nepers, delay in ms, then ln f, gain in nepers and ln Q
    of each peaking filter, then ln f and ln Q of each all-pass. `sign` is (B, N).
    """

    frequencies_hz: F
    sampling_rate_hz: float
    sign: F
    peaking: int
    all_passes: int
    lower: F
    upper: F

    def gains(self, parameters: F) -> C:
        """Complex gains (B, N, F)."""
        return np.asarray(self.sign[..., None] * np.exp(self._logarithm(parameters)))

    def slopes(self, parameters: F) -> C:
        """Derivatives of the logarithm of the gains by the parameters, (B, N, K, F)."""
        count = parameters.shape[-1]
        slopes = np.empty((*parameters.shape, self.frequencies_hz.size), dtype=np.complex128)
        for number in range(count):
            step = np.zeros(count)
            step[number] = _STEP
            apart = self._logarithm(parameters + step) - self._logarithm(parameters - step)
            # The phase may have turned over between the two.
            turn = np.remainder(apart.imag + np.pi, 2 * np.pi) - np.pi
            slopes[..., number, :] = (apart.real + 1j * turn) / (2 * _STEP)
        return slopes

    def biquads(self, parameters: F) -> tuple[Biquad, ...]:
        """The filters of one source (K,), those that do nothing left out, by frequency."""
        peaks, passes = self._split(parameters)
        filters = [
            Biquad(
                kind="peaking",
                frequency_hz=float(np.exp(f)),
                gain_db=float(g * _DB_PER_NEPER),
                q=float(np.exp(q)),
            )
            for f, g, q in peaks
            if abs(g * _DB_PER_NEPER) >= 0.05
        ]
        filters += [
            Biquad(kind="all_pass", frequency_hz=float(np.exp(f)), q=float(np.exp(q)))
            for f, q in passes
        ]
        return tuple(sorted(filters, key=lambda one: one.frequency_hz))

    def _split(self, parameters: F) -> tuple[F, F]:
        """Peaking filters (..., n, 3) and all-passes (..., n, 2)."""
        last = 2 + 3 * self.peaking
        peaks = parameters[..., 2:last].reshape(*parameters.shape[:-1], self.peaking, 3)
        passes = parameters[..., last:].reshape(*parameters.shape[:-1], self.all_passes, 2)
        return peaks, passes

    def _logarithm(self, parameters: F) -> C:
        """Logarithm of the gains without their sign, (B, N, F)."""
        peaks, passes = self._split(parameters)
        omega = 2 * np.pi * self.frequencies_hz / self.sampling_rate_hz
        turn = 2e-3 * np.pi * self.frequencies_hz * parameters[..., 1:2]
        total = parameters[..., :1] - 1j * turn
        for place in range(self.peaking):
            f, g, q = (peaks[..., place, k, None] for k in range(3))
            near, wide = _terms(f, q, omega, self.sampling_rate_hz)
            amplitude = np.exp(g / 2)
            total = total + np.log((near + 1j * wide * amplitude) / (near + 1j * wide / amplitude))
        for place in range(self.all_passes):
            f, q = (passes[..., place, k, None] for k in range(2))
            near, wide = _terms(f, q, omega, self.sampling_rate_hz)
            total = total + np.log((near - 1j * wide) / (near + 1j * wide))
        return total


def _terms(log_f: F, log_q: F, omega: F, sampling_rate_hz: float) -> tuple[F, F]:
    """The real terms u, v of the cookbook's (u + j v A) / (u + j v / A), after a common factor.

    u = cos w - cos w0, v = alpha sin w with alpha = sin w0 / 2Q (R. Bristow-Johnson, Audio EQ
    Cookbook, W3C Note 2021), u as a difference of squared sines to keep its digits.
    """
    centre = 2 * np.pi * np.exp(log_f) / sampling_rate_hz
    near = 2 * (np.sin(centre / 2) ** 2 - np.sin(omega / 2) ** 2)
    wide = np.sin(centre) / (2 * np.exp(log_q)) * np.sin(omega)
    return near, wide
