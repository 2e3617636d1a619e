"""Three ways to time zero, and a recorder whose clock is off: what is left of it."""

from __future__ import annotations

from functools import cache

import numpy as np
import pytest
import scipy.signal

from roomwright._errors import InputError
from roomwright.measurement import LOOP_BACK, AcousticReference, response_from_take, take_signals
from roomwright.measurement.chirps import chirp_pair, chirp_pulses
from roomwright.model import Sweep
from roomwright.signals import excitation, fractional_delay, resample, rms, timeline

RATE = 48000
SWEEP = Sweep(duration_s=3.0, level_dbfs=-12)
#: A subwoofer's sweep with chirps that a full-range loudspeaker plays for it.
LOW = Sweep(start_hz=10, stop_hz=300, duration_s=3.0, level_dbfs=-12, pilot_band_hz=(100, 20000))
PPM = (0.0, 37.3, -110.0, 200.0)
ROOMS = ((0.25, 60), (0.6, 40))


def path(seed, reverberation_s, arrival, low_hz=40.0, high_hz=20000.0):
    """A loudspeaker in a room: direct sound at a sample with its fraction, a diffuse tail."""
    rng = np.random.default_rng(seed)
    time = np.arange(RATE) / RATE
    first = int(arrival)
    room = 0.04 * rng.standard_normal(RATE) * np.exp(-6.91 * time / reverberation_s)
    room[: first + 30] = 0.0
    room[first] = 1.0
    band = scipy.signal.butter(2, (low_hz, high_hz), "band", fs=RATE, output="sos")
    return fractional_delay(0.3 * scipy.signal.sosfilt(band, room), arrival - first)


def recorded(signals, paths, *, ppm=0.0, latency=1137.37, snr_db=200.0, seed=1):
    """Microphone and loop-back of a recorder with a latency, a clock and noise of its own."""
    heard = sum(scipy.signal.fftconvolve(signals[n], paths[n]) for n in paths)
    looped = np.zeros_like(heard)
    looped[: signals[LOOP_BACK].size] = 0.5 * signals[LOOP_BACK]
    channels = fractional_delay(np.stack((heard, looped)), latency)
    if ppm:
        channels = resample(channels, 1 + ppm * 1e-6)
    noise = 10 ** (-snr_db / 20) * rms(channels[0])
    channels += noise * np.random.default_rng(seed).standard_normal(channels.shape)
    return channels.astype(np.float32)


def off(measured, true, at_hz):
    """How much later `measured` is than `true`, s, and its phase there, degrees, near `at_hz`."""
    n = 2 * RATE
    frequencies = np.fft.rfftfreq(n, 1 / RATE)
    cross = np.fft.rfft(measured, n) * np.fft.rfft(true, n).conj()
    band = np.abs(np.log2(np.maximum(frequencies, 1) / at_hz)) < 0.25
    phase = np.angle(np.sum(cross[band]))
    return -phase / (2 * np.pi * at_hz), np.degrees(phase)


@cache
def case(room):
    reverberation_s, snr_db = ROOMS[room]
    # The one measured stands 3.1 m away, the reference loudspeaker 2.4 m.
    return path(3, reverberation_s, 433.4), path(4, reverberation_s, 335.7), snr_db


@pytest.mark.parametrize("ppm", PPM)
@pytest.mark.parametrize("room", range(len(ROOMS)))
def test_a_loop_back_leaves_no_clock_error(ppm, room):
    """Asked for are 5 us and 1 degree at 10 kHz; 1 degree there is 0.28 us, the stricter."""
    measured, _, snr_db = case(room)
    signals = take_signals(SWEEP, RATE, 1)
    microphone, looped = recorded(signals, {1: measured}, ppm=ppm, snr_db=snr_db)
    found = response_from_take(microphone, looped, SWEEP, RATE, length_s=0.5)
    late_s, phase_deg = off(found.response.samples, measured, 10e3)
    assert abs(late_s) < 5e-6
    assert abs(phase_deg) < 1.0
    assert found.response.timed


@pytest.mark.parametrize("ppm", PPM)
@pytest.mark.parametrize("room", range(len(ROOMS)))
def test_an_acoustic_reference_of_known_place_gives_the_moment_too(ppm, room):
    """The clock leaves below 1 degree at 10 kHz; the moment is that of the reference's first
    peak, which its own 20 kHz limit and the first reflections move by less than 10 us.
    """
    measured, chirps, snr_db = case(room)
    signals = take_signals(SWEEP, RATE, 1, chirps_on=2)
    known = AcousticReference(flight_s=335.7 / RATE)
    still, running = (
        response_from_take(
            recorded(signals, {1: measured, 2: chirps}, ppm=p, snr_db=snr_db, seed=s)[0],
            None,
            SWEEP,
            RATE,
            acoustic=known,
            length_s=0.5,
        ).response
        for p, s in ((0.0, 1), (ppm, 2))
    )
    assert running.timed
    late_s, phase_deg = off(running.samples, still.samples, 10e3)
    assert abs(late_s) < 5e-6
    assert abs(phase_deg) < 1.0
    assert abs(off(running.samples, measured, 1e3)[0]) < 10e-6


def test_takes_at_one_place_share_the_reference_whatever_the_latency():
    """Relative delays of sources hold though each recording was started by hand."""
    measured, chirps, snr_db = case(1)
    other = path(7, 0.4, 612.9)
    signals = take_signals(SWEEP, RATE, 1, chirps_on=2)
    one, two = (
        response_from_take(
            recorded(
                signals, {1: source, 2: chirps}, ppm=p, latency=late, snr_db=snr_db, seed=int(late)
            )[0],
            None,
            SWEEP,
            RATE,
            acoustic=AcousticReference(),
            length_s=0.5,
        )
        for source, p, late in ((measured, 20.0, 400.25), (other, -80.0, 31234.5))
    )
    # Time zero is 20 ms before the first sound of the reference.
    expected = (fractional_delay(source, 0.02 * RATE - 335.7) for source in (measured, other))
    late_s = [
        off(found.response.samples, true, 1e3)[0]
        for found, true in zip((one, two), expected, strict=True)
    ]
    assert late_s[0] == pytest.approx(late_s[1], abs=5e-6)
    assert abs(late_s[0]) < 10e-6
    assert not one.response.timed
    assert any("not between stations" in finding.text for finding in one.findings)


@pytest.mark.parametrize("ppm", [0.0, 200.0])
def test_a_subwoofer_is_timed_by_a_full_range_loudspeaker(ppm):
    """Its own chirp, 10 to 300 Hz, would say its moment to no better than some 0.1 ms."""
    low = path(9, 0.5, 500.6, 20, 120)
    _, chirps, _ = case(1)
    signals = take_signals(LOW, RATE, 3, chirps_on=2)
    found = response_from_take(
        recorded(signals, {3: low, 2: chirps}, ppm=ppm, snr_db=50)[0],
        None,
        LOW,
        RATE,
        acoustic=AcousticReference(335.7 / RATE),
        length_s=0.5,
    )
    late_s, _ = off(found.response.samples, low, 60.0)
    # 10 us of the reference's first peak, and at 60 Hz as much of noise 50 dB down.
    assert abs(late_s) < 20e-6


@pytest.mark.parametrize("ppm", PPM)
def test_with_neither_relative_delays_hold_by_one_latency_and_it_is_said(ppm):
    measured, _, snr_db = case(0)
    other = path(7, 0.4, 612.9)
    signals = take_signals(SWEEP, RATE, 1)
    one, two = (
        response_from_take(
            recorded(signals, {1: source}, ppm=ppm, snr_db=snr_db)[0],
            None,
            SWEEP,
            RATE,
            length_s=0.5,
        )
        for source in (measured, other)
    )
    # The latency is in the responses; what the clock did to their phase is not.
    expected = (fractional_delay(source, 1137.37) for source in (measured, other))
    late_s = [
        off(found.response.samples, true, 10e3)[0]
        for found, true in zip((one, two), expected, strict=True)
    ]
    assert late_s[0] == pytest.approx(late_s[1], abs=1 / 360 / 10e3)
    assert not one.response.timed
    assert any("no reference channel" in finding.text for finding in one.findings)


def test_a_reference_loudspeaker_that_is_not_heard_is_said():
    measured, _, snr_db = case(0)
    signals = take_signals(SWEEP, RATE, 1, chirps_on=2)
    microphone, _ = recorded(signals, {1: measured}, snr_db=snr_db)
    with pytest.raises(InputError, match="two chirps of the reference loudspeaker are not heard"):
        response_from_take(microphone, None, SWEEP, RATE, acoustic=AcousticReference())


def test_what_is_played_adds_up_to_the_whole_signal():
    whole = excitation(SWEEP, RATE)
    alone = take_signals(SWEEP, RATE, 5)
    np.testing.assert_array_equal(alone[5], whole)
    np.testing.assert_array_equal(take_signals(SWEEP, RATE, 5, chirps_on=5)[5], whole)
    parts = take_signals(SWEEP, RATE, 5, chirps_on=2)
    np.testing.assert_array_equal(parts[5] + parts[2], whole)
    np.testing.assert_array_equal(parts[LOOP_BACK], whole)
    places = timeline(SWEEP, RATE)
    assert not parts[2][places.sweep_start : places.sweep_stop].any()
    assert not parts[5][: places.sweep_start].any()
    assert not parts[5][places.sweep_stop :].any()


def test_the_chirps_of_another_loudspeaker_keep_to_its_band():
    pilots = take_signals(LOW, RATE, 3, chirps_on=2)[2]
    spectrum = np.abs(np.fft.rfft(pilots)) ** 2
    frequencies = np.fft.rfftfreq(pilots.size, 1 / RATE)
    outside = (frequencies < 50) | (frequencies > 21000)
    # Fades of 5 ms let some 1e-4 of the energy out over an octave.
    assert spectrum[outside].sum() < 1e-3 * spectrum.sum()


def test_noise_alone_holds_no_pair_of_chirps():
    for seed in range(5):
        noise = np.random.default_rng(seed).standard_normal(6 * RATE)
        pulses = chirp_pulses(noise, SWEEP, RATE)
        assert chirp_pair(pulses, SWEEP, RATE) is None
