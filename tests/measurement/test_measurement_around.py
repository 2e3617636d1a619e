"""Noises in the whole recording of a sweep within a narrow band, told from what was played."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.signal import fftconvolve

from roomwright.measurement.alignment import Alignment
from roomwright.measurement.quality.around import free_cells
from roomwright.measurement.quality.events import event_around
from roomwright.model import Sweep
from roomwright.signals import excitation, timeline

RATE = 48000
SWEEP = Sweep(start_hz=25, stop_hz=200, duration_s=0.6, level_dbfs=-12, pilot_band_hz=(20, 20000))
PLACES = timeline(SWEEP, RATE)
STEADY = 1e-4
#: Seconds over which a room's sound falls by 60 dB.
DECAY_S = 0.6


def heard(added=None, *, sweep=SWEEP, silent_s=0.0, alone=True, pilots=False, decay_s=DECAY_S):
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
    return event_around(free_cells(microphone, alignment, sweep, RATE, alone=alone))


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
