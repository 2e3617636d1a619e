"""The array of gains and delays alone: what every filter design has to beat."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from roomwright._checks import positive, within
from roomwright.model import OutputTuning
from roomwright.tuning.arrays.emitters import Emitters

F = NDArray[np.float64]
C = NDArray[np.complex128]


@dataclass(frozen=True, slots=True)
class SimpleArray:
    """Gain and delay of each of S emitters; those that absorb have a negative gain."""

    names: tuple[str, ...]
    gain: F
    delay_s: F

    def drives(self, frequencies_hz: F) -> C:
        """Complex drive of every emitter, (S, bins)."""
        turn = np.exp(-2j * np.pi * frequencies_hz * self.delay_s[:, None])
        return np.asarray(self.gain[:, None] * turn)

    def outputs(self) -> tuple[OutputTuning, ...]:
        """The settings of every output."""
        return tuple(
            OutputTuning(
                drives=name,
                trim_db=float(20.0 * np.log10(abs(gain))),
                delay_s=float(delay),
                inverted=bool(gain < 0),
            )
            for name, gain, delay in zip(self.names, self.gain, self.delay_s, strict=True)
        )


def simple_array(
    array: Emitters, absorbing_gain: float, c: float = 343.0, front_s: ArrayLike = 0.0
) -> SimpleArray:
    """Launching as they are; absorbing inverted, later by the wave's way, lower by the losses.

    Parameters
    ----------
    array
        The subwoofers.
    absorbing_gain
        Gain of those that absorb, above 0 to 2; see `absorbing_gain` in `proposal`. Where the
        groups differ in number, it is of all of them together re all that launch.
    c
        Speed of sound, m/s.
    front_s
        How late the front of the wave is at each emitter, (S,), see `front_delays_s`; 0 where the
        walls are alike or not known.

    Raises
    ------
    InputError
        If the gain is outside its range.

    References
    ----------
    Celestinos and Nielsen, JAES 56(11), 2008 (from memory): delay L / c and inverted polarity. That
    L is from wall to wall and the gain for lossy walls are derived in `emitters` and `proposal`.
    """
    positive(absorbing_gain, "absorbing_gain")
    gain = within(absorbing_gain, 0.0, 2.0, "absorbing_gain")
    launching = int(array.launches.sum())
    each = gain * launching / (len(array.names) - launching)
    delay = np.where(array.launches, 0.0, array.travel_m / positive(c, "c"))
    delay += np.asarray(front_s, dtype=np.float64)
    return SimpleArray(array.names, np.where(array.launches, 1.0, -each), delay)
