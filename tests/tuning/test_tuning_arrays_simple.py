"""Front and back arrays of gains and delays in a box: spread and decay, exact and with errors.

The room, seats and walls are those of a published kind of study (Celestinos and Nielsen, JAES
56(11), 2008: front and back arrays of four, gain and delay); the figures are recomputed here from
the closed form, and asserted by what theory says of them.
"""

from __future__ import annotations

import numpy as np
import pytest
from array_rooms import BETA, RATE, SEATS, SIZE, array, box_field, box_responses
from scipy import fft

from roomwright.analysis import mean_spatial_variance_db2
from roomwright.signals import amplitude_db, midbands
from roomwright.tuning.arrays import (
    absorbing_gain,
    band_decay,
    emitters,
    places_on_wall,
    simple_array,
)

C = 343.0
FREQUENCY = np.geomspace(20.0, 120.0, 60)
MIDS = midbands(3, 25.0, 100.0)
GAIN = absorbing_gain(SIZE, np.full(6, BETA), 6.0)


def drive(frequency, gain: float, late: float = 1.0, launching: int = 4) -> np.ndarray:
    """Front as it is, back inverted after `late` times L / c."""
    back = -gain * np.exp(-2j * np.pi * frequency * late * 6.0 / C)
    return np.vstack([np.ones((launching, frequency.size)), np.tile(back, (launching, 1))])


def variance(field, drives) -> float:
    return float(mean_spatial_variance_db2(amplitude_db(np.einsum("sf,spf->pf", drives, field))))


@pytest.fixture(scope="module")
def field() -> np.ndarray:
    return box_field(array().position_m, SEATS, FREQUENCY)


@pytest.fixture(scope="module")
def spectra() -> tuple[np.ndarray, np.ndarray]:
    responses = box_responses(array().position_m, SEATS[::3])
    length = 2 * responses.shape[-1]
    return fft.rfft(responses, length), fft.rfftfreq(length, 1.0 / RATE)


def decay(spectra, *args, **options):
    field, frequency = spectra
    result = np.einsum("sf,spf->pf", drive(frequency, *args, **options), field)
    found = band_decay(fft.irfft(result), RATE, MIDS)
    return np.median(found.time_s, axis=0), found.limit_s


def test_front_alone_leaves_the_room_to_its_length_modes(field, spectra):
    assert variance(field, drive(FREQUENCY, 0.0)) > 40.0
    times, _ = decay(spectra, 0.0)
    # 13.8 / (2 d), d = c beta (2 S_grazed / 2 + 2 S_struck) / 2V of an axial mode: 1.31 s.
    struck, grazed, volume = 2 * 4.5 * 2.7, 2 * 6.0 * (4.5 + 2.7), 4.5 * 6.0 * 2.7
    axial_s = 3 * np.log(10) * 2 * volume / (C * BETA * (grazed + 2 * struck))
    assert np.median(times) == pytest.approx(axial_s, rel=0.1)
    assert times.min() > 1.1


def test_the_gain_of_the_losses_absorbs_the_wave(field, spectra):
    """Spread below 0.1 dB2, and every third octave as fast as it can be read (to 10 %)."""
    assert variance(field, drive(FREQUENCY, GAIN)) < 0.1
    times, limit = decay(spectra, GAIN)
    assert np.all(times < 1.1 * limit)


def test_any_other_gain_leaves_some_of_it(field, spectra):
    spread = [variance(field, drive(FREQUENCY, g)) for g in (0.7, 0.8, GAIN, 1.0)]
    assert spread[2] < min(spread) + 1e-9
    # What is not absorbed goes back with the error of the gain; the variance with its square.
    ratio = ((GAIN - 0.7) / (GAIN - 0.8)) ** 2
    assert spread[0] == pytest.approx(ratio * spread[1], rel=0.25)
    assert 0.5 < spread[1] < 1.5
    assert 0.5 < spread[3] < 1.5
    for gain in (0.7, 1.0):
        times, limit = decay(spectra, gain)
        assert np.sum(times > 3 * limit) >= 3


@pytest.mark.parametrize(("beta", "at_most"), [(0.0166, 0.1), (0.0332, 0.15)])
def test_the_formula_holds_for_other_losses(beta, at_most):
    own = box_field(array().position_m, SEATS, FREQUENCY, beta)
    gain = absorbing_gain(SIZE, np.full(6, beta), 6.0)
    assert variance(own, drive(FREQUENCY, gain)) < at_most
    assert variance(own, drive(FREQUENCY, gain)) < variance(own, drive(FREQUENCY, 0.95 * gain))
    assert variance(own, drive(FREQUENCY, gain)) < variance(own, drive(FREQUENCY, 1.05 * gain))


def test_a_wrong_delay_is_worse_than_a_wrong_gain(field, spectra):
    """10 % of 17.5 ms is 60 degrees at 100 Hz."""
    spread = [variance(field, drive(FREQUENCY, GAIN, late)) for late in (1.0, 1.1, 1.2)]
    assert spread[1] > 5.0
    assert spread[2] > 1.3 * spread[1]
    times, _ = decay(spectra, GAIN, 1.1)
    assert times.max() > 1.0


def test_errors_of_place_let_transverse_modes_in():
    """At random: by theory the drive of a mode grows as the error, its power as the square."""
    rng = np.random.default_rng(5)
    ideal = array().position_m
    spread = {}
    for error_m in (0.075, 0.15, 0.3):
        own = []
        for _ in range(4):
            moved = ideal.copy()
            moved[:, [0, 2]] += rng.uniform(-error_m, error_m, (8, 2))
            own.append(variance(box_field(moved, SEATS, FREQUENCY), drive(FREQUENCY, GAIN)))
        spread[error_m] = np.mean(own)
    assert 0.1 < spread[0.15] < 3.0
    assert 1.5 < spread[0.15] / spread[0.075] < 8.0
    assert spread[0.3] > 1.5 * spread[0.15]


@pytest.mark.parametrize(
    ("places", "least", "most"),
    [
        ([(x, 0.0, 0.3) for x in (1.125, 3.375)], 2.0, 6.0),
        ([(2.25, 0.0, 1.35)], 5.0, 20.0),
        (places_on_wall(SIZE, 1, 0.0, 3, 2), 0.0, 0.05),
    ],
    ids=["two near the floor", "one in the middle", "three by two"],
)
def test_too_few_and_more_than_enough(places, least, most):
    front = np.add(places, (0.0, 0.15, 0.0))
    back = np.add(places, (0.0, 5.85, 0.0))
    own = box_field(np.vstack([front, back]), SEATS, FREQUENCY)
    assert least <= variance(own, drive(FREQUENCY, GAIN, launching=len(front))) < most


def test_the_settings_of_the_outputs():
    simple = simple_array(array(), 0.5)
    outputs = simple.outputs()
    assert [o.inverted for o in outputs] == [False] * 4 + [True] * 4
    assert [o.trim_db for o in outputs] == pytest.approx([0.0] * 4 + [-6.02] * 4, abs=0.01)
    assert [o.delay_s for o in outputs] == pytest.approx([0.0] * 4 + [6.0 / C] * 4)
    assert np.abs(simple.drives(np.array([50.0]))[:, 0]) == pytest.approx([1.0] * 4 + [0.5] * 4)


def test_two_that_absorb_what_four_launch_take_twice_the_gain():
    ideal = array()
    places = [*ideal.position_m[:4], (1.125, 5.85, 1.35), (3.375, 5.85, 1.35)]
    found = emitters([f"S{k}" for k in range(6)], places, [True] * 4 + [False] * 2, SIZE, SEATS)
    assert simple_array(found, 0.9).gain == pytest.approx([1.0] * 4 + [-1.8] * 2)


def test_decay_is_read_exactly():
    """Modes of known times at midbands; a lone pulse reads as the limit."""
    t = np.arange(2 * RATE) / RATE
    for mid, time_s in zip(MIDS, (0.9, 0.7, 0.6, 0.5, 0.4, 0.3, 0.25), strict=True):
        mode = np.exp(-3 * np.log(10) * t / time_s) * np.sin(2 * np.pi * mid * t)
        found = band_decay(mode[None], RATE, np.array([mid]))
        assert found.time_s[0, 0] == pytest.approx(time_s, rel=0.02)
    pulse = np.zeros((1, 2 * RATE))
    pulse[0, 300] = 1.0
    found = band_decay(pulse, RATE, MIDS)
    assert found.time_s[0] == pytest.approx(found.limit_s, rel=1e-3)
    # A Gaussian of deviation s in frequency falls as exp(-(2 pi s t)^2) in power.
    assert found.limit_s * MIDS == pytest.approx((found.limit_s * MIDS).mean(), rel=0.05)
