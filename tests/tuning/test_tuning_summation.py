"""Delay and polarity of subwoofers against main channels."""

from __future__ import annotations

import numpy as np
import pytest

from roomwright._errors import InputError
from roomwright.model import Crossover
from roomwright.signals import crossover_sos, response
from roomwright.tuning import align, summation_loss_db

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
    assert loss[0, 0] == pytest.approx(loss_db, abs=0.02)


def test_sources_far_apart_in_level_do_not_count():
    loss = summation_loss_db(
        np.ones((1, 1, 3), complex), np.full((1, 3), -0.2 + 0j), np.arange(3) + 40.0, np.zeros(1)
    )
    assert loss[0, 0] == 0.0


def test_silence_gives_no_delay_and_no_crash():
    found = align(np.zeros((1, 2, 401), complex), np.zeros((2, 401)), BINS, np.ones(2), FC, 0.05)
    assert np.isfinite(found.delay_s)
    assert not found.inverted


def test_too_few_frequencies_are_refused():
    with pytest.raises(InputError, match="longer responses"):
        align(np.ones((1, 1, 3), complex), np.ones((1, 3)), BINS[:3], np.ones(1), FC, 0.05)
