"""The search for the bass's delay, recomputed by plain transforms, and what a delay can hold."""

from __future__ import annotations

import numpy as np
import pytest

from roomwright.model import Biquad, Crossover
from roomwright.signals import cascade_sos, crossover_sos, response
from roomwright.tuning import align
from roomwright.tuning.meeting import meeting

RATE = 48000
BINS = np.arange(0, 401.0)
FC = 80.0
#: Delays of a transform of 65536 bins at this spacing are 15 us apart.
LENGTH = 65536
STEP_S = 1.0 / (LENGTH * (BINS[1] - BINS[0]))


def crossed(side: str) -> np.ndarray:
    return response(crossover_sos(Crossover(side=side, order=4, frequency_hz=FC), RATE), BINS, RATE)


def delayed(seconds: float) -> np.ndarray:
    return np.exp(-2j * np.pi * BINS * seconds)


def seats(rng, *shape) -> np.ndarray:
    """Direct sound and 12 reflections within 60 ms at every seat, all different."""
    at, gain = rng.uniform(0, 0.06, (12, *shape)), rng.normal(0, 0.2, (12, *shape))
    return 1 + (gain[..., None] * np.exp(-2j * np.pi * BINS * at[..., None])).sum(axis=0)


def correlation(mains: np.ndarray, bass: np.ndarray) -> np.ndarray:
    """r(tau) = Re sum over stations and bins of M* S exp(-j w tau), for all delays at once."""
    every = np.zeros(LENGTH, complex)
    every[: BINS.size] = (mains.conj() * bass).sum(axis=0)
    return np.fft.fft(every).real


@pytest.fixture(scope="module")
def met() -> tuple[np.ndarray, np.ndarray]:
    """A main and a bass at 21 seats, the bass inverted and 4.2 ms late."""
    rng = np.random.default_rng(21)
    mains = crossed("high_pass") * seats(rng, 21)
    return mains, -crossed("low_pass") * seats(rng, 21) * delayed(4.2e-3)


def test_the_energy_of_the_sum_is_a_constant_and_twice_the_correlation(met):
    mains, bass = met
    apart = np.sum(np.abs(mains) ** 2 + np.abs(bass) ** 2)
    twice = 2 * correlation(mains, bass)
    for place in (0, 300, LENGTH - 280, 1200):
        late = np.exp(-2j * np.pi * BINS * place * STEP_S)
        energy = np.sum(np.abs(mains + bass * late) ** 2)
        assert energy == pytest.approx(apart + twice[place], rel=1e-9)


def test_the_transform_and_the_search_find_the_same_delay_and_polarity(met):
    """Greatest energy and least summation loss are different figures: within a quarter of a ms."""
    mains, bass = met
    found = correlation(mains, bass)
    place = int(np.argmax(np.abs(found)))
    by_transform = (place if place < LENGTH // 2 else place - LENGTH) * STEP_S
    searched = align(mains[None], bass, BINS, np.ones(21), FC, 0.05)
    assert found[place] < 0
    assert searched.inverted
    assert by_transform == pytest.approx(-4.2e-3, abs=0.25e-3)
    assert searched.delay_s == pytest.approx(-4.2e-3, abs=0.25e-3)
    assert searched.delay_s == pytest.approx(by_transform, abs=0.25e-3)


@pytest.mark.parametrize(("width_hz", "nearer"), [(5.0, True), (40.0, False)])
def test_a_cycle_that_misses_the_arrival_is_charged_for(width_hz, nearer):
    """Bass 0.6 of a period late while its arrival says 0: a tenth too far, so 0.1 dB.

    A tenth of a period in the other polarity is as good at 80 Hz, and turns the others by
    2 pi (f - 80) / 160: a bell that is within 10 dB of the main for 8 Hz either side loses less
    than 0.1 dB by that, one of 40 Hz much more.
    """
    tone = np.exp(-0.5 * ((BINS - FC) / width_hz) ** 2)
    mains, bass = np.ones((1, 2, BINS.size), complex), np.tile(tone * delayed(0.6 / FC), (2, 1))
    found = align(mains, bass, BINS, np.ones(2), FC, 0.05, arrival_s=0.0)
    assert found.inverted == nearer
    assert found.delay_s == pytest.approx((-0.1 if nearer else -0.6) / FC, abs=0.3e-3)
    assert found.mean_loss_db > -0.1


@pytest.mark.parametrize("subwoofer_hz", [25.0, 45.0, 60.0])
@pytest.mark.parametrize("main_hz", [50.0, 70.0, 90.0])
def test_the_boxes_own_high_passes_are_held_by_delay_and_polarity(subwoofer_hz, main_hz):
    """Fourth order below the subwoofer, second below the main: they turn the phase evenly enough.

    To 0.1 dB, or 17 degrees: where a room needs sections, it is the room.
    """

    def box(frequency_hz: float, *qs: float) -> np.ndarray:
        parts = [Biquad(kind="high_pass", frequency_hz=frequency_hz, q=q) for q in qs]
        return response(cascade_sos(parts, RATE), BINS, RATE)

    bass = (crossed("low_pass") * box(subwoofer_hz, 0.54, 1.31))[None]
    mains = (crossed("high_pass") * box(main_hz, 0.9))[None, None]
    assert align(mains, bass, BINS, np.ones(1), FC, 0.05, arrival_s=0.0).mean_loss_db > -0.1


def test_a_room_between_them_is_not_held_by_delay_and_polarity(met):
    """Seats that differ: several decibels are lost, most of it as the seats disagree."""
    mains, bass = met
    found = align(mains[None], bass, BINS, np.ones(21), FC, 0.05)
    together = meeting(mains[None], bass, BINS, np.ones(21), FC)
    assert found.mean_loss_db < -0.5
    assert together.least_loss_db()[0] < 0.5 * found.mean_loss_db
