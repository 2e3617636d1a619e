"""Gains, delays and filters that even out a given set of sources."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from bass_rooms import CentredRoom, CinemaRoom

from roomwright._errors import InputError
from roomwright.model import Biquad, CapabilitySheet
from roomwright.signals import cascade_sos, response
from roomwright.tuning import FitLimits
from roomwright.tuning.bass_design import (
    BassField,
    FilterLimits,
    GainDelayLimits,
    all_equivalent,
    common_correction,
    even_seats,
    gain_and_delay,
    judged,
    judged_playing,
    magnitude_gains,
    mean_level_db,
    playing,
    short_filters,
    with_source_moved,
)
from roomwright.tuning.bass_design.descent import _normal, costs, descend
from roomwright.tuning.bass_design.filters import FilterChain
from roomwright.tuning.bass_design.seats import _bounds

FREQUENCY = CinemaRoom.frequency[::2]
LIMITS = GainDelayLimits()
RATE = 48000.0


@pytest.fixture(scope="module")
def corners():
    return CinemaRoom.field(CinemaRoom.corners, FREQUENCY)


def chain(sources, sets=1):
    lower, upper = _bounds(LIMITS, FilterLimits(), 2, 1)
    return FilterChain(FREQUENCY, RATE, np.ones((sets, sources)), 2, 1, lower, upper)


def test_the_gradient_is_the_slope_of_the_cost(corners):
    """Central differences; a chain with gain, delay, two peaking filters and an all-pass."""
    one = chain(4)
    rng = np.random.default_rng(0)
    at = rng.uniform(one.lower, one.upper, (1, 4, one.lower.size))
    gradient, matrix = _normal(corners[None], one, at, 0.3)
    numeric = np.empty(at.size)
    for place in range(at.size):
        step = np.zeros(at.size)
        step[place] = 1e-5
        ends = [
            costs(corners[None], one.gains(at + sign * step.reshape(at.shape)), 0.3)[0]
            for sign in (1.0, -1.0)
        ]
        numeric[place] = (ends[0] - ends[1]) / 2e-5
    assert 2 * gradient[0] == pytest.approx(numeric, abs=1e-5 * np.abs(numeric).max())
    assert np.linalg.eigvalsh(matrix[0]).min() > -1e-9 * np.abs(matrix).max()


def test_a_chain_is_what_its_settings_and_biquads_do(corners):
    one = chain(4)
    rng = np.random.default_rng(1)
    at = rng.uniform(one.lower, one.upper, (1, 4, one.lower.size))
    gains = one.gains(at)[0]
    for own, parameters in zip(gains, at[0], strict=True):
        sos = cascade_sos(one.biquads(parameters), RATE)
        turn = np.exp(-2e-3j * np.pi * FREQUENCY * parameters[1])
        assert own == pytest.approx(
            np.exp(parameters[0]) * turn * response(sos, FREQUENCY, RATE), rel=1e-9
        )


def test_descent_never_ends_above_its_start_and_keeps_its_bounds(corners):
    one = chain(4, sets=3)
    rng = np.random.default_rng(2)
    start = rng.uniform(one.lower, one.upper, (3, 4, one.lower.size))
    field = np.broadcast_to(corners, (3, *corners.shape))
    reached = descend(field, one, start, 0.3, rounds=5)
    before = costs(field, one.gains(start), 0.3)
    assert np.all(reached.cost < before)
    assert np.all((reached.parameters >= one.lower) & (reached.parameters <= one.upper))
    assert reached.cost == pytest.approx(costs(field, one.gains(reached.parameters), 0.3))


def test_delays_that_were_put_in_are_taken_out():
    """Two sources that stand alike, one late and weak: the spread of the pair alike comes back."""
    frequency = np.geomspace(20.0, 120.0, 30)
    field = CinemaRoom.field([CinemaRoom.midpoints[0], CinemaRoom.midpoints[1]], frequency)
    alike = judged(field, np.ones((2, 30), complex))
    spoiled = field.copy()
    spoiled[1] *= -0.7 * np.exp(-2j * np.pi * frequency * 5e-3)
    settings = gain_and_delay(spoiled[None], frequency, LIMITS, 0.0)
    best = judged(spoiled, settings.gains(frequency)[0])
    assert best.spread_db2 <= alike.spread_db2 + 1e-3


def test_settings_stay_within_the_processor(corners):
    limits = GainDelayLimits(lowest_gain_db=-3.0, longest_delay_s=0.002)
    settings = gain_and_delay(corners[None], FREQUENCY, limits, 0.3)
    assert settings.gain_db.max() == 0.0
    assert settings.gain_db.min() >= -3.0
    assert settings.delay_s.min() == 0.0
    assert settings.delay_s.max() <= 0.002 + 1e-12


def test_seats_about_the_middle_leave_four_corners_nothing_to_gain():
    """By symmetry: equal gains are the best least-squares gains, and the search finds no better."""
    field = CentredRoom.field(CentredRoom.corners)
    assert all_equivalent(field)
    assert not all_equivalent(CentredRoom.field(CentredRoom.midpoints))
    settings = gain_and_delay(field[None], CentredRoom.frequency, LIMITS, 0.0)
    assert settings.gain_db == pytest.approx(0.0, abs=0.01)
    assert settings.delay_s == pytest.approx(0.0, abs=1e-5)
    assert not settings.inverted.any()
    gram = np.einsum("spf,tpf->fst", field.conj(), field)
    gram += 1e-3 * np.einsum("fss->f", gram).real[:, None, None] / 4 * np.eye(4)
    aim = field.conj().sum(axis=1).T
    gains = np.linalg.solve(gram, aim[..., None])[..., 0]
    assert gains == pytest.approx(np.broadcast_to(gains[:, :1], gains.shape), rel=1e-8)


def test_magnitude_least_squares_improves_with_every_exchange(corners):
    def cost(rounds):
        gains = magnitude_gains(corners[None], 1e-2, rounds)[0]
        error = np.abs(np.sum(gains[:, None] * corners, axis=0)) - 1.0
        ridge = 1e-2 * np.sum(np.abs(corners) ** 2, axis=(0, 1)) / 4
        return np.sum(error**2, axis=0) + ridge * np.sum(np.abs(gains) ** 2, axis=0)

    few, more, many = cost(1), cost(5), cost(30)
    assert np.all(more <= few + 1e-9)
    assert np.all(many <= more + 1e-9)
    assert many.mean() < few.mean()


def test_as_many_sources_as_points_make_any_level(corners):
    gains = magnitude_gains(corners[None, :, :4], 1e-9, 10)[0]
    assert judged(corners[:, :4], gains).spread_db2 < 1e-3


def test_short_filters_even_out_between_the_frequencies_designed_for_too():
    frequency = np.geomspace(20.0, 120.0, 60)
    between = np.sqrt(frequency[1:] * frequency[:-1])
    field = CinemaRoom.field(CinemaRoom.corners, frequency)
    filters = short_filters(field, frequency, 0.085)
    there = CinemaRoom.field(CinemaRoom.corners, between)
    alike = judged(there, np.ones((4, between.size), complex))
    assert judged(there, filters.gains(between)).spread_db2 < 0.5 * alike.spread_db2
    assert np.abs(filters.gains(frequency)).max() == pytest.approx(1.0)
    with pytest.raises(InputError, match="too short"):
        short_filters(field, frequency, 0.005)


def test_the_ways_to_feed_subwoofers_from_the_simplest_to_the_bound(corners):
    ways, findings = even_seats(BassField(FREQUENCY, corners), CapabilitySheet(), RATE)
    spread = {way.way: float(way.judged.spread_db2) for way in ways}
    assert list(spread) == ["alike", "gain and delay", "biquads", "FIR", "free"]
    assert spread["gain and delay"] < 0.55 * spread["alike"]
    assert spread["biquads"] < spread["gain and delay"]
    assert spread["free"] < min(spread["biquads"], spread["FIR"])
    assert findings == ()
    sheet = CapabilitySheet()
    for way in ways:
        assert np.abs(way.gains).max() == pytest.approx(1.0)
        steps = way.settings.delay_s / sheet.delay_step_s
        assert steps == pytest.approx(np.round(steps), abs=1e-6)
    assert all(len(filters) <= 4 for filters in ways[2].biquads)


def test_a_sheet_without_filters_has_fewer_ways_and_losses_are_refused(corners):
    sheet = CapabilitySheet(biquads_per_output=0, fir_taps_per_output=0)
    ways, findings = even_seats(BassField(FREQUENCY, corners), sheet, RATE, most_loss_db=-20.0)
    assert [way.way for way in ways] == ["free"]
    assert len(findings) == 2
    assert "gain and delay would cost" in findings[1].text


def test_one_correction_for_all_undoes_what_filters_did(corners):
    """Cuts that were put on top of a target come off again, to a tenth of a decibel."""
    ones = np.ones((4, FREQUENCY.size), complex)
    target = mean_level_db(BassField(FREQUENCY, corners), ones)
    put_on = [
        Biquad(kind="peaking", frequency_hz=32.0, gain_db=4.0, q=2.0),
        Biquad(kind="peaking", frequency_hz=70.0, gain_db=-5.0, q=2.5),
    ]
    bent = ones * response(cascade_sos(put_on, RATE), FREQUENCY, RATE)
    mean = mean_level_db(BassField(FREQUENCY, corners), bent)
    limits = FitLimits(15.0, 150.0, 6.0, 15.0, 8.0, 8.0, 200.0)
    filters = common_correction(mean, target, FREQUENCY, limits, 4, RATE)
    off = (
        mean - target + 20 * np.log10(np.abs(response(cascade_sos(filters, RATE), FREQUENCY, RATE)))
    )
    assert np.ptp(mean - target) > 6.0
    assert off.std() < 0.1


def test_limits_must_leave_something_to_set():
    with pytest.raises(InputError, match="largest cut"):
        GainDelayLimits(lowest_gain_db=0.0)
    with pytest.raises(InputError, match="longest delay"):
        replace(LIMITS, longest_delay_s=0.0)


def test_a_source_that_moves_changes_its_own_part_alone():
    """As computed from nothing; and back again, to rounding."""
    field = CinemaRoom.field(CinemaRoom.corners)
    there = CinemaRoom.field([(2.0, 0.15, 0.15)])[0]
    settings = gain_and_delay(field[None], CinemaRoom.frequency, GainDelayLimits(), 0.3)
    gains = settings.gains(CinemaRoom.frequency)[0]
    before = playing(field, gains)
    moved = with_source_moved(before, 1, there)
    anew = field.copy()
    anew[1] = there
    for now, want in ((before, judged(field, gains)), (moved, judged(anew, gains))):
        got = judged_playing(now)
        assert got.spread_db2 == pytest.approx(want.spread_db2, rel=1e-9)
        assert got.range_db == pytest.approx(want.range_db, rel=1e-9)
        assert got.level_db == pytest.approx(want.level_db, abs=1e-9)
        assert got.level_per_drive_db == pytest.approx(want.level_per_drive_db, abs=1e-9)
    back = with_source_moved(moved, 1, field[1])
    assert back.pressure == pytest.approx(before.pressure, rel=1e-12)
    with pytest.raises(InputError, match="cannot replace that of source 4 of 4"):
        with_source_moved(before, 4, there)
