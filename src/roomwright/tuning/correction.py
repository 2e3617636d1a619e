"""The correction wanted of one source: what to change, how sure that is, what to leave alone."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
import scipy
from numpy.typing import NDArray

from roomwright.model import FollowRange, TuningLimits
from roomwright.signals import log_frequencies, power_db, smooth_power
from roomwright.tuning.wanted import Wanted

F = NDArray[np.float64]

#: The grid of all corrections: 24 points an octave, twice the resolution of the smoothing.
POINTS_PER_OCTAVE = 24
LOWEST_HZ = 15.0

#: Smoothing below the transition and an octave above it; cross-faded between.
_FINE, _BROAD = 12.0, 3.0

#: A dip this far below its own octave's average is a null (practice, from memory).
_NULL_DB = 10.0

#: Standard deviation over stations at which a correction counts half (practice, from memory).
_HALF_TRUST_DB = 3.0

#: The shapes whose variance over stations counts are taken against this many octaves around.
_SHAPE_OCTAVES = 3

#: What the skirts of filters may add in a null or where nothing is wanted of them, and beyond the
#: driver's limits.
NULL_SKIRT_DB = 0.5
DRIVER_SKIRT_DB = 1.0

#: Beyond the band, what is wanted fades out over this many octaves and counts this much.
_FADE_OCTAVES = 0.5
_OUTSIDE_WEIGHT = 0.1


@dataclass(frozen=True, slots=True)
class Average:
    """A source's response over stations on the grid of corrections, each (F,).

    `level_db` is the level of the weighted mean power, `octave_db` the same over a whole octave,
    `variance_db2` the variance over stations of the shape: each station's own level over three
    octaves around is removed, since a seat that is merely nearer asks for no other correction.
    """

    frequency_hz: F
    level_db: F
    octave_db: F
    variance_db2: F


@dataclass(frozen=True, slots=True)
class Bands:
    """Where a source is to be corrected, where it can be boosted, and where its level is read.

    `corrected_hz` is what the channel will play of it, `driver_hz` lies between its -3 dB points,
    `level_hz` is where its level is aligned with the target's.
    """

    corrected_hz: tuple[float, float]
    driver_hz: tuple[float, float]
    level_hz: tuple[float, float]


@dataclass(frozen=True, slots=True)
class Correction:
    """What is wanted of a source's filters, and what they cannot give.

    `trust` (F,) is the share of each frequency that all stations have in common, `band_hz` where
    the correction is wanted. `nulls_hz` are dips left alone; `short_hz` and `short_db` say where
    and by how much the boost limit is too small.
    """

    wanted: Wanted
    trust: F
    band_hz: tuple[float, float]
    nulls_hz: tuple[float, ...]
    short_hz: float
    short_db: float


def correction_grid_hz(sampling_rate_hz: float) -> F:
    """The frequencies (F,) of all corrections: 15 Hz to 20 kHz, or to 0.45 of the rate."""
    return log_frequencies(LOWEST_HZ, min(20000.0, 0.45 * sampling_rate_hz), POINTS_PER_OCTAVE)


def average_response(
    power: F,
    frequencies_hz: F,
    weights: F,
    transition_hz: float,
    grid_hz: F,
) -> Average:
    """The smoothed mean of a source over stations, and how much the stations differ.

    Smoothed over 1/12 octave below the transition and 1/3 octave from an octave above it,
    cross-faded between (practice: only broad corrections where the room's modes overlap).

    Parameters
    ----------
    power
        Squared magnitudes at the stations, shape (P, bins).
    frequencies_hz
        Frequencies of the bins, shape (bins,).
    weights
        Weight of each station, shape (P,); 0 leaves it out.
    transition_hz
        Where the room's modes begin to overlap.
    grid_hz
        The grid of corrections, shape (F,).
    """
    used = weights > 0
    power, share = power[used], weights[used] / weights[used].sum()
    smooth = average_power(power, frequencies_hz, transition_hz, grid_hz)
    octave = smooth_power(share @ power, frequencies_hz, 1.0, grid_hz)
    levels = power_db(smooth)
    wide = int(_SHAPE_OCTAVES * POINTS_PER_OCTAVE) + 1
    shapes = levels - scipy.ndimage.uniform_filter1d(levels, wide, axis=1, mode="nearest")
    return Average(
        grid_hz,
        power_db(share @ smooth),
        power_db(np.maximum(octave, 1e-300)),
        np.asarray(share @ (shapes - share @ shapes) ** 2),
    )


def average_power(power: F, frequencies_hz: F, transition_hz: float, grid_hz: F) -> F:
    """Power (..., bins) smoothed as it is fitted to: finely below the transition, broadly above.

    Over 1/12 octave below, 1/3 octave from an octave above it; shape (..., F), above 0.
    """
    fine = smooth_power(power, frequencies_hz, _FINE, grid_hz)
    broad = smooth_power(power, frequencies_hz, _BROAD, grid_hz)
    mix = np.clip(np.log2(grid_hz / transition_hz), 0.0, 1.0)
    return np.asarray(np.maximum((1 - mix) * fine + mix * broad, 1e-14 * broad.max() + 1e-300))


def wanted_correction(
    average: Average, target_db: F, bands: Bands, limits: TuningLimits
) -> Correction:
    """The correction that brings an averaged response to the target as far as limits allow.

    Each frequency counts by 1 / (1 + variance / (3 dB)^2) over the stations (only what all
    seats share can be corrected). A dip more than 10 dB below its octave's average is left
    alone over its whole width, and nothing is boosted outside the driver's -3 dB points.

    Parameters
    ----------
    average
        The response, on the grid of corrections.
    target_db
        The target curve on that grid, shape (F,).
    bands
        Where to correct, where boosts are possible, where levels are compared.
    limits
        Boost and cut limits.
    """
    f = average.frequency_hz
    trust = 1.0 / (1.0 + average.variance_db2 / _HALF_TRUST_DB**2)
    error = average.level_db - target_db
    at_level = _inside(f, bands.level_hz)
    offset = float((trust * error)[at_level].sum() / trust[at_level].sum())
    need = offset - error
    inside = _inside(f, bands.corrected_hz)
    null, names = _nulls(average, inside & (need > 0))
    may_boost = _inside(f, bands.driver_hz) & ~null
    need = need * _fade(f, bands.corrected_hz)
    ceiling = np.where(may_boost, limits.maximum_boost_db, 0.0)
    short = np.where(may_boost & inside, need - limits.maximum_boost_db, 0.0)
    worst = int(np.argmax(short))
    wanted = Wanted(
        frequency_hz=f,
        level_db=np.clip(need, -limits.maximum_cut_db, ceiling),
        weight=np.where(inside, trust, _OUTSIDE_WEIGHT),
        ceiling_db=np.minimum(
            limits.maximum_boost_db,
            np.where(null, NULL_SKIRT_DB, np.where(may_boost, np.inf, DRIVER_SKIRT_DB)),
        ),
        floor_db=np.full(f.shape, -limits.maximum_cut_db),
    )
    return Correction(
        wanted, trust, bands.corrected_hz, names, float(f[worst]), max(float(short[worst]), 0.0)
    )


def beside_filters(correction: Correction, set_db: F) -> Correction:
    """What is left of a correction beside filters that are set already.

    What they do counts as done, and nothing is wanted against them: of each wanted level its
    distance from 0 shrinks by theirs. Ceiling and floor shrink alike, but leave half a decibel for
    the skirts of filters beside.

    Parameters
    ----------
    correction
        What is wanted of all filters.
    set_db
        Level of the filters that are set, on the grid of corrections, shape (F,).
    """
    wanted, size = correction.wanted, np.abs(set_db)
    left = replace(
        wanted,
        level_db=np.sign(wanted.level_db) * np.maximum(np.abs(wanted.level_db) - size, 0.0),
        ceiling_db=np.maximum(wanted.ceiling_db - np.maximum(set_db, 0.0), NULL_SKIRT_DB),
        floor_db=np.minimum(wanted.floor_db - np.minimum(set_db, 0.0), -NULL_SKIRT_DB),
    )
    return replace(correction, wanted=left)


def left_alone(correction: Correction, follows: Sequence[FollowRange]) -> Correction:
    """A correction that bends nothing where the loudspeaker's own response is followed.

    There the sum of filters stays within half a decibel of what joins the range to the target.
    """
    wanted = correction.wanted
    ceiling, floor = wanted.ceiling_db.copy(), wanted.floor_db.copy()
    for followed in follows:
        inside = (wanted.frequency_hz >= followed.low_hz) & (
            wanted.frequency_hz <= followed.high_hz
        )
        level = wanted.level_db[inside]
        ceiling[inside] = np.minimum(ceiling[inside], np.maximum(level, 0.0) + NULL_SKIRT_DB)
        floor[inside] = np.maximum(floor[inside], np.minimum(level, 0.0) - NULL_SKIRT_DB)
    return replace(correction, wanted=replace(wanted, ceiling_db=ceiling, floor_db=floor))


def _inside(f: F, band_hz: tuple[float, float]) -> NDArray[np.bool_]:
    """Where the grid lies in a band; the nearest point if it lies between two."""
    inside = (f >= band_hz[0]) & (f <= band_hz[1])
    if not inside.any():
        inside[np.argmin(np.abs(np.log(f**2 / (band_hz[0] * band_hz[1]))))] = True
    return inside


def _fade(f: F, band_hz: tuple[float, float]) -> F:
    below = np.log2(band_hz[0] / f) / _FADE_OCTAVES
    above = np.log2(f / band_hz[1]) / _FADE_OCTAVES
    return np.clip(1.0 - np.maximum(below, above), 0.0, 1.0)


def _nulls(
    average: Average, among: NDArray[np.bool_]
) -> tuple[NDArray[np.bool_], tuple[float, ...]]:
    """The grid points that belong to nulls, and the frequency of each null's deepest point."""
    below = average.level_db - average.octave_db
    dips = np.flatnonzero(np.diff(np.concatenate([[0], below < 0, [0]]).astype(np.int8)))
    null = np.zeros(below.shape, dtype=np.bool_)
    names = []
    for start, stop in dips.reshape(-1, 2):
        deepest = start + int(np.argmin(below[start:stop]))
        if below[deepest] < -_NULL_DB and among[deepest]:
            null[start:stop] = True
            names.append(float(average.frequency_hz[deepest]))
    return null, tuple(names)
