"""All-pass sections that hold a main channel and its bass together."""

from __future__ import annotations

import numpy as np
import pytest

from roomwright.model import Biquad, Crossover
from roomwright.signals import cascade_sos, crossover_sos, response
from roomwright.tuning.all_passes import (
    all_passes,
    group_delay_s,
    longest_group_delay_s,
    turned_back,
)
from roomwright.tuning.meeting import meeting

RATE = 48000
BINS = np.arange(0, 401.0)
FC = 80.0


def crossed(side):
    sos = crossover_sos(Crossover(side=side, order=4, frequency_hz=FC), RATE)
    return response(sos, BINS, RATE)


def through(*sections):
    return response(cascade_sos(sections, RATE), BINS, RATE)


def all_pass(frequency_hz, q):
    return Biquad(kind="all_pass", frequency_hz=frequency_hz, q=q)


def met(bass, stations=3, channels=1):
    mains = np.tile(crossed("high_pass"), (channels, stations, 1))
    return meeting(mains, bass, BINS, np.ones(stations), FC)


def loss_db(own, sections=()):
    return own.losses_db(turned_back(sections, own.frequencies_hz, RATE)[None])[0]


@pytest.mark.parametrize(("frequency_hz", "q"), [(60.0, 0.5), (80.0, 0.8), (110.0, 1.2)])
def test_an_all_pass_of_the_bass_is_answered_by_its_equal(frequency_hz, q):
    """The bass turned by a section loses much; the same section on the main takes it back."""
    own = met(np.tile(crossed("low_pass") * through(all_pass(frequency_hz, q)), (3, 1)))
    assert loss_db(own)[0] < -2
    (found,) = all_passes(own, 1, RATE)
    assert found.frequency_hz == pytest.approx(frequency_hz, rel=0.04)
    assert found.q == pytest.approx(q, rel=0.1)
    # A tenth of Q off turns the phase by 5 degrees at most: 20 lg cos(2.5 deg) = -0.01 dB.
    assert loss_db(own, (found,))[0] > -0.03


def test_two_sections_do_what_one_cannot():
    turned = through(all_pass(55.0, 0.9), all_pass(120.0, 1.0))
    own = met(np.tile(crossed("low_pass") * turned, (3, 1)))
    one, two = all_passes(own, 1, RATE), all_passes(own, 2, RATE)
    assert len(two) == 2
    assert loss_db(own, two)[0] > max(loss_db(own, one)[0] + 0.3, -0.1)


def test_a_sum_that_holds_gets_no_section():
    own = met(np.tile(crossed("low_pass"), (3, 1)))
    assert loss_db(own)[0] > -0.01
    assert all_passes(own, 2, RATE) == ()


def test_seats_in_opposite_phase_are_beyond_any_section():
    """Two seats a quarter period either side: the bound is their disagreement, 3 dB."""
    bass = crossed("low_pass") * np.array([[1j], [-1j]])
    own = met(bass, stations=2)
    # cos(45 deg) at each seat where the levels are equal, 10 lg(1/2).
    assert loss_db(own)[0] == pytest.approx(own.least_loss_db()[0], abs=0.01)
    assert own.least_loss_db()[0] == pytest.approx(-2.7, abs=0.4)
    assert all_passes(own, 2, RATE) == ()


def test_no_section_undercuts_the_bound():
    rng = np.random.default_rng(3)
    gains, at = rng.normal(0, 0.5, (4, 5)), rng.uniform(0, 0.05, (5, 1))
    bass = crossed("low_pass") * (1 + gains @ np.exp(-2j * np.pi * at * BINS))
    own = met(bass, stations=4)
    found = all_passes(own, 2, RATE)
    assert loss_db(own, found)[0] <= own.least_loss_db()[0] + 1e-9
    assert loss_db(own, found)[0] >= loss_db(own)[0]


def test_channels_that_share_sections_are_judged_together():
    """A pair that needs opposite turns gets none; a pair that needs the same gets it."""
    turn = through(all_pass(80.0, 0.8))
    bass = crossed("low_pass") * np.stack([turn, turn])[:, None]
    both = met(bass, stations=1, channels=2)
    assert len(all_passes(both, 1, RATE)) == 1
    bass = crossed("low_pass") * np.stack([1j * np.ones_like(turn), -1j * np.ones_like(turn)])
    apart = met(bass[:, None], stations=1, channels=2)
    assert all_passes(apart, 1, RATE) == ()


def test_the_group_delay_of_a_section_is_4_q_over_omega_at_its_frequency():
    """From the phase -2 arctan(w w0 / (Q (w0^2 - w^2))) of a second-order all-pass."""
    for f, q in ((40.0, 0.5), (80.0, 1.0), (120.0, 1.4)):
        delay = group_delay_s((all_pass(f, q),), np.array([f]), RATE)
        assert delay[0] == pytest.approx(4 * q / (2 * np.pi * f), rel=1e-3)


def test_sections_never_delay_by_more_than_is_allowed():
    """A bass with a sharp turn asks for more delay than may be given; it is held back."""
    sharp = through(all_pass(90.0, 4.0), all_pass(95.0, 4.0))
    own = met(np.tile(crossed("low_pass") * sharp, (3, 1)))
    found = all_passes(own, 2, RATE)
    at = np.geomspace(25, 250, 400)
    # Between the 64 points at which the search looks, a Q of 1.55 moves by less than 0.1 ms.
    assert (group_delay_s(found, at, RATE) <= longest_group_delay_s(at) + 1e-4).all()
