"""Detectors of single takes on signals whose truth is known by construction, without any room."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from scipy.signal import butter, fftconvolve, resample_poly, sosfilt

from roomwright.measurement.deconvolution import transform_length
from roomwright.measurement.quality import falls_with_order, judge_take
from roomwright.measurement.quality.cells import CELL_OCTAVES_HZ, Cells, falls_no_more, noise_cells
from roomwright.measurement.quality.events import unsteady
from roomwright.measurement.takes import divided
from roomwright.model import Sweep
from roomwright.signals import excitation, timeline

RATE = 48000
SWEEP = Sweep(duration_s=2.0, tail_s=0.8, level_dbfs=-12.0, stop_hz=21000.0)
PLAYED = excitation(SWEEP, RATE)
BAND_HZ = (60.0, 20000.0)
NOTHING = np.full(4, np.nan)


def decaying(seed=3, reverberation_s=0.35):
    """A response of direct sound and an exponentially decaying Gaussian tail."""
    rng = np.random.default_rng(seed)
    time = np.arange(round(0.5 * RATE)) / RATE
    tail = 0.02 * rng.standard_normal(time.size) * 10 ** (-3 * time / reverberation_s)
    tail[:200] = 0.0
    tail[200] = 0.3
    # a loudspeaker for 50 Hz and up
    return sosfilt(butter(2, 50.0, "highpass", fs=RATE, output="sos"), tail)


def recorded(played=PLAYED, response=None, noise=1e-4, seed=1):
    rng = np.random.default_rng(seed)
    heard = np.convolve(played, [0.3]) if response is None else _through(played, response)
    microphone = heard + noise * rng.standard_normal(heard.size)
    reference = played + 1e-6 * rng.standard_normal(played.size)
    return microphone.astype(np.float32), reference.astype(np.float32)


def _through(played, response):
    return fftconvolve(played, response)[: played.size]


def kinds(microphone, reference, **changes):
    judged = judge_take(
        microphone, reference, SWEEP, RATE, band_hz=BAND_HZ, length_s=0.6, **changes
    )
    return [found.kind for found in judged.diagnoses]


def test_a_sound_take_has_no_diagnosis():
    assert kinds(*recorded(response=decaying())) == []


def test_a_cable_is_no_room():
    assert kinds(*recorded()) == ["wrong_input"]


def narrow(response, noise, seed=7):
    """A subwoofer's take with a loop-back that alone carries the pilots, in a room that rumbles."""
    rng = np.random.default_rng(seed)
    sweep = Sweep(
        start_hz=25.0, stop_hz=200.0, duration_s=1.0, tail_s=0.8, pilot_band_hz=(10.0, 21000.0)
    )
    whole, places = excitation(sweep, RATE), timeline(sweep, RATE)
    alone = np.zeros_like(whole)
    alone[places.sweep_start : places.sweep_stop] = whole[places.sweep_start : places.sweep_stop]
    heard = whole * 0.3 if response is None else _through(alone, response)
    rumble = np.cumsum(rng.standard_normal(heard.size))
    rumble = sosfilt(butter(1, 5.0, "highpass", fs=RATE, output="sos"), rumble)
    heard = heard + noise * (rumble / np.std(rumble) + 0.1 * rng.standard_normal(heard.size))
    judged = judge_take(
        heard.astype(np.float32), whole, sweep, RATE, band_hz=(25.0, 200.0), length_s=0.6
    )
    return [found.kind for found in judged.diagnoses]


@pytest.mark.parametrize("noise", [1e-6, 1e-4])
def test_a_cable_is_none_for_a_subwoofer_either(noise):
    assert narrow(None, noise) == ["wrong_input"]


@pytest.mark.parametrize("gain", [1.0, 0.1, 0.01])
def test_a_soft_subwoofer_in_the_open_is_no_cable(gain):
    """Nothing is reflected, and its own roll-off of 24 dB an octave begins below its band."""
    one = np.zeros(RATE // 2)
    one[200] = 0.3 * gain
    response = sosfilt(butter(4, (22.0, 250.0), "bandpass", fs=RATE, output="sos"), one)
    assert "wrong_input" not in narrow(response, 1e-4)


@pytest.mark.parametrize("lost", [64, 480, 4800])
def test_lost_samples_are_seen_in_the_loop_back(lost):
    microphone, reference = recorded(response=decaying())
    at = round(1.7 * RATE)
    cut = [np.delete(samples, slice(at, at + lost)) for samples in (microphone, reference)]
    padded = [np.pad(samples, (0, lost), mode="reflect") for samples in cut]
    assert kinds(*padded) == ["dropout"]


@pytest.mark.parametrize("reference_there", [True, False])
def test_samples_lost_outside_the_sweep_are_told_from_a_move_by_the_pilots(reference_there):
    microphone, reference = recorded(response=decaying())
    at = timeline(SWEEP, RATE).sweep_stop + round(0.5 * RATE)
    cut = [np.delete(samples, slice(at, at + 480)) for samples in (microphone, reference)]
    judged = judge_take(
        cut[0], cut[1] if reference_there else None, SWEEP, RATE, band_hz=BAND_HZ, length_s=0.6
    )
    (found,) = judged.diagnoses
    assert found.kind == "dropout"
    assert found.evidence == pytest.approx(10.0, abs=0.1)


def test_the_second_pilot_is_no_part_of_the_sweep():
    """Transforms have lengths that are quick: the circle may reach into what follows the tail."""
    sweep = SWEEP.model_copy(update={"duration_s": 2.3, "tail_s": 1.24})
    places, length = timeline(sweep, RATE), transform_length(sweep, RATE)
    assert places.sweep_start + length > places.pilot_2 + 0.5 * sweep.pilot_s * RATE
    microphone, reference = recorded(excitation(sweep, RATE), decaying())
    judged = judge_take(microphone, reference, sweep, RATE, band_hz=BAND_HZ, length_s=0.6)
    assert judged.diagnoses == ()


def test_silenced_samples_are_seen_without_a_loop_back():
    microphone, _ = recorded(response=decaying())
    microphone[60000:60100] = 0.0
    assert kinds(microphone, None) == ["dropout"]


@pytest.mark.parametrize("rate", [44100, 96000])
def test_another_rate_is_named(rate):
    samples = [resample_poly(one, rate, RATE) for one in recorded(response=decaying())]
    judged = judge_take(*samples, SWEEP, RATE, band_hz=BAND_HZ, length_s=0.6)
    (found,) = judged.diagnoses
    assert found.kind == "wrong_rate"
    assert found.evidence == rate
    assert judged.measured is None


def test_a_silent_input_is_told_from_a_dead_output():
    rng = np.random.default_rng(5)
    _, reference = recorded(response=decaying())
    hiss = (1e-4 * rng.standard_normal(reference.size)).astype(np.float32)
    assert kinds(hiss, reference, background_rms=1e-4) == ["dead_output"]
    assert kinds(hiss, reference, background_rms=1e-3) == ["silent_input"]


def test_a_microphone_that_moves_hears_other_pilots():
    one, reference = recorded(response=decaying(seed=3))
    two, _ = recorded(response=decaying(seed=4))
    half = one.size // 2
    assert "moved" in kinds(np.concatenate([one[:half], two[half:]]), reference)


def cells_of(microphone, reference):
    circle = divided(microphone, reference, SWEEP, RATE).circle
    return noise_cells(circle, SWEEP, RATE)


def test_cells_hold_the_noise_alone():
    """White noise of a known power in every cell that is free, whatever the sweep does."""
    microphone, reference = recorded(response=decaying(), noise=1e-4)
    cells = cells_of(microphone, reference)
    size = 2 * (round(0.08 * RATE) // 2)
    # a Hann window keeps 3/8 of the power; one bin of white noise of variance v has v times that
    per_bin = (1e-4) ** 2 * size * 3 / 8
    width = cells.degrees.max(axis=0) * 1.5 / 2
    covered = np.flatnonzero(SWEEP.stop_hz > CELL_OCTAVES_HZ * 2**0.5)
    assert np.isnan(cells.power[:, covered[-1] + 1 :]).all()
    for octave in covered[2:]:
        level = np.nanmean(cells.power[:, octave]) / (per_bin * width[octave])
        # some 20 cells of 20 degrees and more: 1 dB is three standard deviations
        assert abs(10 * np.log10(level)) < 1.0


def test_a_burst_is_found_where_it_is_and_steady_noise_is_none():
    microphone, reference = recorded(response=decaying(), noise=1e-4)
    cells = cells_of(microphone, reference)
    assert unsteady(cells, NOTHING) is None
    start = microphone.size - round(1.5 * RATE)
    burst = np.random.default_rng(2).standard_normal(round(0.15 * RATE))
    microphone[start : start + burst.size] += (3e-3 * burst).astype(np.float32)
    found = unsteady(cells_of(microphone, reference), NOTHING)
    assert found.kind == "noise_event"
    # 30 times the amplitude, 29.5 dB
    assert found.evidence == pytest.approx(29.5, abs=3.0)


def test_one_cell_is_a_noise_only_if_it_stands_out_clearly():
    rng = np.random.default_rng(6)
    power = rng.chisquare(40.0, (60, CELL_OCTAVES_HZ.size)) / 40.0
    time_s = 0.04 * np.arange(1, 61)
    plain = Cells(
        time_s,
        power,
        np.zeros(power.shape, dtype=bool),
        np.full(power.shape, 40.0),
        20.0 * 2.0 ** (time_s * 4.0),
    )
    assert unsteady(plain, NOTHING) is None
    for over, kind in ((8.0, None), (300.0, "noise_event")):
        spoilt = power.copy()
        spoilt[30, 7] = over
        found = unsteady(replace(plain, power=spoilt), NOTHING)
        assert (None if found is None else found.kind) == kind


def test_a_kink_is_distortion_and_a_crack_in_all_octaves_is_none():
    """Harmonics of high order rise while the sweep comes nearer; a crack is at one time."""
    response = decaying()
    # as of a coil that strikes below 1.5 kHz: fine enough that nothing folds back
    low = sosfilt(butter(2, 1500.0, fs=RATE, output="sos"), PLAYED)
    fine = resample_poly(low, 4, 1)
    struck = resample_poly(np.minimum(fine, 0.6 * fine.max()) - fine, 1, 4)[: PLAYED.size]
    microphone, reference = recorded(response=response)
    kinked = microphone + _through(struck, response).astype(np.float32)
    assert kinds(kinked, reference) == ["distortion"]
    # 0.9 s into the sweep: the upper octaves are free of sweep and harmonics, and decay with it
    at = round((SWEEP.lead_s + SWEEP.pilot_s + SWEEP.gap_s + 0.9) * RATE)
    crack = np.random.default_rng(4).standard_normal(RATE // 4)
    crack *= 10.0 ** (-3.0 * np.arange(crack.size) / RATE / 0.2) * 1e-2
    microphone[at : at + crack.size] += crack.astype(np.float32)
    assert kinds(microphone, reference) == ["noise_event"]


def test_a_decay_is_over_where_it_falls_no_more():
    """60 dB in 2 s falls by 7.2 dB in 0.24 s; what is steady falls by nothing."""
    hop_s = 0.04
    time = hop_s * np.arange(60)
    falling = np.repeat(10.0 ** (-6.0 * time / 2.0)[:, None], CELL_OCTAVES_HZ.size, axis=1)
    lag = round(0.24 / hop_s)
    assert not falls_no_more(falling, round(hop_s * RATE), RATE).any()
    steady = falls_no_more(falling + 1e-3, round(hop_s * RATE), RATE)[:-lag]
    diffuse = CELL_OCTAVES_HZ > 450.0
    assert not steady[:, ~diffuse].any()
    # (0.19 a + b) 2.51 > a + b for a decay a over noise b: a < 2.9 b, 0.846 s; a cell of tolerance,
    # and one for the middle of the three that are averaged
    first = np.argmax(steady[:, diffuse], axis=0) * hop_s + hop_s
    assert np.all(np.abs(first - 0.846) <= hop_s)


@pytest.mark.parametrize(
    ("orders_db", "falls"),
    [
        ((-23.0, -30.0, -42.0, np.nan), True),  # a driven cone
        ((-35.5, -35.5, -35.7, -32.6), False),  # the noise of a loose part
        ((-31.0, np.nan, np.nan, np.nan), True),
        ((np.nan, np.nan, np.nan, np.nan), True),
    ],
)
def test_harmonics_fall_with_their_order_and_the_noise_of_a_rattle_does_not(orders_db, falls):
    assert falls_with_order(np.array(orders_db)) is falls
