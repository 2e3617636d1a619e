"""Early against late energy: clarity, definition, centre time."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from roomwright._checks import finite, positive
from roomwright.analysis._band_power import BandPower, block_s, broad_power, power_in_bands
from roomwright.analysis._noise_floor import SHORTEST_BLOCK_S, floor_of
from roomwright.analysis.arrival import onset_index
from roomwright.signals import power_db


@dataclass(frozen=True, slots=True)
class Clarity:
    """Early-to-late measures of responses, each of shape (...).

    `c50_db` and `c80_db` are the energy before against after 50 and 80 ms, dB; `d50` the share
    before 50 ms; `centre_time_s` the centre of gravity of the energy, seconds.
    """

    c50_db: NDArray[np.float64]
    c80_db: NDArray[np.float64]
    d50: NDArray[np.float64]
    centre_time_s: NDArray[np.float64]


def clarity(
    samples: ArrayLike, sampling_rate_hz: float, mid_hz: float | None = None, fraction: int = 1
) -> Clarity:
    """C50, C80, D50 and centre time of responses, counted from the arrival of the direct sound.

    The noise is subtracted, and what the decay would have held beyond the point where it meets
    the noise is added, as for the energy decay curve (ISO 3382-1:2009, Annex A).

    Parameters
    ----------
    samples
        Impulse responses, shape (..., n).
    sampling_rate_hz
        Sampling rate, hertz.
    mid_hz
        Exact midband; None for the whole response.
    fraction
        Bands in an octave.

    Raises
    ------
    InputError
        If a sample is not a number, or the band does not fit the sampling rate.
    """
    rate = positive(sampling_rate_hz, "the sampling rate")
    responses = finite(samples, "the impulse response").astype(np.float64)
    flat = responses.reshape(-1, responses.shape[-1])
    starts = onset_index(flat) / rate
    if mid_hz is None:
        band, average_s = broad_power(flat, rate), SHORTEST_BLOCK_S
    else:
        (band,) = power_in_bands(flat, rate, np.array([mid_hz]), fraction)
        average_s = block_s(mid_hz, fraction)
    rows = [
        _measures(BandPower(power, band.step_s, band.lead_s), float(start), average_s)
        for power, start in zip(band.power, starts, strict=True)
    ]
    early_50, early_80, centre = np.moveaxis(
        np.asarray(rows).reshape(*responses.shape[:-1], 3), -1, 0
    )
    return Clarity(_balance_db(early_50), _balance_db(early_80), early_50, centre)


def _balance_db(early: NDArray[np.float64]) -> NDArray[np.float64]:
    """Level of the early energy against the late, from the early share."""
    late = np.maximum(1.0 - early, np.finfo(np.float64).eps)
    return power_db(early / late)


def _measures(band: BandPower, start_s: float, average_s: float) -> tuple[float, float, float]:
    """Share of energy before 50 ms and before 80 ms, and centre time in seconds."""
    power, tail, tail_time_s = band.power, 0.0, 0.0
    floor = floor_of(power, band.step_s, average_s)
    if floor is not None:
        power, tail = power[: floor.stop] - floor.noise, floor.tail
        # The added tail decays by its own sum over its first value, in samples.
        tail_time_s = band.step_s * floor.tail / max(floor.noise, np.finfo(np.float64).tiny)
    time_s = np.arange(power.size) * band.step_s - band.lead_s - start_s
    whole = float(power.sum()) + tail
    if whole <= 0:
        return np.nan, np.nan, np.nan
    below = np.concatenate(([0.0], np.cumsum(power)))
    edges_s = np.append(time_s, time_s[-1] + band.step_s)
    early = np.interp((0.05, 0.08), edges_s, below) / whole
    # What a reversed filter sends ahead of the arrival belongs to the arrival.
    moment = float(np.maximum(time_s, 0.0) @ power) + tail * (edges_s[-1] + tail_time_s)
    return float(early[0]), float(early[1]), moment / whole
