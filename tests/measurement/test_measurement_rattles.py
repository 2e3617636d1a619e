"""Noise far above a narrow sweep: a rattle's comes and goes with the sweep, others do not."""

from __future__ import annotations

import numpy as np
import pytest

from roomwright.measurement.alignment import Alignment
from roomwright.measurement.quality.rattles import rattles_above
from roomwright.model import Sweep
from roomwright.signals import excitation, timeline

RATE = 48000
SWEEP = Sweep(start_hz=25, stop_hz=200, duration_s=2.0, level_dbfs=-12, pilot_band_hz=(20, 20000))
PLACES = timeline(SWEEP, RATE)
ALIGNMENT = Alignment(float(PLACES.sweep_start), 0.0, 0.0, True)
STEADY = 1e-4


def heard(envelope, *, sweep=SWEEP, order=0):
    """A sweep in steady noise; `envelope` times (seconds after its start) more noise on top.

    With `order` it is that harmonic of the sweep instead of noise.
    """
    rng = np.random.default_rng(5)
    played = excitation(sweep, RATE).astype(float)
    time_s = (np.arange(played.size) - PLACES.sweep_start) / RATE
    added = rng.standard_normal(played.size)
    if order:
        lag_s = sweep.duration_s / np.log(sweep.stop_hz / sweep.start_hz)
        inside = np.clip(time_s, 0.0, sweep.duration_s)
        added = np.sin(2 * np.pi * order * sweep.start_hz * lag_s * np.exp(inside / lag_s))
    noise = STEADY * (rng.standard_normal(played.size) + 10 * envelope(time_s) * added)
    return rattles_above(played + noise, ALIGNMENT, sweep, RATE)


def between(first_s, last_s):
    return lambda time_s: ((time_s > first_s) & (time_s < last_s)).astype(float)


def test_a_rattle_is_told_with_the_frequencies_that_it_sounds_at():
    """The sweep passes 25 Hz times 8 to the power of (t / 2 s): 42 to 145 Hz here."""
    found = heard(between(0.5, 1.7))
    assert found is not None
    assert found.kind == "rattle"
    # ten times the amplitude: 20 dB, and what the cells of steady noise scatter
    assert found.evidence == pytest.approx(20.0, abs=2.0)
    assert found.at_hz == pytest.approx(25 * 8 ** (1.1 / 2), rel=0.1)


@pytest.mark.parametrize(
    "envelope",
    [
        between(9, 9),
        between(0.9, 1.1),
        between(0.5, 2.6),
        between(2.4, 2.6),
        lambda time_s: np.clip(time_s / 2.0, 0.0, 1.0) * (time_s < 2.0),
    ],
    ids=["silence", "short", "goes on after the sweep", "after the sweep", "rises to the end"],
)
def test_what_is_not_of_the_cone_is_no_rattle(envelope):
    assert heard(envelope) is None


def test_low_harmonics_lie_below_what_is_looked_at():
    assert heard(between(0.5, 1.7), order=5) is None


def test_above_a_wide_sweep_nothing_is_free():
    wide = SWEEP.model_copy(update={"stop_hz": 20000.0})
    assert heard(between(0.5, 1.7), sweep=wide) is None
