"""What was planned and what was heard: the two sides that a wiring check compares."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy import fft

from roomwright.model import Point
from roomwright.signals import band_edges, midbands, power_db

F = NDArray[np.float64]

#: Third octaves in which responses are compared.
BANDS_HZ = midbands(3, 25.0, 12500.0)


@dataclass(frozen=True, slots=True)
class PlannedUnit:
    """One loudspeaker or subwoofer as it is planned.

    `like` names units of the same type, `group` those that play one channel together, if any.
    """

    id: str
    like: str
    position_m: Point
    low_hz: float
    high_hz: float
    low_slope_db: int = 12
    high_slope_db: int = 12
    level_db: float = 0.0
    subwoofer: bool = False
    group: str | None = None

    def shape_db(self, frequency_hz: F) -> F:
        """Level over frequency by its data sheet: Butterworth roll-offs at its limits, dB."""
        low = (self.low_hz / frequency_hz) ** (self.low_slope_db / 3.0)
        high = (frequency_hz / self.high_hz) ** (self.high_slope_db / 3.0)
        return np.asarray(-10.0 * np.log10((1.0 + low) * (1.0 + high)))


@dataclass(frozen=True, slots=True, eq=False)
class DrawnBass:
    """What the drawn room lets expect of the early bass of S units at P stations.

    Attributes
    ----------
    frequency_hz
        Shape (F,).
    damping_per_s
        All sound is damped by exp(-damping t): what is late, and depends on what walls and
        furniture absorb, counts less.
    responses
        By data sheet and place, up to a factor for each unit, shape (S, P, F).
    """

    frequency_hz: F
    damping_per_s: float
    responses: NDArray[np.complex128]


@dataclass(frozen=True, slots=True, eq=False)
class HeardSystem:
    """Responses of S units at P stations, and where both are planned.

    Attributes
    ----------
    units
        The S units, in order.
    stations
        Names of the P stations, in the order in which they were measured.
    station_m
        Their places, shape (P, 3).
    samples
        Impulse responses, shape (S, P, n).
    usable
        Which pairs can be compared, shape (S, P).
    sampling_rate_hz
        Of the responses.
    band_db
        Their levels in `BANDS_HZ`, from `band_levels_db`, shape (S, P, M).
    top_hz
        Up to which frequency each stands clear of its noise, shape (S, P).
    timed
        Whether sample 0 is the moment the signal left the output.
    speed_m_s
        Of sound.
    drawn
        What is expected of the bass, None if the room cannot be computed.
    """

    units: tuple[PlannedUnit, ...]
    stations: tuple[str, ...]
    station_m: F
    samples: NDArray[np.floating]
    usable: NDArray[np.bool_]
    sampling_rate_hz: int
    band_db: F
    top_hz: F
    timed: bool = True
    speed_m_s: float = 343.0
    drawn: DrawnBass | None = None

    def planned_m(self) -> F:
        """Planned distances, shape (S, P)."""
        units = np.array([unit.position_m for unit in self.units])
        return np.asarray(np.linalg.norm(units[:, None, :] - self.station_m[None], axis=-1))

    def mean_db(self) -> F:
        """Power average of `band_db` over the usable stations, shape (S, M); NaN without any."""
        power = np.where(self.usable[..., None], 10.0 ** (self.band_db / 10.0), np.nan)
        count = self.usable.sum(axis=1)[:, None]
        total = np.nansum(power, axis=1)
        return power_db(np.where(count > 0, total / np.maximum(count, 1), np.nan))

    def rows(self, *, subwoofers: bool) -> list[int]:
        """Units of a kind that were heard somewhere."""
        return [
            row
            for row, unit in enumerate(self.units)
            if unit.subwoofer == subwoofers and self.usable[row].any()
        ]


def band_levels_db(samples: NDArray[np.floating], rate: int) -> F:
    """Mean power density of responses in `BANDS_HZ`, dB, shape (..., M) for (..., n)."""
    length = fft.next_fast_len(max(samples.shape[-1], rate // 4), real=True)
    power = np.abs(fft.rfft(samples, length, axis=-1, workers=-1)) ** 2
    low, high = band_edges(BANDS_HZ, 3)
    grid = fft.rfftfreq(length, 1.0 / rate)
    sums = np.cumsum(power, axis=-1, dtype=np.float64)
    first, last = np.searchsorted(grid, low), np.searchsorted(grid, high)
    last = np.minimum(np.maximum(last, first + 1), grid.size - 1)
    mean = (sums[..., last - 1] - sums[..., first - 1]) / (last - first)
    return power_db(np.maximum(mean, 1e-30))
