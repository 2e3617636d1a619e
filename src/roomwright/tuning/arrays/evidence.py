"""What an array will give at points: the same numbers for filters and for gains and delays."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from roomwright.analysis import mean_output_level_db, mean_spatial_variance_db2
from roomwright.signals import amplitude_db, band_edges, log_frequencies, midbands, power_db
from roomwright.tuning.arrays.band import ControlBand
from roomwright.tuning.arrays.band_decay import BandDecay, band_decay
from roomwright.tuning.arrays.grid import Grid

F = NDArray[np.float64]
C = NDArray[np.complex128]

#: Energy ahead of the wave by more than this, and what of it is tolerable, dB re all: what
#: precedes a sound by more than 5 to 20 ms is heard (engineering choice, no source).
AHEAD_S = (0.005, 0.010, 0.020)
AHEAD_LIMIT_DB = (-20.0, -30.0, -40.0)

_LATE_S = 0.1
_STEPS_AN_OCTAVE = 24
_NOTHING_DB = -200.0


@dataclass(frozen=True, slots=True)
class Evidence:
    """Prediction in the control band, at points that the design did not use unless said.

    `mid_hz` (b,) are third octaves; `error_db` (b,) is what of the field is not the wave asked for,
    re that wave at the level and phase that fit best at each frequency, mean over frequency; a
    common equaliser leaves it as it is. `error_all_db` is over the whole band. `decay` has the
    times at each point and the shortest that can be read. `spatial_variance_db2`, `range_db` (mean
    over frequency of highest less lowest) and `level_db` are of the level. `drive_db` (S,) is the
    greatest gain of each output and `headroom_db` (S,) the least distance from its limit, negative
    beyond it. `ahead_db` is the energy that precedes the wave by more than each of `AHEAD_S`, and
    `late_db` that of more than 100 ms after it, re all, at the worst point.
    """

    mid_hz: F
    error_db: F
    error_all_db: float
    decay: BandDecay
    spatial_variance_db2: float
    range_db: float
    level_db: float
    drive_db: F
    headroom_db: F
    ahead_db: F
    late_db: float

    @property
    def quiet_ahead(self) -> bool:
        """Whether what precedes the wave stays within the limits."""
        return bool(np.all(self.ahead_db <= AHEAD_LIMIT_DB))


def evidence(
    field: C, drive: C, wanted: C, arrival_s: F, limit: F, band: ControlBand, grid: Grid
) -> Evidence:
    """What drives (bins, S) give at points.

    Parameters
    ----------
    field
        (S, P, bins).
    drive
        (bins, S).
    wanted
        (P, bins) wave asked for.
    arrival_s
        (P,) when it arrives.
    limit
        (bins, S) greatest drives.
    band
        Control band.
    grid
        Of the bins.
    """
    frequencies = grid.frequencies_hz
    inside = band.inside(frequencies)
    result = np.einsum("bs,spb->pb", drive, field)
    missed = _share_beside(result, wanted)
    mids = midbands(3, band.low_hz, band.high_hz)
    edges = zip(*band_edges(mids, 3), strict=True)
    bands = [inside & (frequencies >= low) & (frequencies < high) for low, high in edges]
    mids, bands = mids[[b.any() for b in bands]], [b for b in bands if b.any()]
    at = np.searchsorted(
        frequencies, log_frequencies(band.low_hz, band.high_hz, _STEPS_AN_OCTAVE)
    ).clip(0, frequencies.size - 1)
    level = amplitude_db(np.maximum(np.abs(result[:, at]), 1e-10))
    response = grid.time(result)
    after = np.arange(grid.period) / grid.rate_hz - arrival_s[:, None]
    return Evidence(
        mid_hz=mids,
        error_db=np.array([_db(missed[b].mean()) for b in bands]),
        error_all_db=_db(missed[inside].mean()),
        decay=band_decay(response, grid.rate_hz, mids),
        spatial_variance_db2=float(mean_spatial_variance_db2(level)),
        range_db=float(np.ptp(level, axis=0).mean()),
        level_db=float(mean_output_level_db(level)),
        drive_db=amplitude_db(np.maximum(np.abs(drive).max(axis=0), 1e-10)),
        headroom_db=-amplitude_db(np.maximum((np.abs(drive) / limit).max(axis=0), 1e-10)),
        ahead_db=np.array([_share_db(response, after < -ahead) for ahead in AHEAD_S]),
        late_db=_share_db(response, after > _LATE_S),
    )


def _share_beside(result: C, wave: C) -> F:
    """Energy at points (P, bins) beside the best fit of a wave, re that fit, (bins,)."""
    along = np.abs(np.sum(wave.conj() * result, axis=0)) ** 2 / np.sum(np.abs(wave) ** 2, axis=0)
    beside = np.maximum(np.sum(np.abs(result) ** 2, axis=0) - along, 0.0)
    return np.asarray(beside / np.maximum(along, np.finfo(float).tiny))


def _db(power: float) -> float:
    return float(power_db(max(power, 10.0 ** (_NOTHING_DB / 10.0))))


def _share_db(response: F, part: NDArray[np.bool_]) -> float:
    """Energy of a part of the time re all, at the point where it is greatest."""
    energy = response**2
    share = np.sum(np.where(part, energy, 0.0), axis=1) / energy.sum(axis=1)
    return _db(float(share.max()))
