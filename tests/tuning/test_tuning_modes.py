"""Tone controls of listening modes as shelves."""

from __future__ import annotations

import numpy as np
import pytest

from roomwright.model import Biquad, CapabilitySheet, ListeningMode, OutputTuning, Tuning
from roomwright.signals import amplitude_db, cascade_sos, log_frequencies, response
from roomwright.tuning import in_mode, tone_biquads, tone_db

RATE = 48000
GRID = log_frequencies(20, 20000, 24)


def level_db(biquads, at_hz=GRID):
    return amplitude_db(response(cascade_sos(biquads, RATE), at_hz, RATE))


def tuning_of(*trims_db, biquads=()):
    return Tuning(
        outputs=tuple(
            OutputTuning(drives=name, trim_db=trim, biquads=biquads)
            for name, trim in zip(("M+030", "M-030"), trims_db, strict=True)
        ),
        based_on="test",
    )


def test_tone_controls_say_what_they_do():
    mode = ListeningMode(name="m", bass_db=4, treble_db=-3, tilt_db=-0.5)
    at = np.array([20.0, 1000.0, 2000.0, 20000.0])
    plain = mode.model_copy(update={"tilt_db": 0.0})
    level = tone_db(mode, at, RATE) - tone_db(plain, at, RATE)
    np.testing.assert_allclose(level, -0.5 * np.log2(at / 1000), atol=1e-9)
    # Far inside a shelf its gain is reached, 2.6 octaves from 120 Hz within 0.2 dB.
    assert tone_db(plain, np.array([20.0]), RATE)[0] == pytest.approx(4, abs=0.2)
    assert tone_db(plain, np.array([19000.0]), RATE)[0] == pytest.approx(-3, abs=0.2)


def test_bass_and_treble_are_shelves_exactly():
    mode = ListeningMode(name="m", bass_db=4, treble_db=-3)
    np.testing.assert_allclose(level_db(tone_biquads(mode, 2, RATE)), tone_db(mode, GRID, RATE))


@pytest.mark.parametrize("tilt_db", [-1.0, 0.7])
def test_two_shelves_follow_a_tilt(tilt_db):
    mode = ListeningMode(name="m", tilt_db=tilt_db)
    shelves = tone_biquads(mode, 2, RATE)
    assert len(shelves) == 2
    assert np.abs(level_db(shelves) - tone_db(mode, GRID, RATE)).max() < 0.3


def test_no_more_shelves_than_are_left():
    mode = ListeningMode(name="m", bass_db=5, treble_db=-4, tilt_db=-1)
    errors = []
    for count in range(4):
        shelves = tone_biquads(mode, count, RATE)
        assert len(shelves) <= count
        errors.append(np.std(level_db(shelves) - tone_db(mode, GRID, RATE)))
    assert errors == sorted(errors, reverse=True)
    assert errors[2] < 0.8


def test_a_mode_adds_the_same_shelves_everywhere_and_never_clips(small_job):
    mode = ListeningMode(name="m", bass_db=6)
    changed, findings = in_mode(small_job, tuning_of(-2.0, -5.0), mode)
    first, second = changed.outputs
    assert first.biquads == second.biquads
    assert first.trim_db - second.trim_db == pytest.approx(3.0)
    assert first.trim_db + level_db(first.biquads).max() <= 1e-6
    assert not findings


def test_a_mode_with_headroom_leaves_the_trims(small_job):
    changed, _ = in_mode(small_job, tuning_of(-9.0, -9.0), ListeningMode(name="m", bass_db=6))
    assert [output.trim_db for output in changed.outputs] == [-9.0, -9.0]


def test_what_a_full_processor_cannot_reach_is_said(small_job):
    job = small_job.model_copy(update={"processor": CapabilitySheet(biquads_per_output=1)})
    full = tuning_of(-9.0, -9.0, biquads=(Biquad(kind="peaking", frequency_hz=100, gain_db=-1),))
    changed, findings = in_mode(job, full, ListeningMode(name="evening", bass_db=-6))
    assert changed.outputs == full.outputs
    assert "0 biquads are left" in findings[0].text
    assert "evening" in findings[0].where
