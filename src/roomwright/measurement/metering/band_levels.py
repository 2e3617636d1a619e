"""Octave and third-octave levels of an input, followed block by block (IEC 61260-1:2014)."""

from __future__ import annotations

from typing import Final

import numpy as np
import scipy
from numpy.typing import NDArray

from roomwright import _checks
from roomwright.measurement.metering.sound_level import input_block, reference_scale
from roomwright.signals import band_edges, band_filter_sos, midbands, power_db

F = NDArray[np.float64]

LOWEST_HZ: Final = 16.0
HIGHEST_HZ: Final = 20000.0


class BandLevels:
    """Levels of all bands of an input; exact at the end of the last block, whatever its length.

    All bands are filtered at the full rate: at 48 kHz lower rates for the low bands save nothing
    (32 bands take 3 % of a core either way).

    Parameters
    ----------
    sampling_rate_hz
        Hertz.
    sensitivity_pa
        Pressure (peak) in pascal at digital full scale; None leaves levels re a full-scale sine.
    fraction
        1 for octaves, 3 for third octaves.
    averaging_s
        Time constant of the levels shown.

    Raises
    ------
    InputError
        If an argument is not allowed.

    Attributes
    ----------
    mid_hz
        Exact midbands from 16 Hz up, as far as the rate allows, shape (bands,).
    """

    def __init__(
        self,
        sampling_rate_hz: int,
        sensitivity_pa: float | None = None,
        *,
        fraction: int = 3,
        averaging_s: float = 1.0,
    ) -> None:
        self._rate = float(_checks.positive(sampling_rate_hz, "the sampling rate"))
        self._scale = reference_scale(sensitivity_pa)
        averaging = _checks.positive(averaging_s, "the averaging time")
        mids = midbands(fraction, LOWEST_HZ, HIGHEST_HZ)
        self.mid_hz = mids[band_edges(mids, fraction)[1] < self._rate / 2]
        self._filters = [band_filter_sos(float(mid), fraction, self._rate) for mid in self.mid_hz]
        self._states = [np.zeros((sos.shape[0], 2)) for sos in self._filters]
        self._decay = float(np.exp(-1.0 / (averaging * self._rate)))
        self._now = np.zeros(self.mid_hz.size)
        self.restart()

    def restart(self) -> None:
        """Forget peak hold and average; the levels shown go on."""
        self._highest = np.zeros(self.mid_hz.size)
        self._energy = np.zeros(self.mid_hz.size)
        self._heard = 0

    def follow(self, samples: NDArray[np.floating]) -> None:
        """Take in the next block of the input, shape (n,), 1.0 = digital full scale.

        Raises
        ------
        InputError
            If it is not one row of finite samples.
        """
        block = input_block(samples)
        if block.size == 0:
            return
        block *= self._scale
        weights = (1.0 - self._decay) * self._decay ** np.arange(block.size - 1, -1, -1)
        self._now *= self._decay**block.size
        for band, sos in enumerate(self._filters):
            out, self._states[band] = scipy.signal.sosfilt(sos, block, zi=self._states[band])
            power = np.square(out)
            self._now[band] += weights @ power
            self._energy[band] += power.sum()
        self._highest = np.maximum(self._highest, self._now)
        self._heard += block.size

    def levels_db(self) -> F:
        """Exponentially averaged levels now, dB re 20 uPa or a full-scale sine, shape (bands,)."""
        return power_db(self._now)

    def peaks_db(self) -> F:
        """The highest of them at the end of any block since the start, shape (bands,)."""
        return power_db(self._highest)

    def equivalent_db(self) -> F:
        """Leq of every band since the start, shape (bands,); NaN before the first block."""
        if not self._heard:
            return np.full(self.mid_hz.size, np.nan)
        return power_db(self._energy / self._heard)
