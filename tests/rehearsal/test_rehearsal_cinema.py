"""The rehearsal room as a device: what is recorded follows from what is played."""

from __future__ import annotations

import numpy as np
import pytest
from rehearsal_cinema import MAIN, QUIET, SUBWOOFER, box_room, make_job
from scipy import fft

from roomwright._errors import InputError
from roomwright.measurement import LOOP_BACK, Device
from roomwright.measurement.microphone import correction
from roomwright.measurement.takes import response_from_take
from roomwright.model import Fault, Sweep
from roomwright.rehearsal import (
    LARGEST_JITTER,
    Emitter,
    RehearsalRoom,
    box_of,
    microphone_curve,
    room_responses,
    unit_response,
)
from roomwright.signals import excitation

SEAT = (2.6, 4.0, 1.2)
SWEEP = Sweep(duration_s=0.7, gap_s=0.4, tail_s=0.5, stop_hz=21000.0)
SIGNAL = excitation(SWEEP, 48000)
SILENT_ROOM = box_room(0.5, noise_criterion=0.0)


def rehearsal_room(place=SEAT, **changes):
    """A room at a seat; ideal and all but silent except for the changes."""
    room = RehearsalRoom(make_job(room=SILENT_ROOM, boost_db=60.0, **(QUIET | changes)))
    room.place_microphone(place)
    return room


def transfer(recording, n=1 << 17):
    """Microphone over loop-back, as a spectrum."""
    spectra = fft.rfft(recording.samples.astype(float), n)
    return spectra[0] / spectra[1]


def band(n=1 << 17, low=60.0, high=18000.0):
    frequency = fft.rfftfreq(n, 1 / 48000)
    return (frequency > low) & (frequency < high)


def decibels(amplitude):
    return 20 * np.log10(np.abs(amplitude))


def whole_error_db(measured, true):
    return 10 * np.log10(np.sum(np.abs(measured - true) ** 2) / np.sum(np.abs(true) ** 2))


def test_it_is_a_device():
    device: Device = rehearsal_room()
    assert (device.sampling_rate_hz, device.input_count, device.output_count) == (48000, 2, 16)
    recording = device.play_and_record({1: SIGNAL})
    assert recording.samples.dtype == np.float32
    assert recording.samples.shape == (2, SIGNAL.size + LARGEST_JITTER)
    assert recording.sampling_rate_hz == 48000


@pytest.mark.parametrize(("output", "unit", "model"), [(1, "M+030", MAIN), (3, "SW1", SUBWOOFER)])
@pytest.mark.parametrize("clock_error_ppm", [0.0, 120.0])
def test_what_is_recorded_is_room_times_unit_times_microphone(output, unit, model, clock_error_ppm):
    """Microphone over loop-back against the product of the parts at the recorder's rate: noise
    and float32 remain. (Pascal and full scale are both 60 dB up: the same numbers.)"""
    room = rehearsal_room(clock_error_ppm=clock_error_ppm, latency_s=0.0123)
    job = make_job(room=SILENT_ROOM, **QUIET)
    rate = 48000 * (1 + clock_error_ppm * 1e-6)
    n = 1 << 17
    grid = fft.rfftfreq(n, 1 / rate)
    described = job.unit(unit)
    emitter = Emitter(unit, described.position_m, SEAT, model.directivity)
    path = fft.rfft(room_responses(box_of(SILENT_ROOM, rate), [emitter], SEAT, 1)[0], n)
    microphone = 1 / (correction(microphone_curve(job), grid) * 20.0)
    true = path * unit_response(model, unit, 1, 0.0, grid, rate) * microphone
    kept = band(n) & (grid < model.high_hz * 1.2)
    recorded, reference = fft.rfft(room.play_and_record({output: SIGNAL}).samples.astype(float), n)
    assert whole_error_db(recorded[kept], (reference * true)[kept]) < -75.0


def test_the_measurement_finds_what_is_simulated():
    """The tool's own measuring chain, which knows nothing of the simulation: response in pascal
    for full scale, clock error, latency; noise, distortion and spread as by default."""
    job = make_job(latency_s=0.0123, clock_error_ppm=-35.0)
    room = RehearsalRoom(job)
    room.place_microphone(SEAT)
    recording = room.play_and_record({1: SIGNAL})
    measured = response_from_take(
        recording.microphone,
        recording.reference,
        SWEEP,
        48000,
        curve=microphone_curve(job),
        sensitivity_pa=20.0,
        length_s=0.4,
    )
    assert measured.clock_error_ppm == pytest.approx(-35.0, abs=0.3)
    assert 0.0123 <= measured.latency_s <= 0.0123 + (LARGEST_JITTER + 1) / 48000
    n = 1 << 16
    grid = fft.rfftfreq(n, 1 / 48000)
    emitter = Emitter("M+030", job.unit("M+030").position_m, SEAT, MAIN.directivity)
    path = fft.rfft(room_responses(box_of(job.room, 48000), [emitter], SEAT, 1)[0], n)
    true = path * unit_response(MAIN, "M+030", 1, 0.5, grid, 48000)
    kept = band(n, 200, 16000)
    found = fft.rfft(measured.response.samples, n)
    # a sweep of 0.7 s in NC-18 noise: some 30 dB
    assert whole_error_db(found[kept], true[kept]) < -25.0


def test_the_recorder_reads_at_its_own_clock_after_its_latency():
    """A tone of f Hz played is sin(2 pi f (n / (rate (1 + e)) - latency)) in the loop-back."""
    ppm, latency_s, tone_hz = 200.0, 0.0123456, 997.0
    time = np.arange(48000) / 48000
    tone = (0.5 * np.sin(2 * np.pi * tone_hz * time)).astype(np.float32)
    room = rehearsal_room(clock_error_ppm=ppm, latency_s=latency_s)
    reference = room.play_and_record({1: tone}).reference
    inner = np.arange(4000, 44000)
    errors = []
    for jitter in range(LARGEST_JITTER + 1):
        at = (inner - jitter) / (48000 * (1 + ppm * 1e-6)) - latency_s
        errors.append(np.abs(reference[inner] - 0.5 * np.sin(2 * np.pi * tone_hz * at)).max())
    assert min(errors) < 1e-4


def test_jitter_differs_from_call_to_call_and_both_inputs_share_it():
    room = rehearsal_room(latency_s=0.002)
    first, second = (room.play_and_record({1: SIGNAL}) for _ in range(2))
    arrivals = [np.argmax(np.abs(recording.reference) > 0.05) for recording in (first, second)]
    assert arrivals[0] != arrivals[1]
    kept = band()
    assert whole_error_db(transfer(first)[kept], transfer(second)[kept]) < -45.0


def test_the_same_seed_gives_the_same_samples_in_any_order():
    changes = {"distortion_percent": 1.0, "converter_noise_dbfs": -90.0, "unit_spread_db": 0.5}
    one, other = rehearsal_room(**changes), rehearsal_room(**changes)
    elsewhere = (1.8, 4.4, 1.2)
    forward = {}
    for place in (SEAT, elsewhere):
        one.place_microphone(place)
        for output in (1, 3):
            forward[place, output] = one.play_and_record({output: SIGNAL}).samples
    for place in (elsewhere, SEAT):
        other.place_microphone(place)
        for output in (3, 1):
            other.record(0.1)
            again = other.play_and_record({output: SIGNAL}).samples
            np.testing.assert_array_equal(again, forward[place, output])
    assert not np.array_equal(other.play_and_record({1: SIGNAL}).samples, forward[SEAT, 1])


def test_another_seed_gives_other_noise():
    recordings = []
    for seed in (1, 2):
        room = rehearsal_room(seed=seed, converter_noise_dbfs=-60.0)
        recordings.append(room.record(0.1).samples)
    assert np.corrcoef(recordings[0][1], recordings[1][1])[0, 1] == pytest.approx(0, abs=0.06)


def test_outputs_played_together_add_up_and_the_loop_back_is_their_mean():
    room = rehearsal_room()
    together = room.play_and_record({1: SIGNAL, 2: -0.5 * SIGNAL})
    alone = [transfer(room.play_and_record({output: SIGNAL})) for output in (1, 2)]
    kept = band()
    # the loop-back carries (1 - 1/2) / 2 of the signal
    expected = (alone[0] - 0.5 * alone[1]) / 0.25
    assert whole_error_db(transfer(together)[kept], expected[kept]) < -40.0


def test_the_loop_back_can_have_a_signal_of_its_own():
    """So that the time reference is the channel's signal, before a processor delays it."""
    room = rehearsal_room()
    late = np.concatenate([np.zeros(480, np.float32), SIGNAL[:-480]])
    delayed = transfer(room.play_and_record({LOOP_BACK: SIGNAL, 1: late}))
    plain = transfer(room.play_and_record({1: SIGNAL}))
    frequency = fft.rfftfreq(1 << 17, 1 / 48000)
    expected = plain * np.exp(-2j * np.pi * frequency * 0.01)
    assert whole_error_db(delayed[band()], expected[band()]) < -45.0


def with_fault(**fault):
    room = rehearsal_room(faults=(Fault(**fault),))
    return transfer(room.play_and_record({fault["output"]: SIGNAL}))


def test_faults_are_heard():
    """Each against the same output without its fault."""
    plain = {
        output: transfer(rehearsal_room().play_and_record({output: SIGNAL})) for output in (1, 2, 3)
    }
    kept = band()
    frequency = fft.rfftfreq(1 << 17, 1 / 48000)[kept]
    reversed_ = with_fault(kind="reversed", output=1)[kept]
    assert whole_error_db(reversed_, -plain[1][kept]) < -45.0
    quiet = with_fault(kind="quiet", output=2, amount=9.0)[kept]
    assert whole_error_db(quiet, plain[2][kept] * 10 ** (-9 / 20)) < -40.0
    late = with_fault(kind="late", output=1, amount=0.0045)[kept]
    assert whole_error_db(late, plain[1][kept] * np.exp(-2j * np.pi * frequency * 0.0045)) < -45.0
    swapped = with_fault(kind="swapped", output=1, other=2)[kept]
    assert whole_error_db(swapped, plain[2][kept]) < -45.0
    dead = with_fault(kind="dead", output=1)[kept]
    assert np.median(decibels(dead / plain[1][kept])) < -50.0


def test_a_buzz_adds_noise_that_follows_the_drive():
    """A 70 Hz tone: with the fault, the 1 to 6 kHz band rises well above the tone's harmonics."""
    tone = (0.25 * np.sin(2 * np.pi * 70 * np.arange(48000) / 48000)).astype(np.float32)
    levels = []
    for faults in ((), (Fault(kind="buzz", output=1),)):
        room = rehearsal_room(faults=faults, distortion_percent=1.0)
        samples = room.play_and_record({1: tone}).microphone[8000:40000].astype(float)
        spectrum = np.abs(fft.rfft(samples * np.hanning(samples.size))) ** 2
        frequency = fft.rfftfreq(samples.size, 1 / 48000)
        rattle = spectrum[(frequency > 1000) & (frequency < 6000)].sum()
        levels.append(10 * np.log10(rattle / spectrum.sum()))
    assert levels[1] > -35.0
    assert levels[1] - levels[0] > 20.0


def test_distortion_is_recorded_and_grows_with_level():
    """Second harmonic of 200 Hz, 20 dB apart: 20 dB apart re the fundamental."""
    time = np.arange(48000) / 48000
    ratios = []
    for peak in (0.5, 0.05):
        tone = (peak * np.sin(2 * np.pi * 200 * time)).astype(np.float32)
        samples = rehearsal_room(distortion_percent=5.0).play_and_record({1: tone}).microphone
        spectrum = np.abs(fft.rfft(samples[12000:36000] * np.hanning(24000)))
        ratios.append(spectrum[200] / spectrum[100])
    assert 20 * np.log10(ratios[0] / ratios[1]) == pytest.approx(20.0, abs=1.5)


def test_recordings_clip_at_full_scale():
    job = make_job(room=SILENT_ROOM, **QUIET)
    loud = job.model_copy(
        update={"microphone": job.microphone.model_copy(update={"sensitivity_pa": 0.02})}
    )
    room = RehearsalRoom(loud)
    room.place_microphone(SEAT)
    assert np.abs(room.play_and_record({1: SIGNAL}).microphone).max() == 1.0


def test_the_absolute_level_is_the_data_sheets():
    """A tone at -20 dBFS, 1 m on axis: sensitivity, here within 2 dB for what walls of 0.95 and
    the microphone add; and exactly 6.02 dB more for twice the signal."""
    room = RehearsalRoom(make_job(room=box_room(0.95), **QUIET))
    room.place_microphone((1.62, 1.145, 1.27))
    levels = []
    time = np.arange(12000) / 48000
    for peak in (0.1, 0.2):
        tone = (peak * np.sin(2 * np.pi * 4000 * np.arange(24000) / 48000)).astype(np.float32)
        pressure = 20.0 * room.play_and_record({1: tone}).microphone[8000:20000]
        at_tone = 2 * np.mean(pressure * np.hanning(12000) * np.exp(-8000j * np.pi * time)) / 0.5
        levels.append(decibels(at_tone / np.sqrt(2) / 20e-6))
    assert levels[0] == pytest.approx(MAIN.sensitivity_db, abs=2.0)
    assert levels[1] - levels[0] == pytest.approx(6.02, abs=0.02)


@pytest.mark.parametrize(
    ("signals", "message"),
    [
        ({17: SIGNAL}, "output 17 does not exist; the outputs are 1 to 16"),
        ({}, "no signal to play"),
        ({LOOP_BACK: SIGNAL}, "no signal to play"),
        ({1: np.array([0.0, np.nan], np.float32)}, "the signal for output 1 holds"),
        ({1: np.zeros((2, 5), np.float32)}, "one channel"),
        ({1: np.zeros(0, np.float32)}, "one channel"),
    ],
)
def test_signals_that_cannot_be_played_are_refused(signals, message):
    with pytest.raises(InputError, match=message):
        rehearsal_room().play_and_record(signals)


def test_the_microphone_must_stand_in_the_room():
    room = RehearsalRoom(make_job())
    with pytest.raises(InputError, match="has not been placed"):
        room.record(0.1)
    with pytest.raises(InputError, match=r"at \(2, 7, 1\) m stands outside the room"):
        room.place_microphone((2.0, 7.0, 1.0))
    room.place_microphone((1.32, 0.2, 1.3))
    with pytest.raises(InputError, match="apart"):
        room.play_and_record({1: SIGNAL})


def test_an_output_that_drives_nothing_plays_silently():
    room = rehearsal_room(converter_noise_dbfs=-120.0)
    recording = room.play_and_record({16: SIGNAL})
    assert np.abs(recording.microphone).max() < 1e-4
    assert np.abs(recording.reference).max() > 0.1
