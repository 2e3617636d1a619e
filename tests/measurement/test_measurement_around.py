"""Noises in the whole recording of a sweep within a narrow band, told from what was played."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.signal import fftconvolve

from roomwright.measurement.alignment import Alignment
from roomwright.measurement.quality.around import free_cells
from roomwright.measurement.quality.events import event_around
from roomwright.measurement.quality.orders import total_distortion_db
from roomwright.model import Sweep
from roomwright.signals import excitation, timeline

RATE = 48000
SWEEP = Sweep(start_hz=25, stop_hz=200, duration_s=0.6, level_dbfs=-12, pilot_band_hz=(20, 20000))
PLACES = timeline(SWEEP, RATE)
STEADY = 1e-4
#: Seconds over which a room's sound falls by 60 dB.
DECAY_S = 0.6


#: Nothing known of orders 2 to 5.
UNKNOWN = np.full(4, np.nan)


def heard(
    added=None,
    *,
    sweep=SWEEP,
    silent_s=0.0,
    alone=True,
    pilots=False,
    decay_s=DECAY_S,
    distortion_db=UNKNOWN,
):
    """What is found of a sweep in a room with noise, and what `added` makes of the time on top.

    `added` takes seconds after the sweep's start; before and after what was played is `silent_s`.
    """
    rng = np.random.default_rng(5)
    places = timeline(sweep, RATE)
    played = excitation(sweep, RATE).astype(float)
    if not pilots:
        played[: places.sweep_start] = played[places.sweep_stop :] = 0.0
    silence = np.zeros(round(silent_s * RATE))
    played = np.concatenate([silence, played, silence])
    start = silence.size + places.sweep_start
    time_s = (np.arange(played.size) - start) / RATE
    decay = rng.standard_normal(RATE) * 10.0 ** (-3.0 * np.arange(RATE) / RATE / decay_s)
    sound = played if added is None else played + added(time_s, rng)
    microphone = fftconvolve(sound, decay)[: played.size] * 0.05
    microphone += STEADY * rng.standard_normal(played.size)
    alignment = Alignment(float(start), 0.0, 0.0, True)
    free = free_cells(microphone, alignment, sweep, RATE, alone=alone)
    total_db = total_distortion_db(distortion_db)
    return event_around(free.cells, free.harmonics(distortion_db), total_db)


def knock(at_s, lasts_s=0.03, level=1e-2):
    return lambda time_s, rng: (
        level * rng.standard_normal(time_s.size) * ((time_s > at_s) & (time_s < at_s + lasts_s))
    )


def test_nothing_is_found_of_what_was_played():
    assert heard() is None
    assert heard(pilots=True, alone=False) is None
    wide = SWEEP.model_copy(update={"stop_hz": 18000.0, "duration_s": 1.5})
    # the pilot has not died away when the sweep begins, nor has the sweep when the pilot comes
    for decay_s in np.geomspace(0.2, 2.5, 12):
        assert heard(sweep=wide, pilots=True, decay_s=decay_s) is None


@pytest.mark.parametrize("at_s", [-0.3, 0.15, 0.4, 0.57, 0.61, 0.7, 1.2])
def test_a_knock_is_found_before_during_and_after_the_sweep(at_s):
    found = heard(knock(at_s))
    assert found is not None
    assert found.kind == "noise_event"
    assert ("before the sweep began" in found.sentence) == (at_s < 0.0)
    if at_s > 0.6:
        assert found.at_hz is None


def test_a_knock_during_the_sweep_is_said_with_what_the_sweep_passed():
    """25 Hz times 8 to the power of (t / 0.6 s); it is heard for some 0.15 s."""
    for at_s in (0.1, 0.3):
        found = heard(knock(at_s), decay_s=0.15)
        assert found is not None
        assert found.at_hz == pytest.approx(25 * 8 ** ((at_s + 0.05) / 0.6), rel=0.3)


def test_what_swells_and_fades_slowly_is_found():
    def passing(time_s, rng):
        swell = np.exp(-0.5 * ((time_s - 0.5) / 0.5) ** 2)
        return 1e-3 * rng.standard_normal(time_s.size) * swell

    assert heard(passing) is not None


def test_high_harmonics_that_rise_until_the_end_and_die_away_are_none():
    """12 dB a doubling, in all octaves above the sweep's fifth harmonic."""

    def kink(time_s, rng):
        inside = (time_s > 0.0) & (time_s < SWEEP.duration_s)
        octaves = 3.0 * (time_s / SWEEP.duration_s - 1.0)
        return 1e-3 * rng.standard_normal(time_s.size) * inside * 10.0 ** (12.0 * octaves / 20.0)

    assert heard(kink) is None
    # the same would be found if it came at another time
    assert heard(lambda time_s, rng: kink(time_s - 0.8, rng)) is not None


def test_what_is_recorded_before_and_after_all_that_was_played_does_not_matter():
    ends_s = (PLACES.total - PLACES.sweep_start) / RATE
    for at_s in (-1.5, ends_s + 0.3):
        assert heard(knock(at_s, lasts_s=0.1), silent_s=1.5, decay_s=0.2) is None


def test_harmonics_of_a_clipped_sine_stay_below_what_is_expected_of_them():
    """Against the Fourier series of a sine clipped at cos(a) of its peak, orders to 79.

    b_n = (2 / pi) [sin((n - 1) a) / (n - 1) - sin((n + 1) a) / (n + 1)] / n for odd n > 1, by
    integrating what is cut off by parts (the textbook's series of a clipped sine).
    """
    angle = 0.6
    orders = np.arange(3, 80, 2)
    cut = (
        2.0
        / (np.pi * orders)
        * (
            np.sin((orders - 1) * angle) / (orders - 1)
            - np.sin((orders + 1) * angle) / (orders + 1)
        )
    )
    # a check of the formula itself: what is left of the peak
    phase = np.linspace(0.0, 2.0 * np.pi, 4096, endpoint=False)
    over = np.maximum(np.abs(np.sin(phase)) - np.cos(angle), 0.0) * np.sign(np.sin(phase))
    series = 2.0 * np.mean(over * np.sin(3.0 * phase))
    assert abs(cut[0]) == pytest.approx(abs(series), rel=1e-3)
    distortion_db = np.full(4, np.nan)
    distortion_db[[1, 3]] = 20.0 * np.log10(np.abs(cut[:2]))
    fundamental_hz, seconds = 50.0, 2.0
    # a sweep so slow that it is a sine, and a room without an echo
    sweep = Sweep(start_hz=49.9, stop_hz=50.1, duration_s=seconds, pilot_band_hz=(20, 20000))
    time = np.arange(round(seconds * RATE)) / RATE
    sine = np.sin(2.0 * np.pi * fundamental_hz * time)
    places = timeline(sweep, RATE)
    microphone = np.zeros(places.total)
    microphone[places.sweep_start : places.sweep_start + sine.size] = np.clip(
        sine, -np.cos(angle), np.cos(angle)
    )
    microphone += 1e-9 * np.random.default_rng(1).standard_normal(microphone.size)
    alignment = Alignment(float(places.sweep_start), 0.0, 0.0, True)
    free = free_cells(microphone, alignment, sweep, RATE, alone=True)
    inside = (free.cells.time_s > 0.2) & (free.cells.time_s < seconds - 0.2)
    expected = free.harmonics(distortion_db)[inside]
    power = free.cells.power[inside]
    # the octaves from 500 Hz on hold its orders from 7 on
    over_db = 10.0 * np.log10(power[:, 3:] / expected[:, 3:])
    assert (over_db < 0.0).all()
    # an estimate, not a licence: orders between the dips of the series come within 12 dB of it
    assert over_db.max() > -12.0


def test_high_harmonics_that_end_before_the_sweep_are_the_loudspeakers():
    """A coil that strikes where it moves far: a noise by its course, distortion by its strength."""
    played = excitation(SWEEP, RATE).astype(float)
    played[: PLACES.sweep_start] = played[PLACES.sweep_stop :] = 0.0
    struck = np.clip(played, -0.825 * played.max(), 0.825 * played.max()) - played

    def strikes(time_s, _rng):
        return struck * np.interp(time_s, [0.0, 0.05, 0.3, 0.35], [0.0, 1.0, 1.0, 0.0])

    short = {"decay_s": 0.12}
    assert heard(strikes, **short).kind == "noise_event"
    # the Fourier series of a sine clipped at 0.825 of its peak: 6.3 and 3.1 %
    falling = np.array([np.nan, -24.0, np.nan, -30.2])
    found = heard(strikes, distortion_db=falling, **short)
    assert found.kind == "distortion"
    assert "high order" in found.sentence
    # a loudspeaker that distorts less has no such harmonics, and no knock is so soft
    assert heard(strikes, distortion_db=falling - 30.0, **short).kind == "noise_event"
    assert heard(knock(0.3, level=0.3), distortion_db=falling, **short).kind == "noise_event"
    # what does not fall with its order is no loudspeaker's
    assert heard(strikes, distortion_db=np.full(4, -24.0), **short).kind == "noise_event"
