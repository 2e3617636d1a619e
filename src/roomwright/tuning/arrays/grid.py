"""The grid that array filters are designed on: a low sampling rate, and the bins up to a frequency.

Bass filters of thousands of taps say nothing above the bass. At a rate just above twice the
highest frequency they need a few hundred, which are then interpolated to the rate of the output.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy import fft

from roomwright._checks import finite, positive
from roomwright._errors import InputError
from roomwright.signals import interpolated

F = NDArray[np.float64]
C = NDArray[np.complex128]

#: Sampling rate of the design over its highest frequency; above 2 for room to interpolate.
_RATE_OVER_HIGHEST = 2.5
#: Samples transformed at once.
_BLOCK = 2048


@dataclass(frozen=True, slots=True)
class Grid:
    """`taps` at `rate_hz`, an exact `factor`-th of the output's rate, and a longer `period`.

    The period, in samples, holds filter and response one after the other, so that nothing comes
    round. `bins` are those of its one-sided spectrum that the design uses, from the first above
    0 Hz.
    """

    rate_hz: float
    factor: int
    taps: int
    period: int
    bins: int

    @property
    def frequencies_hz(self) -> F:
        """Frequencies of the bins used, (bins,)."""
        return np.arange(1, self.bins + 1, dtype=np.float64) * (self.rate_hz / self.period)

    def time(self, spectra: C) -> F:
        """Signals (..., period) of spectra (..., bins)."""
        padded = np.zeros((*spectra.shape[:-1], self.period // 2 + 1), dtype=np.complex128)
        padded[..., 1 : self.bins + 1] = spectra
        return np.asarray(fft.irfft(padded, self.period), dtype=np.float64)

    def spectrum(self, signals: F) -> C:
        """Spectra (..., bins) of signals of at most a period."""
        spectra: C = fft.rfft(signals, self.period)[..., 1 : self.bins + 1]
        return spectra


def design_grid(output_rate_hz: int, filter_s: float, response_s: float, highest_hz: float) -> Grid:
    """The grid for filters and responses of given lengths.

    Parameters
    ----------
    output_rate_hz
        Sampling rate of the processor.
    filter_s, response_s
        Lengths of filters and of responses.
    highest_hz
        Highest frequency of the design, where its taper ends.

    Raises
    ------
    InputError
        If a number is not above 0, or the frequency is too high for the rate.
    """
    highest = positive(highest_hz, "highest_hz")
    wanted = output_rate_hz / (_RATE_OVER_HIGHEST * highest)
    factors = [n for n in range(1, int(wanted) + 1) if output_rate_hz % n == 0]
    if not factors:
        raise InputError(
            f"the design reaches up to {highest:g} Hz; at a sampling rate of {output_rate_hz} Hz "
            f"it may reach up to {output_rate_hz / _RATE_OVER_HIGHEST:g} Hz"
        )
    rate = output_rate_hz / factors[-1]
    taps = round(positive(filter_s, "filter_s") * rate)
    needed = taps + int(np.ceil(positive(response_s, "response_s") * rate))
    period = 2 * fft.next_fast_len((needed + 1) // 2)
    return Grid(rate, factors[-1], taps, period, int(highest * period / rate))


def response_spectra(samples: NDArray[np.float32], grid: Grid) -> C:
    """Spectra of responses on the grid's bins, by direct transform.

    The few bins of the bass cost less as one matrix product than all bins do by fast transform;
    in float32, whose rounding stays below -100 dB.

    Parameters
    ----------
    samples
        (..., n) at the output's rate.
    grid
        The design's.

    Returns
    -------
    ndarray
        (..., bins).

    Raises
    ------
    InputError
        If a sample is not a number.
    """
    given = finite(samples, "the responses").astype(np.float32)
    blocks = -(-given.shape[-1] // _BLOCK)
    padded = np.zeros((given.size // given.shape[-1], blocks * _BLOCK), dtype=np.float32)
    padded[:, : given.shape[-1]] = given.reshape(padded.shape[0], -1)
    # Angles reduced to one turn in whole numbers keep their precision over long responses.
    turn = grid.period * grid.factor
    bins = np.arange(1, grid.bins + 1)
    once = np.exp(-2j * np.pi / turn * np.arange(turn)).astype(np.complex64)
    table = once[np.outer(np.arange(_BLOCK), bins) % turn]
    parts = padded.reshape(-1, _BLOCK) @ np.ascontiguousarray(table.real) + 1j * (
        padded.reshape(-1, _BLOCK) @ np.ascontiguousarray(table.imag)
    )
    starts = once[np.outer(_BLOCK * np.arange(blocks), bins) % turn]
    spectra = np.einsum("rnb,nb->rb", parts.reshape(-1, blocks, grid.bins), starts)
    return np.asarray(spectra.reshape(*given.shape[:-1], grid.bins), dtype=np.complex128)


def at_output_rate(taps: F, grid: Grid) -> F:
    """Taps (..., T) interpolated to the output's rate, (..., T x factor); the response stays."""
    return interpolated(taps, grid.factor)
