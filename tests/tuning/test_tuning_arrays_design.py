"""The whole design: chosen by held-back stations, within limits, told honestly.

The bounds on error, decay and variance of the filters guard what the design reaches on these
layouts against getting worse; they are not targets of a publication. Those on the simple array
at its ideal places are the figures of its theory.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from array_rooms import BETA, RATE, SIZE, array, box_responses, misplaced, on_the_floor, stations
from scipy import signal

from roomwright._errors import Cancelled, InputError
from roomwright.tuning.arrays import (
    ArrayDesign,
    ArrayOptions,
    ControlBand,
    Drivers,
    Emitters,
    StationGrid,
    absorbing_gain,
    control_band,
    designed_array,
    emitters,
    held_back,
    simple_array,
    station_grid,
)
from roomwright.tuning.arrays.design import filters_or_simple
from roomwright.tuning.arrays.evidence import AHEAD_S
from roomwright.tuning.arrays.stations import refuse_dependent

POINTS = stations(0.95, 1.45)


def drivers(reserve_db: float = 6.0, count: int = 8) -> Drivers:
    return Drivers(np.full(count, reserve_db), np.full(count, 20.0))


def measured(found: Emitters, points: np.ndarray = POINTS) -> StationGrid:
    return station_grid(box_responses(found.position_m, points), RATE, points, timed=True)


def design(found: Emitters, grid: StationGrid, reserve_db: float = 6.0, **options) -> ArrayDesign:
    simple = simple_array(found, absorbing_gain(SIZE, np.full(6, BETA), 6.0))
    own = drivers(reserve_db, len(found.names))
    return designed_array(found, simple, grid, own, ArrayOptions(**options))


@pytest.fixture(scope="module")
def off_grid() -> StationGrid:
    return measured(misplaced(0.3))


@pytest.fixture(scope="module")
def off_design(off_grid) -> ArrayDesign:
    return design(misplaced(0.3), off_grid)


def test_ideal_places_keep_gains_and_delays():
    """Nothing is left to gain, and filters would cost latency.

    Of the two aims for ideal places 0.2 dB2 is met twice over, and decay as fast as can be read to
    20 %. An error of -20 dB is a hundredth of the energy: the levels of 0.1 dB2 allow no more.
    """
    found = design(array(), measured(array()))
    assert found.chosen == "simple"
    assert found.band == ControlBand(20.0, 120.0)
    assert found.by_simple.spatial_variance_db2 < 0.1
    assert found.by_simple.error_all_db < -20.0
    assert "less than 3 dB and 0.1 dB2" in found.findings[-1].text
    below = found.by_simple.mid_hz < 90.0  # the first mode across has its skirt there
    times = found.by_simple.decay.time_s[:, below].max(axis=0)
    assert np.all(times < 1.2 * found.by_simple.decay.limit_s[below])


def test_misplaced_emitters_get_filters_that_hold_where_they_were_not_fitted(off_design):
    """Up to 50 Hz all but 0.2 % of the energy is the wave; less towards the limit.

    Some of the stations held back are corners of the grid, which is why it is less there. Twice
    the margin of 3 dB that filters have to win by, and a spread below the third, are what this
    case reaches, no aim; limits of drive and of what is ahead of the wave are aims. That of 1 dB2
    is just missed at these and up to 120 Hz; `docs/bass_rooms.md` has rooms, heads and 25 to
    100 Hz.
    """
    filters, simple = off_design.by_filters, off_design.by_simple
    assert off_design.chosen == "filters"
    assert filters.error_all_db < simple.error_all_db - 6.0
    assert np.all(filters.error_db[filters.mid_hz < 60.0] < -27.0)
    assert filters.spatial_variance_db2 < 0.3 * simple.spatial_variance_db2
    assert filters.quiet_ahead
    assert filters.headroom_db.min() >= 0.0
    low = filters.mid_hz < 70.0
    assert np.max((filters.decay.time_s / filters.decay.limit_s)[:, low]) < 1.2
    assert np.max((simple.decay.time_s / simple.decay.limit_s)[:, low]) > 5.0
    assert filters.late_db < simple.late_db - 6.0
    # Where they were fitted they look better than they are, but not out of all proportion.
    fitted_db = off_design.designed.error_all_db
    assert fitted_db < filters.error_all_db < fitted_db + 6.0


@pytest.mark.parametrize(
    ("variance", "slower", "chosen"),
    [
        (0.0, 1.0, "simple"),
        (0.0, 1.4, "simple"),
        (0.0, 1.6, "filters"),
        (0.19, 1.6, "filters"),
        (0.21, 1.6, "simple"),
    ],
)
def test_filters_may_win_by_decay_alone(off_design, variance, slower, chosen):
    """As even but 1.6 times as slow: the margin is 1.5; it may cost 0.2 dB2, the aim of arrays."""
    filters = off_design.by_filters
    decay = replace(filters.decay, time_s=slower * filters.decay.time_s)
    even = filters.spatial_variance_db2 - variance
    simple = replace(filters, decay=decay, spatial_variance_db2=even)
    found, why = filters_or_simple(simple, filters)
    assert found == chosen
    assert f"the slowest decay {slower:.1f} times as fast" in why.text


def test_the_control_band_is_reduced_to_what_the_emitters_can_tell_apart():
    """All in the lower half of their walls: the vertical mode can no more be cancelled."""
    ideal = array()
    low = ideal.position_m * (1.0, 1.0, 0.4)
    found = emitters(ideal.names, low, ideal.launches, SIZE, [])
    band, findings = control_band(found, POINTS, (20.0, 120.0))
    assert band.high_hz < 120.0
    assert any("controls the bass up to" in f.text for f in findings)


def test_held_back_stations_are_not_seen(off_grid, off_design):
    """Other responses there: the same taps."""
    samples = off_grid.samples.copy()
    samples[:, off_design.held] = samples[:, off_design.held][..., ::-1] * 3
    other = design(misplaced(0.3), replace(off_grid, samples=samples))
    assert other.taps == pytest.approx(off_design.taps, abs=1e-12)
    assert other.by_filters.error_all_db > off_design.by_filters.error_all_db + 6.0
    assert other.chosen == "simple"


def test_the_taps_at_the_output_do_what_is_predicted(off_grid, off_design):
    """Plain convolution at the output's rate: level, and silence ahead of the wave."""
    at = int(np.flatnonzero(off_design.held)[0])
    result = sum(
        signal.fftconvolve(taps, response)
        for taps, response in zip(
            off_design.taps, off_grid.samples[:, at].astype(float), strict=True
        )
    )
    assert off_design.taps.shape == (8, off_design.grid.taps * off_design.grid.factor)
    frequency = np.geomspace(20.0, 70.0, 30)
    turn = np.exp(-2j * np.pi * np.outer(frequency, np.arange(result.size)) / RATE)
    level = 20 * np.log10(np.abs(turn @ result))
    asked = 20 * np.log10(off_design.level)
    assert np.std(level) < 1.0
    assert np.mean(level) == pytest.approx(asked, abs=1.0)
    ahead = int((off_design.latency_s + POINTS[at, 1] / 343.0 - AHEAD_S[1]) * RATE)
    assert np.sum(result[:ahead] ** 2) < 1e-3 * np.sum(result**2)


def test_hard_limits_hold_between_the_bins(off_grid):
    """Limits at which free filters would go beyond; the response of the taps on a fine grid."""
    few = replace(
        off_grid, samples=off_grid.samples[:, ::3], position_m=POINTS[::3], weights=np.ones(14)
    )
    found = design(misplaced(0.3), few, reserve_db=-1.0, wanted_hz=(20.0, 70.0), filter_s=0.2)
    frequency = np.linspace(15.0, 200.0, 1200)
    turn = np.exp(-2j * np.pi * np.outer(np.arange(found.taps.shape[1]), frequency) / RATE)
    most = drivers(-1.0).limit(frequency)
    assert np.all(most * 10 ** (0.05 / 20) > np.abs(found.taps @ turn).T)
    assert found.by_filters.headroom_db.min() >= 0.0
    assert found.by_filters.headroom_db.min() < 0.5


def test_four_on_the_floor_are_told_that_they_reach_to_the_vertical_mode():
    found = design(on_the_floor(), measured(on_the_floor()))
    assert found.chosen == "simple"
    # 0.8 of c / 2H
    assert found.band.high_hz == pytest.approx(0.8 * 343.0 / 5.4, rel=1e-3)
    texts = " ".join(f.text for f in found.findings)
    assert "drive a mode across the room from 64 Hz on" in texts
    assert "spread them evenly over their wall" in texts


def test_a_grid_too_coarse_reduces_the_band():
    points = np.array([(x, y, z) for z in (1.0, 1.4) for x in (0.6, 2.2, 3.8) for y in (2.4, 4.1)])
    band, findings = control_band(array(), points, (20.0, 120.0))
    assert band.high_hz == pytest.approx(343.0 / (3 * 1.7))
    assert any("add stations between them" in f.text for f in findings)
    far = points * (1.0, 3.0, 1.0)
    with pytest.raises(InputError, match="in control from 20 to 22 Hz only: the stations are"):
        control_band(array(), far, (20.0, 120.0))
    with pytest.raises(InputError, match="ask for a wider band"):
        control_band(array(), points, (40.0, 50.0))
    with pytest.raises(InputError, match="must rise"):
        control_band(array(), points, (50.0, 40.0))


def test_one_height_is_doubted():
    _, findings = control_band(array(), stations(1.2), (20.0, 120.0))
    assert [(f.severity, "one height" in f.text) for f in findings] == [("doubt", True)]


def test_the_band_fades_over_an_octave():
    band = ControlBand(20.0, 100.0)
    share = band.share([5.0, 10.0, 20.0, 60.0, 100.0, 100.0 * np.sqrt(2.0), 200.0, 400.0])
    assert share == pytest.approx([0, 0, 1, 1, 1, 0.5, 0, 0], abs=1e-12)


def test_a_quarter_of_the_stations_is_held_back_from_every_part_of_the_grid():
    held = held_back(POINTS)
    assert held.sum() == round(0.25 * len(POINTS))
    for axis in range(3):
        places = np.unique(np.round(POINTS[held, axis], 2))
        assert places.size >= min(2, np.unique(np.round(POINTS[:, axis], 2)).size)
    # None is farther from those that are used than a step of the grid.
    kept = POINTS[~held]
    nearest = [np.min(np.linalg.norm(kept - p, axis=1)) for p in POINTS[held]]
    assert max(nearest) <= 0.81


def test_refused(off_grid):
    samples = off_grid.samples
    with pytest.raises(InputError, match="no common time reference"):
        station_grid(samples, RATE, POINTS, timed=False)
    broken = samples.copy()
    broken[3, 4, 5] = np.nan
    with pytest.raises(InputError, match="not a number at index 3, 4, 5"):
        station_grid(broken, RATE, POINTS, timed=True)
    with pytest.raises(InputError, match="filters need 6 or more"):
        station_grid(samples[:, :5], RATE, POINTS[:5], timed=True)
    with pytest.raises(InputError, match="as many positions"):
        station_grid(samples, RATE, POINTS[:-1], timed=True)
    with pytest.raises(InputError, match="count more than 0"):
        station_grid(samples, RATE, POINTS, timed=True, weights=np.zeros(len(POINTS)))
    with pytest.raises(InputError, match="must be the same"):
        design(misplaced(0.3), replace(off_grid, samples=samples[:4]))


def test_subwoofers_that_cannot_be_told_apart_are_named(off_grid):
    found = misplaced(0.3)
    same = off_grid.samples.copy()
    same[5] = 0.5 * same[1]
    with pytest.raises(InputError, match=f"{found.names[1]}, {found.names[5]} cannot be told"):
        design(found, replace(off_grid, samples=same))
    same[5] = 0.0
    with pytest.raises(InputError, match=f"{found.names[5]} gives nothing"):
        design(found, replace(off_grid, samples=same))
    rng = np.random.default_rng(1)
    refuse_dependent(rng.standard_normal((4, 3, 50)) + 0j, tuple("abcd"))


def test_fewer_stations_than_subwoofers_are_doubted():
    few = POINTS[::6]
    found = emitters(array().names, array().position_m, array().launches, SIZE, few)
    result = design(found, measured(found, few), wanted_hz=(20.0, 60.0))
    assert any("fewer than there are subwoofers" in f.text for f in result.findings)


def test_the_design_can_be_stopped(off_grid):
    def stop(fraction: float, _: str) -> None:
        if fraction > 0.1:
            raise Cancelled

    simple = simple_array(misplaced(0.3), 0.9)
    with pytest.raises(Cancelled):
        designed_array(misplaced(0.3), simple, off_grid, drivers(), progress=stop)
