"""Where a decay sinks into the noise."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from roomwright.analysis._line import line_through
from roomwright.signals import power_db

#: The decay is averaged over blocks this long to find its slope (Lundeby: 10 to 50 ms).
SHORTEST_BLOCK_S = 0.01

#: The slope is taken from this range above the noise, dB.
_ABOVE_NOISE_DB = (5.0, 25.0)

_ROUNDS = 6

_TINY = float(np.finfo(np.float64).tiny)


@dataclass(frozen=True, slots=True)
class Floor:
    """The end of a decay.

    `noise` is the power of the noise, `stop` the index where the decay meets it, `tail` the sum
    of the power the decay would still have had beyond, and `range_db` the highest block's level
    above the noise.
    """

    noise: float
    stop: int
    tail: float
    range_db: float


def floor_of(power: NDArray[np.float64], step_s: float, average_s: float) -> Floor | None:
    """Noise power and end of a decay, or None where there is no decay above the noise.

    Iterates between the late slope and the noise beyond its end, after Lundeby, Vigran, Bietz &
    Vorlaender, Acustica 81 (1995), from memory. The last twentieth of the response is left out:
    it may have been faded.

    Parameters
    ----------
    power
        Instantaneous power, shape (m,).
    step_s
        Its sampling interval, seconds.
    average_s
        Averaging time, seconds.
    """
    usable, width = _blocks(power, step_s, average_s)
    peak, noise = int(np.argmax(usable)), _end_power(usable)
    stop, slope = usable.size, 0.0
    for _ in range(_ROUNDS):
        fitted = _late_slope(usable, peak, noise)
        if fitted is None:
            return None
        slope, meets = fitted
        before, stop = stop, int(np.clip(meets, peak + 1, usable.size))
        # The noise is read where the decay lies 10 dB below it, or from the last tenth.
        beyond = min(stop + int(np.ceil(10.0 / -slope)), int(0.9 * usable.size))
        noise = float(usable[beyond:].mean())
        if stop == before:
            break
    # A decay of `slope` dB a block continues as a geometric series.
    ratio = 10.0 ** (slope / 10.0 / width)
    range_db = float(power_db(usable[peak] / max(noise, _TINY)))
    return Floor(noise, stop * width, max(noise, _TINY) / (1.0 - ratio), range_db)


def peak_to_noise_db(power: NDArray[np.float64], step_s: float, average_s: float) -> float:
    """Level of the highest block above the end of the response, dB; 0 for silence."""
    usable, _ = _blocks(power, step_s, average_s)
    return float(power_db(max(usable.max(), _TINY) / max(_end_power(usable), _TINY)))


def _blocks(
    power: NDArray[np.float64], step_s: float, average_s: float
) -> tuple[NDArray[np.float64], int]:
    """Mean power of each block that may be used, and the samples in a block."""
    width = max(1, min(round(average_s / step_s), power.size // 8))
    blocks = power[: power.size // width * width].reshape(-1, width).mean(axis=1)
    return blocks[: max(int(0.95 * blocks.size), 1)], width


def _end_power(blocks: NDArray[np.float64]) -> float:
    """Median power of the last fifth."""
    return float(np.median(blocks[int(0.8 * blocks.size) :]))


def _late_slope(blocks: NDArray[np.float64], peak: int, noise: float) -> tuple[float, float] | None:
    """Slope in dB a block just above the noise, and the block where it meets the noise."""
    levels = power_db(blocks[peak:] / max(noise, _TINY))
    low, high = _ABOVE_NOISE_DB
    below = np.flatnonzero(levels < low)
    end = int(below[0]) if below.size else levels.size
    above = np.flatnonzero(levels[:end] > high)
    start = int(above[-1]) if above.size else 0
    if end - start < 3:
        start = max(end - 3, 0)
    if end - start < 3:
        return None
    slope, level, _ = line_through(levels[start:end])
    return (slope, peak + start - level / slope) if slope < -1e-6 else None
