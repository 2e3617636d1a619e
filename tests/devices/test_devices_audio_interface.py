"""A real stream through PortAudio and a real sound server: exact, constant, safe, unpluggable."""

from __future__ import annotations

import threading
import time

import numpy as np
import pytest
from sound_server import CEILING, PERIOD, RATE, WIRE, lag, noise, take

from roomwright._errors import Cancelled, DeviceError, InputError
from roomwright.devices import AudioInterface


@pytest.fixture(scope="module")
def interface(wire):
    with AudioInterface(WIRE, RATE, 16) as opened:
        yield opened


def test_every_sample_comes_back_with_one_latency(interface):
    """Bit-exact through PortAudio, server and back, and as late in every take, on any output."""
    signals = [noise(seed=seed) for seed in range(3)]
    takes = [take(interface, {7 * n + 1: signal}) for n, signal in enumerate(signals)]
    lags = {lag(recording.microphone, s) for recording, s in zip(takes, signals, strict=True)}
    assert len(lags) == 1
    (latency,) = lags
    assert 0 < latency < 0.25 * RATE
    for recording, signal in zip(takes, signals, strict=True):
        heard = recording.microphone[latency : latency + signal.size]
        np.testing.assert_array_equal(heard, signal)
        assert not recording.microphone[latency + signal.size :].any()


def test_lost_samples_are_a_refusal_and_the_latency_stays(interface, wire):
    signal = noise(1.0)
    before = lag(take(interface, {1: signal}).microphone, signal)
    threading.Timer(0.3, wire.stall, [0.3]).start()
    findings = interface.play_and_record({1: signal}).findings
    (refusal,) = (finding.text for finding in findings if finding.severity == "refusal")
    assert "samples were lost" in refusal
    after = take(interface, {1: signal})
    assert lag(after.microphone, signal) == before
    # This server keeps it; another may not, and without a time reference that is said.
    (doubt,) = after.findings
    assert "latency may differ from earlier takes'" in doubt.text


def test_digital_silence_is_refused(interface):
    """Nothing plugged in, or no permission to record, which some systems answer with zeros."""
    refusals = [f.text for f in interface.record(0.2).findings if f.severity == "refusal"]
    assert any("no permission" in text for text in refusals)


def test_a_signal_rises_from_silence_and_stays_below_the_ceiling(interface):
    signal = np.full(4000, CEILING, dtype=np.float32)
    heard = take(interface, {1: signal}).microphone
    first = int(np.flatnonzero(heard)[0])
    ramp = round(WIRE.ramp_s * RATE)
    assert heard[first] < 1e-4
    assert (np.diff(heard[first : first + ramp]) > 0).all()
    np.testing.assert_array_equal(heard[first + ramp : first + 4000], signal[ramp:])
    assert heard.max() <= CEILING


def test_a_signal_above_the_ceiling_is_not_played(interface):
    monitor = interface.monitor()
    with pytest.raises(InputError, match=r"output 2 peaks at -11\.0 dBFS, above the ceiling of -1"):
        interface.play_and_record({2: np.full(100, 10 ** (-11 / 20), dtype=np.float32)})
    time.sleep(0.2)
    assert not monitor.read().any()


def test_the_callback_itself_lets_nothing_through_above_the_ceiling():
    """Whatever asks: here a job that was never checked."""
    from roomwright.devices._engine import Engine, Job

    engine = Engine((0,), 0.25, 4096)
    loud = np.array([0.0, 0.2, -0.9, 5.0, -np.inf, 0.1], dtype=np.float32)
    job = Job({0: loud}, loud.size, None, np.zeros(0, np.float32))
    engine.start(job)
    out = np.full((6, 1), 7.0, dtype=np.float32)
    engine.callback(np.zeros((6, 1), np.float32), out, 6, None, None)
    expected = np.array([0.0, 0.2, -0.25, 0.25, -0.25, 0.1], dtype=np.float32)
    np.testing.assert_array_equal(out[:, 0], expected)


def test_stop_silences_within_one_block_from_any_thread(interface):
    """The room's wire shows what left: after the stop a fall of at most 256 samples."""
    monitor = interface.monitor()
    signal = np.full(4 * RATE, 0.2, dtype=np.float32)
    stopped = []

    def stop():
        monitor.read()
        stopped.append(time.monotonic())
        interface.stop()

    threading.Timer(0.5, stop).start()
    with pytest.raises(Cancelled, match="silent"):
        interface.play_and_record({1: signal})
    assert time.monotonic() - stopped[0] < 1.0
    time.sleep(0.3)
    heard = monitor.read()[0]
    full = int(np.flatnonzero(heard == np.float32(0.2))[-1]) + 1
    # The block in progress and those under way through the server were played before.
    assert full <= 4 * PERIOD
    assert not heard[full + 256 :].any()
    assert take(interface, {1: noise()}).microphone.any()


def test_a_looped_signal_runs_until_it_is_stopped(interface):
    monitor = interface.monitor()
    interface.play_looped({1: np.full(777, 0.1, dtype=np.float32)}, rise_s=0.1)
    time.sleep(0.5)
    assert interface.is_playing
    heard = monitor.read()[0]
    rising = heard[heard > 0]
    assert (np.diff(rising) >= 0).all()
    assert rising[-1] == np.float32(0.1)
    interface.stop()
    time.sleep(0.3)
    monitor.read()
    time.sleep(0.1)
    assert not interface.is_playing
    assert not monitor.read().any()


def test_the_input_is_watched_during_a_take_too(interface):
    signal = noise()
    monitor = interface.monitor()
    recording = take(interface, {1: signal})
    watched = monitor.read()[0]
    at = lag(watched, signal)
    np.testing.assert_array_equal(watched[at : at + signal.size], signal)
    assert monitor.lost == 0
    assert recording.microphone.any()


@pytest.mark.parametrize(
    ("signals", "sentence"),
    [
        ({}, "no signal to play"),
        ({17: np.ones(4)}, "output 17 does not exist; the outputs are 1 to 16"),
        ({1: np.zeros((2, 3))}, r"shape \(2, 3\)"),
        ({1: np.array([0.0, np.nan])}, "output 1 holds a value that is not a number at index 1"),
    ],
)
def test_bad_signals_are_one_sentence(interface, signals, sentence):
    with pytest.raises(InputError, match=sentence):
        interface.play_and_record(signals)


def test_one_take_at_a_time(interface):
    first = threading.Thread(target=take, args=(interface, {1: noise(0.6)}))
    first.start()
    time.sleep(0.2)
    with pytest.raises(DeviceError, match="busy with another take"):
        interface.play_and_record({1: noise()})
    first.join()
