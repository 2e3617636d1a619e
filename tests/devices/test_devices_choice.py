"""Which interface, which connectors: what is chosen, what is refused, what comes and goes."""

from __future__ import annotations

import threading
import time

import numpy as np
import pytest
import scipy.signal
from sound_server import JACK, LOOPED, RATE, WIRE, lag, noise, take

from roomwright._errors import Cancelled, DeviceError
from roomwright.devices import AudioInterface, audio_devices, check_interface, rates_hz
from roomwright.measurement import LOOP_BACK, response_from_take, take_signals
from roomwright.model import Interface, Sweep


@pytest.fixture(scope="module")
def listed(wire):
    return audio_devices()


def test_what_is_plugged_in_is_listed(listed):
    (found,) = (device for device in listed if device.name == "wire")
    assert (found.host_api, found.inputs, found.outputs) == (JACK, 2, 16)
    # The server runs at one rate, and so do its clients.
    assert rates_hz(found) == (RATE,)


def test_the_processors_outputs_begin_where_it_is_wired(wire):
    interface = WIRE.model_copy(update={"microphone_input": 2, "first_output": 5})
    signal = noise()
    with AudioInterface(interface, RATE, 2) as opened:
        heard = take(opened, {2: signal}).microphone
    # Output 2 is the sixth of the interface.
    assert np.abs(heard).max() == np.abs(signal).max() * np.float32(2.0**-5)


def test_sixteen_outputs_play_together_each_its_own(wire):
    """The second input weighs output n by 2 to the power of -(n - 1): a sum that tells them."""
    interface = WIRE.model_copy(update={"microphone_input": 2})
    ones = np.full(9000, 2.0**-10, dtype=np.float32)
    ones[:1000] = 0.0
    played = [1, 4, 11, 16]
    with AudioInterface(interface, RATE, 16) as opened:
        recording = take(opened, dict.fromkeys(played, ones))
    level = recording.microphone.max()
    assert level == sum(2.0 ** -(n - 1) for n in played) * 2.0**-10


def test_the_loop_back_carries_the_mean_or_a_signal_of_its_own(wire):
    one, two = noise(seed=1), noise(seed=2)
    with AudioInterface(LOOPED, RATE, 4) as opened:
        assert opened.input_count == 2
        mean = take(opened, {1: one, 2: two})
        own = take(opened, {LOOP_BACK: two, 1: one})
    # The microphone hears all three outputs, the looped one among them.
    late = lag(mean.microphone, one + two)
    n = one.size
    half = (one.astype(float) + two) / 2
    np.testing.assert_allclose(mean.microphone[late : late + n], 3 * half, atol=1e-7)
    np.testing.assert_allclose(own.microphone[late : late + n], one + two, atol=1e-7)
    assert mean.reference is not None
    weighed = one + two / 2 + 2.0**-15 * half
    np.testing.assert_allclose(mean.reference[late : late + n], weighed, atol=1e-7)


def test_unplugged_in_the_middle_is_said_within_three_seconds_and_survived(sound_server):
    wire = np.ones((2, 1, 1))
    plugged = sound_server.room("plugged", wire)
    choice = Interface(device="plugged", host_api=JACK)
    long, short = noise(20.0), noise()
    with AudioInterface(choice, RATE, 2) as device:
        kept = take(device, {1: short})
        threading.Timer(1.2, plugged.unplug).start()
        begun = time.monotonic()
        with pytest.raises(DeviceError, match=r"plugged went away .* s into the take"):
            device.play_and_record({1: long})
        assert time.monotonic() - begun < 1.2 + 3.0
        with pytest.raises(DeviceError, match=r"plugged through JACK .* is not there; plug it in"):
            device.play_and_record({1: short})
        plugged = sound_server.room("plugged", wire)
        again = take(device, {1: short})
    plugged.unplug()
    np.testing.assert_array_equal(again.microphone, kept.microphone)


def test_a_stop_while_a_take_is_made_ready_counts(wire):
    device = AudioInterface(WIRE, RATE, 16)
    # The take opens the stream, which takes longer than this with its pre-roll.
    threading.Timer(0.1, device.stop).start()
    with pytest.raises(Cancelled):
        device.play_and_record({1: np.full(2 * RATE, 0.1, dtype=np.float32)})
    device.close()


@pytest.mark.parametrize(
    ("change", "rate", "sentence"),
    [
        ({"device": ""}, RATE, "no audio interface yet; choose one"),
        ({"device": "cupboard"}, RATE, "cupboard through JACK .* is not there; plug it in"),
        ({}, 44100, "wire refused to play at 44100 Hz: it does not run at that sampling rate"),
        ({"microphone_input": 3}, RATE, "wire has 2 inputs; input 3 does not exist"),
        ({"first_output": 2}, RATE, "wire has 16 outputs; output 17 is needed"),
    ],
)
def test_what_cannot_be_used_is_one_sentence(listed, change, rate, sentence):
    with pytest.raises(DeviceError, match=sentence):
        check_interface(WIRE.model_copy(update=change), rate, 16)


def test_a_device_without_inputs_is_refused(sound_server):
    deaf = sound_server.room("deaf", np.zeros((2, 0, 1)))
    try:
        with pytest.raises(DeviceError, match="deaf has no inputs; a microphone needs one"):
            AudioInterface(Interface(device="deaf", host_api=JACK), RATE, 2).open()
    finally:
        deaf.unplug()


def test_a_sweep_through_the_server_measures_the_room_behind_it(sound_server):
    """Two loudspeakers of 4096 taps, the third output looped back into the second input."""
    rng = np.random.default_rng(4)
    band = scipy.signal.butter(2, (40, 18000), "band", fs=RATE, output="sos")
    responses = np.zeros((3, 2, 4096))
    for number, arrival in enumerate((300, 420)):
        room = np.zeros(4096)
        tail = rng.standard_normal(4096 - arrival) * np.exp(-np.arange(4096 - arrival) / 400)
        room[arrival:] = 0.05 * tail
        room[arrival] = 0.8
        responses[number, 0] = scipy.signal.sosfilt(band, room)
    responses[2, 1, 0] = 1.0
    cinema = sound_server.room("cinema", responses)
    sweep = Sweep(duration_s=1.0, tail_s=0.4, gap_s=0.2, stop_hz=22000.0, level_dbfs=-20)
    choice = Interface(device="cinema", host_api=JACK, loop_back_input=2, loop_back_output=3)
    with AudioInterface(choice, RATE, 2) as device:
        recordings = [take(device, take_signals(sweep, RATE, output)) for output in (1, 2)]
    cinema.leave()
    for true, recording in zip(responses[:2, 0], recordings, strict=True):
        found = response_from_take(
            recording.microphone, recording.reference, sweep, RATE, length_s=0.2
        ).response
        assert found.timed
        error = np.fft.rfft(found.samples[:4096] - true)[10:1600]
        heard = np.fft.rfft(true)[10:1600]
        # 120 Hz to 19 kHz. Without a server the same arithmetic leaves -86 dB, of single precision.
        assert np.linalg.norm(error) < 10 ** (-75 / 20) * np.linalg.norm(heard)
