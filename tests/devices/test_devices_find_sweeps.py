"""A playback through a room into a recorder of its own: every sweep is found and named."""

from __future__ import annotations

from functools import cache

import numpy as np
import pytest
import scipy.signal

from roomwright._errors import InputError
from roomwright.devices import Playback, find_sweeps, passage_signals, runs
from roomwright.measurement import LOOP_BACK, AcousticReference, response_from_take
from roomwright.model import Sweep
from roomwright.signals import fractional_delay, resample, rms

RATE = 48000
SWEEP = Sweep(duration_s=1.0, tail_s=0.6, gap_s=0.3, level_dbfs=-12)
#: Left, right, a subwoofer; the left one plays the chirps.
TOGETHER = Playback(SWEEP, RATE, (1, 2, 4), chirps_on=1)
APART = Playback(SWEEP.model_copy(update={"pilot_s": 0.5}), RATE, (1, 4))
ARRIVALS = {1: 335.7, 2: 433.4, 4: 500.6}


def path(output):
    rng = np.random.default_rng(output)
    time = np.arange(RATE // 2) / RATE
    first = int(ARRIVALS[output])
    room = 0.04 * rng.standard_normal(time.size) * np.exp(-6.91 * time / 0.4)
    room[: first + 30] = 0.0
    room[first] = 1.0
    low, high = (25, 120) if output == 4 else (60, 20000)
    band = scipy.signal.butter(2, (low, high), "band", fs=RATE, output="sos")
    return fractional_delay(0.3 * scipy.signal.sosfilt(band, room), ARRIVALS[output] - first)


@cache
def played(playback):
    """The programme in the room: at the microphone, and as a cable carries it."""
    heard, looped = [], []
    total = playback.passages[-1].stop
    channels = {output: np.zeros(total) for output in (LOOP_BACK, *playback.outputs)}
    at = 0
    for signals in passage_signals(playback):
        size = signals[LOOP_BACK].size
        for output, samples in signals.items():
            channels[output][at : at + size] = samples
        at += size
    assert at == total
    looped = channels.pop(LOOP_BACK)
    heard = sum(
        scipy.signal.fftconvolve(samples, path(output))[:total]
        for output, samples in channels.items()
    )
    return np.stack((heard, looped))


def recorded(playback=TOGETHER, *, ppm=0.0, lead_s=2.3, snr_db=45, runs_made=1, seed=1):
    """(2, n): leading silence, a clock of its own, noise."""
    once = played(playback)
    pieces = [np.zeros((2, round(lead_s * RATE)))]
    for run in range(runs_made):
        pieces += [once, np.zeros((2, round((1.7 + 0.613 * run) * RATE)))]
    samples = np.concatenate(pieces, axis=1)
    if ppm:
        samples = resample(samples, 1 + ppm * 1e-6)
    noise = 10 ** (-snr_db / 20) * rms(once[0])
    return samples + noise * np.random.default_rng(seed).standard_normal(samples.shape)


@pytest.mark.parametrize(("ppm", "snr_db"), [(0.0, 60), (-200.0, 45), (150.0, 30)])
def test_every_sweep_is_found_in_order_and_names_its_output(ppm, snr_db):
    found = find_sweeps(recorded(ppm=ppm, snr_db=snr_db), TOGETHER)
    assert [sweep.output for sweep in found] == [1, 2, 4]
    assert [sweep.fault for sweep in found] == ["", "", ""]
    for sweep, passage in zip(found, TOGETHER.passages, strict=True):
        arrives_s = (passage.pilot + ARRIVALS[1]) / RATE * (1 + ppm * 1e-6)
        # A strong reflection may be taken for the direct sound here; timing looks closer.
        assert sweep.at_s - 2.3 * (1 + ppm * 1e-6) == pytest.approx(arrives_s, abs=0.003)


def test_what_is_found_measures_as_a_take_does():
    """Clock error and time zero from the chirps of the reference loudspeaker."""
    for sweep in find_sweeps(recorded(ppm=120.0), TOGETHER):
        measured = response_from_take(
            sweep.samples[0],
            None,
            SWEEP,
            RATE,
            acoustic=AcousticReference(ARRIVALS[1] / RATE),
            length_s=0.4,
        )
        # 1.9 s between the chirps instead of 6.4 s: a third as exact as elsewhere.
        assert measured.clock_error_ppm == pytest.approx(120.0, abs=0.05)
        assert measured.response.timed
        if sweep.output == 4:
            continue
        peak = int(np.argmax(np.abs(measured.response.samples)))
        assert peak == pytest.approx(ARRIVALS[sweep.output], abs=1.5)


def test_a_loop_back_that_was_recorded_too_is_searched_instead():
    """Drowned at the microphone, clear in the cable."""
    samples = recorded(snr_db=200)
    samples[0] += 0.5 * np.random.default_rng(2).standard_normal(samples.shape[1])
    found = find_sweeps(samples, TOGETHER, reference=True)
    assert [sweep.output for sweep in found] == [1, 2, 4]


def test_runs_are_told_apart_also_one_that_was_broken_off():
    samples = recorded(runs_made=2)
    total = TOGETHER.passages[-1].stop
    # The first run is stopped in the middle of its second sweep.
    cut = round(2.3 * RATE) + TOGETHER.passages[1].pilot + round(0.8 * RATE)
    broken = np.concatenate((samples[:, :cut], samples[:, round(2.3 * RATE) + total :]), axis=1)
    whole, (first, second) = (
        runs(find_sweeps(samples, TOGETHER), TOGETHER),
        runs(find_sweeps(broken, TOGETHER), TOGETHER),
    )
    assert [[sweep.output for sweep in run] for run in whole] == [[1, 2, 4], [1, 2, 4]]
    assert [sweep.output for sweep in first] == [1]
    assert [sweep.output for sweep in second] == [1, 2, 4]


def test_a_recording_that_ends_too_early_says_what_is_cut_off():
    samples = recorded()
    stop = round(2.3 * RATE) + TOGETHER.passages[2].pilot + round(1.2 * RATE)
    found = find_sweeps(samples[:, :stop], TOGETHER)
    assert [sweep.output for sweep in found] == [1, 2, 4]
    assert [bool(sweep.fault) for sweep in found] == [False, False, True]
    assert "cut off" in found[2].fault


def test_an_output_that_is_not_connected_is_not_heard_between_its_chirps():
    samples = recorded(snr_db=200)
    passage = TOGETHER.passages[1]
    begun = round(2.3 * RATE) + passage.pilot + round(0.3 * RATE)
    samples[0, begun : begun + round(1.4 * RATE)] = 0.0
    samples[0] += 1e-3 * np.random.default_rng(2).standard_normal(samples.shape[1])
    found = find_sweeps(samples, TOGETHER)
    assert ["not heard" in sweep.fault for sweep in found] == [False, True, False]


@pytest.mark.parametrize("ppm", [0.0, 180.0])
def test_outputs_that_call_themselves_are_found_one_by_one(ppm):
    """A subwoofer answers to its own chirp of half a second between 25 and 120 Hz alone."""
    found = find_sweeps(recorded(APART, ppm=ppm), APART)
    assert [sweep.output for sweep in found] == [1, 4]
    assert [sweep.fault for sweep in found] == ["", ""]


def test_noise_music_and_silence_hold_no_sweep():
    rng = np.random.default_rng(3)
    noise = rng.standard_normal((1, 20 * RATE))
    time = np.arange(20 * RATE) / RATE
    notes = sum(np.sin(2 * np.pi * f * time) * (np.sin(3 * time + f) > 0) for f in (110, 277, 830))
    for samples in (noise, notes[None], np.zeros((1, 20 * RATE))):
        assert find_sweeps(samples, TOGETHER) == ()


@pytest.mark.parametrize(
    ("outputs", "sentence"),
    [((), "at least one output"), ((1, 1), "each of them once"), ((0, 1), "numbered from 1")],
)
def test_a_playback_of_wrong_outputs_is_one_sentence(outputs, sentence):
    with pytest.raises(InputError, match=sentence):
        Playback(SWEEP, RATE, outputs)
