"""Overlapping sweeps against single ones, and the arithmetic of their starts."""

from __future__ import annotations

import numpy as np
import pytest
import scipy.fft
import scipy.signal

from roomwright import measurement
from roomwright._errors import InputError
from roomwright.measurement.overlap import HIGHEST_ORDER
from roomwright.measurement.protection import protected_sweep
from roomwright.model import Overlap, Sweep
from roomwright.signals import excitation, fractional_delay, harmonic_advance_s, resample, timeline

RATE = 48000
#: Short, so that the tests are quick; two sources fit between a response and its harmonics.
SWEEP = Sweep(duration_s=4.5, level_dbfs=-12)
WINDOW_S = 0.25


def responses(count, reverberation_s=0.15):
    """Decaying noises with a direct sound, one for each source, none like another."""
    rng = np.random.default_rng(3)
    time = np.arange(round(0.24 * RATE)) / RATE
    tails = 0.05 * rng.standard_normal((count, time.size)) * 10 ** (-3 * time / reverberation_s)
    tails[:, :300] = 0.0
    tails[np.arange(count), 300 + 40 * np.arange(count)] += 1.0
    edges = [scipy.signal.butter(4, 30, "high", fs=RATE, output="sos")]
    edges += [scipy.signal.butter(2, 15000, "low", fs=RATE, output="sos")]
    return 0.2 * scipy.signal.sosfilt(np.vstack(edges), tails)


def loudspeaker(signal):
    """Makes harmonics of orders 2 to 4, 30 to 50 dB below the level played, without aliases."""
    x = np.zeros(scipy.fft.next_fast_len(signal.size, real=True))
    x[: signal.size] = signal
    spectrum, frequencies = np.fft.rfft(x), np.fft.rfftfreq(x.size, 1 / RATE)
    out = x.copy()
    for order, gain in ((2, 0.25), (3, 0.4), (4, 0.5)):
        out += gain * np.fft.irfft(spectrum * (frequencies < RATE / 2 / order), x.size) ** order
    return out[: signal.size]


def heard(signals, paths):
    """What the microphone hears of signals by output number, each through its loudspeaker."""
    return sum(
        scipy.signal.fftconvolve(loudspeaker(signal), paths[number - 1])
        for number, signal in signals.items()
    )


def recorded(signals, paths, loop, *, noise_rms=0.0, ppm=0.0, seed=0):
    """Microphone and loop-back of a recorder with latency and a clock of its own."""
    microphone = np.concatenate((heard(signals, paths), np.zeros(4000)))
    reference = np.zeros(microphone.size)
    reference[: loop.size] = 0.5 * loop
    channels = fractional_delay(np.stack((microphone, reference)), 911.31)
    if ppm:
        channels = resample(channels, 1 + ppm * 1e-6)
    rng = np.random.default_rng(seed)
    channels[0] += noise_rms * rng.standard_normal(channels.shape[1])
    return channels.astype(np.float32)


def together(count, *, sweep=SWEEP, window_s=WINDOW_S, paths=None, **how):
    """Responses of `count` sources from one pass."""
    planned = measurement.plan_pass(sweep, count, RATE, window_s=window_s)
    signals = measurement.pass_signals(planned, range(1, count + 1), RATE)
    microphone, reference = recorded(signals, paths, signals[1], **how)
    whole = measurement.divided(microphone, reference, planned.sweep, RATE, overlapped=True)
    return [measurement.response_of(whole, overlap) for overlap in planned.overlaps]


def one_by_one(count, *, sweep=SWEEP, paths=None, length_s=WINDOW_S, **how):
    """The same from a recording each."""
    loop = excitation(sweep, RATE)
    return [
        measurement.response_from_take(
            *recorded({number: loop}, paths, loop, seed=number, **how),
            sweep,
            RATE,
            length_s=length_s,
        )
        for number in range(1, count + 1)
    ]


def energy_db(samples):
    return 10 * np.log10(np.sum(np.square(samples)))


def test_the_starts_keep_every_response_clear_of_all_else():
    sweep, window_s = Sweep(duration_s=12.0), 0.4
    planned = measurement.plan_pass(sweep, 9, RATE, window_s=window_s)
    offsets = np.array([overlap.offset_s for overlap in planned.overlaps])
    assert (np.diff(offsets) >= window_s - 1e-9).all()
    # The paper's interleaving: more than one source within the distance of the second harmonic.
    assert offsets[1] == pytest.approx(window_s, abs=1 / RATE)
    harmonic_s = window_s * 35 / 60
    for order in range(2, HIGHEST_ORDER + 1):
        begins = offsets - harmonic_advance_s(sweep, order)
        for start in offsets:
            meets = (begins < start + window_s - 1e-4) & (begins + harmonic_s > start + 1e-4)
            assert not meets.any()


def test_a_short_sweep_overlaps_as_in_the_paper():
    # Where no response fits between the harmonics, the next source waits until its highest
    # harmonic follows the response before it: window + L ln K (Majdak et al. 2007, eq. 10).
    sweep = Sweep(duration_s=3.0, start_hz=20, stop_hz=20000)
    planned = measurement.plan_pass(sweep, 4, RATE, window_s=0.5, highest_order=5)
    expected = 0.5 + 3.0 / np.log(1000.0) * np.log(5.0)
    steps = np.diff([overlap.offset_s for overlap in planned.overlaps])
    assert steps == pytest.approx(np.full(3, expected), abs=3 / RATE)
    assert all(overlap.harmonics_apart for overlap in planned.overlaps)


def test_sixteen_sources_take_a_third_of_the_time():
    sweep = Sweep(duration_s=3.0)
    # A treated cinema: 0.4 s at the lowest band, and 8 m across.
    window_s = measurement.response_window_s(0.4, 8.0)
    planned = measurement.plan_pass(sweep, 16, RATE, window_s=window_s)
    single = sweep.model_copy(update={"tail_s": window_s})
    assert planned.duration_s <= 16 * measurement.duration_s(single) / 3


def test_a_pass_gives_what_single_sweeps_give():
    paths = responses(4)
    quiet = {"paths": paths, "noise_rms": 0.0}
    for passed, single, path in zip(
        together(4, **quiet), one_by_one(4, **quiet), paths, strict=True
    ):
        n = passed.response.samples.size
        left = passed.response.samples - single.response.samples[:n]
        # Harmonics at -30 dB and less have decayed by 35 dB more before a response begins.
        assert energy_db(left) < energy_db(path) - 65
        assert passed.response.timed


def test_in_noise_they_agree_to_the_noise_floor():
    paths = responses(3)
    noisy = {"paths": paths, "noise_rms": 3e-4}
    for passed, single in zip(together(3, **noisy), one_by_one(3, **noisy), strict=True):
        n = passed.response.samples.size
        left = passed.response.samples[: n - n // 20] - single.response.samples[: n - n // 20]
        expected = np.hypot(passed.response.noise_rms, single.response.noise_rms)
        # Two independent noises of the same power; the spread of their level over 11,000
        # correlated samples stays under 1 dB.
        assert 20 * np.log10(np.std(left) / expected) == pytest.approx(0, abs=1)
        # Equal signal-to-noise ratio: the noise in equal windows differs by its spread alone.
        assert passed.response.noise_rms == pytest.approx(single.response.noise_rms, rel=0.12)


def test_a_foreign_clock_is_taken_out_of_a_whole_pass():
    paths = responses(3)
    for passed, single in zip(
        together(3, paths=paths, ppm=120.0), one_by_one(3, paths=paths), strict=True
    ):
        n = passed.response.samples.size
        left = passed.response.samples - single.response.samples[:n]
        assert passed.clock_error_ppm == pytest.approx(120, abs=0.05)
        assert energy_db(left) < energy_db(single.response.samples) - 60


def test_distortion_is_told_where_the_harmonics_stand_apart():
    sweep = Sweep(duration_s=1.6, start_hz=20, level_dbfs=-12)
    paths = responses(3)
    passed = together(3, sweep=sweep, window_s=0.25, paths=paths)
    single = one_by_one(3, sweep=sweep, paths=paths)
    for one, other in zip(passed, single, strict=True):
        assert one.distortion_db[:2] == pytest.approx(other.distortion_db[:2], abs=0.3)
    interleaved = together(3, sweep=Sweep(duration_s=8.0), window_s=0.25, paths=paths)
    assert np.isnan([one.distortion_db for one in interleaved]).any()


def test_without_a_reference_a_pass_is_taken_to_start_with_the_recording():
    paths = responses(3)
    paths[1] *= 5.0  # the loudest is not the first
    planned = measurement.plan_pass(SWEEP, 3, RATE, window_s=WINDOW_S)
    signals = measurement.pass_signals(planned, (1, 2, 3), RATE)
    microphone, _ = recorded(signals, paths, signals[1])
    whole = measurement.divided(microphone, None, planned.sweep, RATE, overlapped=True)
    for overlap, path in zip(planned.overlaps, paths, strict=True):
        found = measurement.response_of(whole, overlap).response
        assert not found.timed
        expected = np.argmax(np.abs(path)) + 911
        assert np.argmax(np.abs(found.samples)) == pytest.approx(expected, abs=1)


def test_the_pilots_are_played_once():
    planned = measurement.plan_pass(SWEEP, 2, RATE, window_s=WINDOW_S)
    signals = measurement.pass_signals(planned, (4, 7), RATE)
    places = timeline(planned.sweep, RATE)
    assert signals[4].size == signals[7].size == places.total
    assert signals[4][: places.sweep_start].any()
    assert not signals[7][: places.sweep_start].any()
    assert not signals[7][places.pilot_2 :].any()


@pytest.mark.parametrize(
    ("change", "says"),
    [
        ({"count": 0}, "at least one"),
        ({"window_s": 0.0}, "the length of a response"),
        ({"window_s": 2.0}, "must last at least 1[0-9]"),
    ],
)
def test_what_cannot_be_planned_says_why(change, says):
    asked = {"count": 2, "window_s": 0.3, **change}
    with pytest.raises(InputError, match=says):
        measurement.plan_pass(SWEEP, asked["count"], RATE, window_s=asked["window_s"])


def test_outputs_that_do_not_fit_are_refused():
    planned = measurement.plan_pass(SWEEP, 2, RATE, window_s=WINDOW_S)
    for outputs in ((1,), (1, 1)):
        with pytest.raises(InputError, match="as many different outputs"):
            measurement.pass_signals(planned, outputs, RATE)
    with pytest.raises(InputError, match="reverberation"):
        measurement.response_window_s(0.0, 3.0)
    with pytest.raises(InputError, match="farthest"):
        measurement.response_window_s(0.3, -1.0)


def test_only_a_take_can_overlap():
    from roomwright.model import Take

    with pytest.raises(ValueError, match="overlap"):
        Take(
            stage="survey",
            source="M+030",
            station="R1-1",
            kind="response",
            file="takes/a.wav",
            sha256="0" * 64,
            overlap=Overlap(offset_s=1.0, window_s=0.3, harmonics_apart=True),
        )


#: Two subwoofers, a woofer's channel, and two that start higher: bands as on data sheets.
BANDS_HZ = ((20.0, 250.0), (20.0, 250.0), (45.0, 20000.0), (60.0, 20000.0), (60.0, 20000.0))


def in_bands():
    """What each source of `BANDS_HZ` plays: its part of one sweep."""
    whole = Sweep(duration_s=5.0, level_dbfs=-12, pilot_band_hz=(20.0, 20000.0))
    return [protected_sweep(whole, band, -12.0) for band in BANDS_HZ]


def difference_db(one, other, band):
    """Energy of the difference re the first within a band, ends faded alike."""
    n = min(one.size, other.size)
    fade = np.ones(n)
    fade[n // 2 :] = np.cos(np.linspace(0, np.pi / 2, n - n // 2)) ** 2
    spectra = [np.fft.rfft(fade * response[:n]) for response in (one, other)]
    at = np.fft.rfftfreq(n, 1 / RATE)
    inside = (at > band[0]) & (at < band[1])
    left = np.sum(np.abs(spectra[0] - spectra[1])[inside] ** 2)
    return 10 * np.log10(left / np.sum(np.abs(spectra[0])[inside] ** 2))


@pytest.mark.parametrize("noise_rms", [0.0, 3e-4])
def test_sources_of_different_bands_share_a_pass(noise_rms):
    sweeps, paths = in_bands(), responses(len(BANDS_HZ))
    planned = measurement.plan_sweeps(sweeps, [WINDOW_S] * len(sweeps), RATE)
    numbers = range(1, len(sweeps) + 1)
    signals = measurement.pass_signals(planned, numbers, RATE)
    assert {signal.size for signal in signals.values()} == {timeline(planned.sweep, RATE).total}
    loop = excitation(planned.sweep, RATE)
    microphone, reference = recorded(signals, paths, loop, noise_rms=noise_rms)
    for number, sweep, overlap in zip(numbers, planned.sweeps, planned.overlaps, strict=True):
        whole = measurement.divided(microphone, reference, sweep, RATE, overlapped=True)
        passed = measurement.response_of(whole, overlap).response
        loop = excitation(sweep, RATE)
        alone = recorded({number: loop}, paths, loop, noise_rms=noise_rms, seed=number)
        single = measurement.response_from_take(*alone, sweep, RATE, length_s=WINDOW_S).response
        band = sweep.start_hz * 1.2, sweep.stop_hz / 1.2
        left_db = difference_db(single.samples, passed.samples, band)
        if noise_rms == 0.0:
            # What is left of the decays after their windows, and of the others' ends of band.
            assert left_db < -60
        elif sweep.stop_hz > 1000:
            # Two independent noises, and nothing else; 3 dB for the fade and the band.
            noise_db = 20 * np.log10(np.hypot(passed.noise_rms, single.noise_rms))
            size_db = 10 * np.log10(single.samples.size)
            assert left_db + energy_db(single.samples) < noise_db + size_db + 1
            assert passed.noise_rms == pytest.approx(single.noise_rms, rel=0.12)


def test_in_a_pass_nothing_is_played_outside_the_declared_band():
    sweeps = in_bands()
    planned = measurement.plan_sweeps(sweeps, [WINDOW_S] * len(sweeps), RATE)
    signals = measurement.pass_signals(planned, range(1, len(sweeps) + 1), RATE)
    places = timeline(planned.sweep, RATE)
    for number, (low, high) in enumerate(BANDS_HZ, start=1):
        swept = signals[number][places.sweep_start : places.pilot_2].astype(float)
        power = np.abs(np.fft.rfft(swept)) ** 2
        at = np.fft.rfftfreq(swept.size, 1 / RATE)
        assert power[at > 1.25 * high].sum() < 1e-7 * power.sum()
        # Half the lowest frequency of a subwoofer is 10 Hz: its fade lasts half a cycle there.
        least = 1e-3 if low < 30 else 1e-6
        assert power[at < low / 2].sum() < least * power.sum()


def test_sweeps_of_a_pass_are_of_one_rate_and_in_order():
    first, second = Sweep(start_hz=20, duration_s=4.5), Sweep(start_hz=40, duration_s=4.5)
    with pytest.raises(InputError, match="as long for an octave"):
        measurement.plan_sweeps((first, second), (0.2, 0.2), RATE)
    sweeps = in_bands()[::-1]
    with pytest.raises(InputError, match="ascending order"):
        measurement.plan_sweeps(sweeps, [0.2] * len(sweeps), RATE)
    with pytest.raises(InputError, match="a window for each"):
        measurement.plan_sweeps(sweeps, [0.2], RATE)
