"""A channel is swept within its band, softly first, and louder only if it is the right one."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import signal

from roomwright._errors import InputError
from roomwright.measurement.protection import next_level, protected_sweep, shows_band
from roomwright.model import Sweep
from roomwright.signals import instantaneous_frequency_hz

RATE = 48000
TWEETER_HZ = (2000.0, 20000.0)


def test_the_sweep_never_leaves_the_declared_band():
    sweep = protected_sweep(Sweep(), TWEETER_HZ, -40.0)
    passed = instantaneous_frequency_hz(sweep, [0.0, sweep.duration_s])
    assert passed == pytest.approx(TWEETER_HZ)
    assert sweep.level_dbfs == -40.0
    # as fast as the survey's sweep: the same time for each octave
    whole = Sweep()
    octaves = np.log2(TWEETER_HZ[1] / TWEETER_HZ[0]), np.log2(whole.stop_hz / whole.start_hz)
    assert sweep.duration_s / octaves[0] == pytest.approx(whole.duration_s / octaves[1])


def test_it_is_never_louder_than_the_survey():
    assert protected_sweep(Sweep(level_dbfs=-20), TWEETER_HZ, 0.0).level_dbfs == -20


def test_a_band_outside_the_sweep_is_refused():
    with pytest.raises(InputError, match="an octave in common"):
        protected_sweep(Sweep(stop_hz=2500.0), TWEETER_HZ, -40.0)


def band_pass(low_hz, high_hz):
    impulse = np.zeros(8192)
    impulse[100] = 1.0
    sos = signal.butter(2, (low_hz, high_hz), "bandpass", fs=RATE, output="sos")
    return signal.sosfilt(sos, impulse)


@pytest.mark.parametrize(
    ("played_hz", "right"),
    [
        ((2000.0, 20000.0), True),
        ((40.0, 3000.0), False),  # a woofer on the tweeter's output
        ((9000.0, 20000.0), False),  # hardly a tweeter left
    ],
)
def test_the_wrong_unit_is_seen_by_its_band(played_hz, right):
    response = band_pass(*played_hz)
    assert shows_band(response, RATE, (20.0, 20000.0), TWEETER_HZ) is right


def test_noise_shows_no_band():
    assert not shows_band(band_pass(*TWEETER_HZ), RATE, (0.0, 0.0), TWEETER_HZ)
    assert not shows_band(band_pass(*TWEETER_HZ), RATE, (2000.0, 3000.0), TWEETER_HZ)


def test_it_starts_softly_and_rises_in_steps():
    levels, played = [], None
    for _ in range(20):
        step = next_level(played, -20.0, right_band=True)
        if step.reached:
            break
        played = step.level_dbfs
        levels.append(played)
    assert levels == [-40.0, -34.0, -28.0, -22.0, -20.0]


def test_it_stops_at_the_wrong_band_and_above_the_ceiling():
    wrong = next_level(-40.0, -20.0, right_band=False)
    assert wrong.level_dbfs is None
    assert "check the wiring" in wrong.sentence
    loud = next_level(-28.0, -20.0, peak_db=91.0, ceiling_db=90.0)
    assert loud.level_dbfs is None
    assert "ceiling" in loud.sentence


def test_a_step_stays_under_the_ceiling():
    assert next_level(-28.0, -20.0, peak_db=87.0, ceiling_db=90.0).level_dbfs == -25.0
    held = next_level(-25.0, -20.0, peak_db=90.0, ceiling_db=90.0)
    assert held.reached
    assert held.level_dbfs == -25.0
