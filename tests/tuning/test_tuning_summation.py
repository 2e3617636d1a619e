"""Delay and polarity of subwoofers against main channels."""

from __future__ import annotations

import numpy as np
import pytest

from roomwright._errors import InputError
from roomwright.model import Crossover
from roomwright.signals import crossover_sos, response
from roomwright.tuning import align, summation_loss_db
from roomwright.tuning.summation import later_s

RATE = 48000
BINS = np.arange(0, 401.0)
FC = 80.0


def crossover(side, order=4):
    sos = crossover_sos(Crossover(side=side, order=order, frequency_hz=FC), RATE)
    return response(sos, BINS, RATE)


def rooms(rng, *shape):
    """Responses of direct sound and 12 reflections within 60 ms, all different."""
    at, gain = rng.uniform(0, 0.06, (12, *shape)), rng.normal(0, 0.2, (12, *shape))
    return 1 + (gain[..., None] * np.exp(-2j * np.pi * BINS * at[..., None])).sum(axis=0)


def delayed(seconds):
    return np.exp(-2j * np.pi * BINS * seconds)


@pytest.mark.parametrize("late_s", [4.2e-3, -3.1e-3, 0.0, 21.3e-3])
@pytest.mark.parametrize("sign", [1, -1])
def test_a_known_offset_and_polarity_are_found_over_21_seats(late_s, sign):
    """An offset put in must come out; 0.1 ms is 1/125 of the crossover's period.

    The rooms of the two sources differ at every seat, as in a real room.
    """
    rng = np.random.default_rng(5)
    mains = crossover("high_pass") * rooms(rng, 7, 21)
    bass = sign * crossover("low_pass") * rooms(rng, 21) * delayed(late_s)
    found = align(mains, bass, BINS, np.ones(21), FC, 0.05)
    assert found.delay_s == pytest.approx(-late_s, abs=0.3e-3)
    assert found.inverted == (sign < 0)


def test_without_reflections_the_offset_is_found_to_a_tenth_of_a_millisecond():
    mains = np.tile(crossover("high_pass"), (1, 21, 1))
    bass = np.tile(-crossover("low_pass") * delayed(4.2e-3), (21, 1))
    found = align(mains, bass, BINS, np.ones(21), FC, 0.05)
    assert found.delay_s == pytest.approx(-4.2e-3, abs=0.1e-3)
    assert found.inverted
    assert found.loss_db.max() <= 1e-12
    assert found.loss_db.min() > -0.01


def test_a_second_order_crossover_needs_one_side_inverted():
    """Linkwitz-Riley of second order: outputs are half a period apart (Linkwitz 1976)."""
    mains = np.tile(crossover("high_pass", 2), (1, 3, 1))
    found = align(mains, np.tile(crossover("low_pass", 2), (3, 1)), BINS, np.ones(3), FC, 0.05)
    assert found.inverted
    assert found.delay_s == pytest.approx(0, abs=0.1e-3)


def test_a_whole_period_off_is_not_taken_for_the_answer():
    """In a narrow band the next cycle sums as well; the arrival decides."""
    tone = np.exp(-0.5 * ((BINS - FC) / 12) ** 2)
    mains, bass = np.tile(tone, (1, 2, 1)).astype(complex), np.tile(tone * delayed(0.004), (2, 1))
    found = align(mains, bass, BINS, np.ones(2), FC, 0.05)
    assert found.delay_s == pytest.approx(-0.004, abs=0.1e-3)


@pytest.mark.parametrize(
    ("phase_deg", "loss_db"), [(0, 0.0), (38, -0.5), (54, -1.0), (90, -3.01), (120, -6.02)]
)
def test_loss_of_two_equal_levels_is_the_cosine_of_half_the_phase(phase_deg, loss_db):
    """|cos(phi/2)| of the textbooks; the tabulated degrees are rounded, hence 0.02 dB."""
    mains = np.ones((1, 1, 5), complex)
    bass = np.full((1, 5), np.exp(1j * np.radians(phase_deg)))
    loss = summation_loss_db(mains, bass, np.linspace(40, 160, 5), np.zeros(1))
    assert loss[0, 0, 0] == pytest.approx(loss_db, abs=0.02)


def test_sources_far_apart_in_level_do_not_count():
    loss = summation_loss_db(
        np.ones((1, 1, 3), complex), np.full((1, 3), -0.2 + 0j), np.arange(3) + 40.0, np.zeros(1)
    )
    assert loss[0, 0, 0] == 0.0


def test_silence_gives_no_delay_and_no_crash():
    found = align(np.zeros((1, 2, 401), complex), np.zeros((2, 401)), BINS, np.ones(2), FC, 0.05)
    assert np.isfinite(found.delay_s)
    assert not found.inverted


def test_too_few_frequencies_are_refused():
    with pytest.raises(InputError, match="longer responses"):
        align(np.ones((1, 1, 3), complex), np.ones((1, 3)), BINS[:3], np.ones(1), FC, 0.05)


def test_each_channel_has_its_own_crossover_and_bass():
    """Three crossovers an octave apart, each met by its own low-pass: no loss, no delay."""
    crossovers = np.array([50.0, 80.0, 125.0])
    filters = {
        side: np.stack(
            [
                response(
                    crossover_sos(Crossover(side=side, order=4, frequency_hz=f), RATE), BINS, RATE
                )
                for f in crossovers
            ]
        )[:, None]
        for side in ("high_pass", "low_pass")
    }
    late = filters["low_pass"] * delayed(2e-3)
    found = align(filters["high_pass"], late, BINS, np.ones(1), crossovers, 0.05)
    assert found.delay_s == pytest.approx(-2e-3, abs=0.1e-3)
    assert found.loss_db.shape == (3, 1)
    assert found.loss_db.min() > -0.02


def test_the_next_best_delay_is_told():
    """Half a period away in the other polarity the sum is right at the crossover only."""
    mains = np.tile(crossover("high_pass"), (1, 3, 1))
    found = align(mains, np.tile(crossover("low_pass"), (3, 1)), BINS, np.ones(3), FC, 0.05)
    assert found.rival.inverted
    assert abs(found.rival.delay_s) == pytest.approx(1 / (2 * FC), rel=0.3)
    # Linkwitz-Riley of order 4: levels x^4 and 1 over 1 + x^4, in phase at every x = f / fc.
    x = np.geomspace(0.5, 2, 400)
    high, low = x**4 / (1 + x**4), 1 / (1 + x**4)
    turn = -np.exp(-2j * np.pi * FC * x * found.rival.delay_s)
    weight = np.where(np.abs(20 * np.log10(x**4)) <= 10, 2 * high * low / (high**2 + low**2), 0)
    loss = weight @ (20 * np.log10(np.abs(high + low * turn) / (high + low))) / weight.sum()
    # 48 whole bins stand for the octaves here: within 0.02 dB.
    assert found.rival.mean_loss_db == pytest.approx(loss, abs=0.02)
    assert found.rival.mean_loss_db < found.mean_loss_db - 0.15


def test_seats_that_want_different_delays_share_the_loss():
    """Two seats with the bass +-2 ms off: the middle is best, and either loses alike.

    At 80 Hz 2 ms are 57.6 degrees: 20 lg cos(28.8 deg) = -1.15 dB, with the octave either side
    from -0.28 dB at 40 Hz to -5.4 dB at 160 Hz, where the two levels already differ.
    """
    mains = np.tile(crossover("high_pass"), (1, 2, 1))
    bass = crossover("low_pass") * np.stack([delayed(2e-3), delayed(-2e-3)])
    found = align(mains, bass, BINS, np.ones(2), FC, 0.05, arrival_s=0.0)
    assert found.delay_s == pytest.approx(0.0, abs=0.05e-3)
    np.testing.assert_allclose(found.loss_db[0, 0], found.loss_db[0, 1], atol=0.02)
    assert -1.9 < found.mean_loss_db < -1.0
    # A seat that counts alone is served alone.
    alone = align(mains, bass, BINS, np.array([1.0, 0.0]), FC, 0.05, arrival_s=0.0)
    assert alone.delay_s == pytest.approx(-2e-3, abs=0.1e-3)


def test_an_arrival_of_the_bass_is_read_through_its_crossover():
    """Band pulses 7 ms apart, of one shape: the difference of the arrivals is the delay."""
    tone = np.exp(-0.5 * ((BINS - FC) / 25) ** 2).astype(complex)
    mains, bass = tone * delayed(0.03), tone * delayed(0.037)
    found = later_s(mains[None, None], bass[None, None], BINS, np.array([FC]))
    # Read between samples 1.25 ms apart, within a sixth of one: the search looks far beyond.
    assert found == pytest.approx(-7e-3, abs=0.2e-3)
