"""The correction wanted of a source."""

from __future__ import annotations

import numpy as np
import pytest

from roomwright.model import TuningLimits
from roomwright.tuning.correction import (
    DRIVER_SKIRT_DB,
    NULL_SKIRT_DB,
    Average,
    Bands,
    average_response,
    correction_grid_hz,
    wanted_correction,
)

RATE = 48000
GRID = correction_grid_hz(RATE)
BINS = np.fft.rfftfreq(RATE, 1 / RATE)
BANDS = Bands((60.0, 12000.0), (50.0, 20000.0), (500.0, 2000.0))
FLAT = np.zeros(GRID.size)


def average_of(level_db, variance_db2=0.0) -> Average:
    """An average with a given level, its octave average 0 dB."""
    return Average(GRID, level_db + FLAT, FLAT, variance_db2 + FLAT)


def bell(centre_hz, gain_db, octaves):
    return gain_db * np.exp(-((np.log2(GRID / centre_hz) / octaves) ** 2))


def test_a_response_on_target_wants_nothing():
    target = -1.5 * np.log2(GRID / 1000)
    correction = wanted_correction(average_of(target + 40.0), target, BANDS, TuningLimits())
    np.testing.assert_allclose(correction.wanted.level_db, 0, atol=1e-9)
    assert correction.nulls_hz == ()
    assert correction.short_db == 0


def test_a_bump_is_cut_and_a_dip_is_lifted_up_to_the_limit():
    level = bell(200, 5, 0.3) + bell(3000, -6, 0.5)
    correction = wanted_correction(average_of(level), FLAT, BANDS, TuningLimits())
    at = {f: int(np.argmin(np.abs(GRID - f))) for f in (200, 3000)}
    assert correction.wanted.level_db[at[200]] == pytest.approx(-5, abs=0.2)
    assert correction.wanted.level_db[at[3000]] == TuningLimits().maximum_boost_db
    assert correction.short_db == pytest.approx(2.0, abs=0.2)
    assert correction.short_hz == pytest.approx(3000, rel=0.05)


def test_a_deep_null_is_left_alone_and_named():
    correction = wanted_correction(average_of(bell(100, -25, 0.12)), FLAT, BANDS, TuningLimits())
    assert correction.nulls_hz == (pytest.approx(100, rel=0.03),)
    dip = np.abs(np.log2(GRID / 100)) < 0.3
    assert correction.wanted.level_db[dip].max() <= 0
    np.testing.assert_array_equal(correction.wanted.ceiling_db[dip], NULL_SKIRT_DB)
    assert correction.short_db == 0


def test_no_boost_outside_the_drivers_limits():
    correction = wanted_correction(average_of(-8.0), FLAT + 0.0, BANDS, TuningLimits())
    np.testing.assert_array_equal(correction.wanted.level_db, 0)
    below = GRID < 50
    rolling = wanted_correction(
        average_of(np.where(GRID < 80, -8.0, 0.0)), FLAT, BANDS, TuningLimits()
    )
    np.testing.assert_array_equal(rolling.wanted.level_db[below], 0)
    np.testing.assert_array_equal(rolling.wanted.ceiling_db[below], DRIVER_SKIRT_DB)
    assert rolling.wanted.level_db[(GRID > 60) & (GRID < 80)].min() == 4.0


def test_what_stations_do_not_share_counts_less():
    """1 / (1 + variance / (3 dB)^2): a half at 3 dB, a tenth at 9 dB of deviation."""
    for deviation, share in ((0, 1.0), (3, 0.5), (9, 0.1)):
        correction = wanted_correction(average_of(0.0, deviation**2), FLAT, BANDS, TuningLimits())
        inside = (GRID > 60) & (GRID < 12000)
        np.testing.assert_allclose(correction.wanted.weight[inside], share)


def test_the_average_is_that_of_power_with_weights():
    power = np.stack([np.full(BINS.size, 1.0), np.full(BINS.size, 4.0)])
    average = average_response(power, BINS, np.array([2.0, 1.0]), 150.0, GRID)
    np.testing.assert_allclose(average.level_db, 10 * np.log10(2.0), atol=1e-9)
    np.testing.assert_allclose(average.octave_db, 10 * np.log10(2.0), atol=1e-9)
    # Each station's own level is taken out of the variance: both shapes are flat.
    np.testing.assert_allclose(average.variance_db2, 0, atol=1e-15)


def test_a_station_without_weight_is_left_out():
    power = np.stack([np.ones(BINS.size), np.full(BINS.size, np.nan)])
    average = average_response(power, BINS, np.array([1.0, 0.0]), 150.0, GRID)
    np.testing.assert_allclose(average.level_db, 0, atol=1e-9)


def test_the_variance_is_that_of_the_shapes():
    """A 10 dB step at one of two stations: at the step's foot the shapes part by 5 dB."""
    step = np.where(BINS < 1000, 1.0, 10.0)
    power = np.stack([step, np.ones(BINS.size)])
    average = average_response(power, BINS, np.ones(2), 150.0, GRID)
    near = (GRID > 700) & (GRID < 800)
    # Three octaves around hold half the step there, less what the distance takes: 4.4 dB to 3.6 dB
    # of difference, whose variance over two stations is a quarter of its square.
    assert 3.2 < average.variance_db2[near].min() < average.variance_db2[near].max() < 5.3
    # More than an octave and a half away nothing is left.
    far = (GRID < 300) | (GRID > 3500)
    np.testing.assert_allclose(average.variance_db2[far], 0, atol=1e-9)
