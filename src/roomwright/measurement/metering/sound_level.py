"""A sound level meter that follows an input block by block (IEC 61672-1:2013)."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final, Literal

import numpy as np
import scipy
from numpy.typing import NDArray

from roomwright import _checks
from roomwright._errors import InputError
from roomwright.signals import (
    REFERENCE_PRESSURE_PA,
    WeightingKind,
    amplitude_db,
    power_db,
    weighting_sos,
)

F = NDArray[np.float64]

TimeWeighting = Literal["fast", "slow"]

#: Time constants, seconds (IEC 61672-1:2013, 3.9).
TIME_CONSTANTS_S: Final[dict[TimeWeighting, float]] = {"fast": 0.125, "slow": 1.0}

#: Percentile levels count the time-weighted level this often, in classes of this width.
_COUNTS_A_SECOND, _CLASS_DB = 100, 0.1
_LOWEST_CLASS_DB, _CLASSES = -200.0, 4000

#: What is not settled yet is not counted: after five time constants 0.03 dB are missing.
_SETTLING = 5.0

#: A sample at least this large is taken to be clipped.
_FULL_SCALE = 0.999


@dataclass(frozen=True, slots=True)
class SoundLevel:
    """What a sound level meter shows.

    All levels are in dB re 20 uPa if `absolute`, else in dB re a full-scale sine; minus infinity
    where there was only digital silence, NaN where nothing was measured yet.

    Attributes
    ----------
    level_db
        With the meter's weightings, now.
    maximum_db
        Highest of it since the start.
    equivalent_db
        Leq since the start, with the frequency weighting.
    peak_db
        Highest magnitude of the weighted signal since the start.
    duration_s
        Since the start.
    clipped
        Whether the input reached full scale since the start.
    absolute
        Whether the microphone's sensitivity is known.
    """

    level_db: float
    maximum_db: float
    equivalent_db: float
    peak_db: float
    duration_s: float
    clipped: bool
    absolute: bool


class SoundLevelMeter:
    """Follows an input; what it shows is exact at the end of the last block, whatever its length.

    Parameters
    ----------
    sampling_rate_hz
        Hertz.
    sensitivity_pa
        Pressure (peak) in pascal at digital full scale; None leaves levels re full scale.
    weighting
        Frequency weighting.
    time_weighting
        Of the level shown; Leq and peak have none.

    Raises
    ------
    InputError
        If the rate or the sensitivity is not allowed.
    """

    def __init__(
        self,
        sampling_rate_hz: int,
        sensitivity_pa: float | None = None,
        *,
        weighting: WeightingKind = "C",
        time_weighting: TimeWeighting = "slow",
    ) -> None:
        self._rate = sampling_rate_hz
        self._absolute = sensitivity_pa is not None
        self._scale = reference_scale(sensitivity_pa)
        self._sos = weighting_sos(weighting, sampling_rate_hz)
        time_s = TIME_CONSTANTS_S[time_weighting]
        decay = float(np.exp(-1.0 / (time_s * sampling_rate_hz)))
        self._smoother = (np.array([1.0 - decay]), np.array([1.0, -decay]))
        self._settled = round(_SETTLING * time_s * sampling_rate_hz)
        self._step = max(round(sampling_rate_hz / _COUNTS_A_SECOND), 1)
        self._filter_state = np.zeros((self._sos.shape[0], 2))
        self._smooth_state = np.zeros(1)
        self._now = 0.0
        self.restart()

    def restart(self) -> None:
        """Forget maximum, Leq, percentiles and peak; the level shown goes on."""
        self._energy, self._heard, self._highest, self._peak = 0.0, 0, 0.0, 0.0
        self._counts = np.zeros(_CLASSES, dtype=np.int64)
        self._clipped = False

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
        self._clipped |= bool(np.max(np.abs(block)) >= _FULL_SCALE)
        weighted, self._filter_state = scipy.signal.sosfilt(
            self._sos, block * self._scale, zi=self._filter_state
        )
        self._peak = max(self._peak, float(np.max(np.abs(weighted))))
        power = np.square(weighted)
        smooth, self._smooth_state = scipy.signal.lfilter(
            *self._smoother, power, zi=self._smooth_state
        )
        self._now = float(smooth[-1])
        self._highest = max(self._highest, float(smooth.max()))
        self._energy += float(power.sum())
        self._count(smooth)
        self._heard += block.size

    def show(self) -> SoundLevel:
        """The levels at the end of the last block."""
        mean = self._energy / self._heard if self._heard else float("nan")
        known = self._heard > 0
        return SoundLevel(
            level_db=float(power_db(self._now)) if known else float("nan"),
            maximum_db=float(power_db(self._highest)) if known else float("nan"),
            equivalent_db=float(power_db(mean)),
            peak_db=float(amplitude_db(self._peak)) if known else float("nan"),
            duration_s=self._heard / self._rate,
            clipped=self._clipped,
            absolute=self._absolute,
        )

    def percentile_db(self, percent: float) -> float:
        """The level that was exceeded for so many percent of the time since the start.

        NaN until five time constants have passed.

        Raises
        ------
        InputError
            If the percentage is not above 0 and below 100.
        """
        if not 0 < percent < 100:
            raise InputError(
                f"a percentile level of {percent:g} % was asked for; allowed is above 0 to below "
                "100 %"
            )
        total = int(self._counts.sum())
        if total == 0:
            return float("nan")
        above = np.cumsum(self._counts[::-1])[::-1]
        at = int(np.flatnonzero(above >= percent / 100.0 * total)[-1])
        return _LOWEST_CLASS_DB + (at + 0.5) * _CLASS_DB

    def _count(self, smooth: F) -> None:
        first = max(self._settled - self._heard, 0)
        first += -(self._heard + first) % self._step
        levels = power_db(np.maximum(smooth[first :: self._step], 1e-30))
        classes = ((levels - _LOWEST_CLASS_DB) / _CLASS_DB).astype(np.int64)
        np.add.at(self._counts, np.clip(classes, 0, _CLASSES - 1), 1)


def reference_scale(sensitivity_pa: float | None) -> float:
    """What turns samples into the unit whose mean square is 1 at 0 dB."""
    if sensitivity_pa is None:
        return float(np.sqrt(2.0))  # a full-scale sine has 0 dB
    return _checks.positive(sensitivity_pa, "the microphone's sensitivity") / REFERENCE_PRESSURE_PA


def input_block(samples: NDArray[np.floating]) -> F:
    """A block of one input, shape (n,), as a copy that may be changed.

    Raises
    ------
    InputError
        If it is not one row of finite samples.
    """
    block = _checks.finite(samples, "the input").astype(np.float64)
    if block.ndim != 1:
        raise InputError(f"a meter follows one input; got the shape {block.shape}")
    return block
