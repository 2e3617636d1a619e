"""From a recording to a response: time zero, clock, level, noise, distortion, doubts."""

from __future__ import annotations

import numpy as np
import pytest
import scipy.signal

from roomwright import measurement
from roomwright._errors import InputError
from roomwright.model import Sweep
from roomwright.signals import (
    band_powers,
    excitation,
    fractional_delay,
    harmonic_advance_s,
    octave_shaped_noise_spectrum,
    resample,
    rms,
    shaped_noise,
    sweep_samples,
    timeline,
)

RATE = 48000
SWEEP = Sweep(level_dbfs=-12)
LENGTH = RATE


def room_like(rng, reverberation_s=0.3, direct_at=400):
    time = np.arange(LENGTH) / RATE
    tail = 0.05 * rng.standard_normal(LENGTH) * np.exp(-6.91 * time / reverberation_s)
    tail[:direct_at] = 0.0
    tail[direct_at] += 1.0
    edges = [scipy.signal.butter(4, 25, "high", fs=RATE, output="sos")]
    edges += [scipy.signal.butter(2, 20000, "low", fs=RATE, output="sos")]
    return 0.2 * scipy.signal.sosfilt(np.vstack(edges), tail)


def take(response, *, latency=1137.37, ppm=0.0, noise_rms=0.0, rng=None, sweep=SWEEP):
    """Microphone and loop-back as a recorder with a latency and a clock of its own hears them."""
    played = np.concatenate((excitation(sweep, RATE), np.zeros(4000)))
    heard = scipy.signal.fftconvolve(played, response)[: played.size]
    channels = fractional_delay(np.stack((heard, 0.5 * played)), latency)
    if ppm:
        channels = resample(channels, 1 + ppm * 1e-6)
    if noise_rms:
        channels[0] += noise_rms * rng.standard_normal(channels.shape[1])
    microphone, reference = channels.astype(np.float32)
    return microphone, reference


def error_db(measured, true, low_hz=20.0, high_hz=20000.0):
    frequencies = np.fft.rfftfreq(true.size, 1 / RATE)
    band = (frequencies >= low_hz) & (frequencies <= high_hz)
    error = np.fft.rfft(measured - true)[band]
    return 10 * np.log10(np.sum(np.abs(error) ** 2) / np.sum(np.abs(np.fft.rfft(true)[band]) ** 2))


def faded(response):
    return measurement.fade_tail(response, round(0.05 * response.size))


@pytest.mark.parametrize("ppm", [0.0, -200.0, 18.0, 200.0])
@pytest.mark.parametrize("latency", [0.0, 1137.37])
def test_response_and_time_zero_by_the_reference(ppm, latency):
    """Without noise: -80 dB up to 10 kHz asked for; the resampling of these synthetic takes and
    the cut before time zero take a part of what single precision gives.
    """
    true = room_like(np.random.default_rng(1))
    microphone, reference = take(true, latency=latency, ppm=ppm)
    measured = measurement.response_from_take(microphone, reference, SWEEP, RATE)
    assert measured.response.timed
    assert not measured.response.absolute
    assert measured.latency_s == pytest.approx(latency / RATE, abs=1e-4 / RATE)
    assert measured.clock_error_ppm == pytest.approx(ppm, abs=1e-3)
    samples = measured.response.samples
    assert error_db(samples, faded(true), 20, 10000) < -85.0
    assert error_db(samples, faded(true), 20, 20000) < -80.0
    assert measured.findings == ()


@pytest.mark.parametrize("with_reference", [True, False])
@pytest.mark.parametrize("ppm", [-200.0, 77.0])
def test_the_corrected_response_in_noise(ppm, with_reference):
    """White noise 70 dB below the take leaves -50 dB after correction."""
    rng = np.random.default_rng(2)
    true = room_like(rng, 0.5)
    clean, _ = take(true)
    microphone, reference = take(true, ppm=ppm, noise_rms=rms(clean) * 10 ** (-70 / 20), rng=rng)
    measured = measurement.response_from_take(
        microphone, reference if with_reference else None, SWEEP, RATE
    )
    assert measured.clock_error_ppm == pytest.approx(ppm, abs=0.01)
    expected = faded(true) if with_reference else fractional_delay(true, 1137.37)
    samples = measured.response.samples
    n = LENGTH - 2500  # the fade falls elsewhere when the latency is left in
    assert error_db(samples[:n], expected[:n], 20, 20000) < -55.0
    # What an uncorrected clock would have done.
    wrong = measurement.response_from_take(microphone, None, SWEEP, RATE).response.samples
    assert error_db(wrong[:n], true[:n], 20, 20000) > -10.0


def test_without_a_reference_the_latency_stays_and_is_said():
    microphone, _ = take(room_like(np.random.default_rng(3)), latency=1200.0)
    measured = measurement.response_from_take(microphone, None, SWEEP, RATE, where="takes/L.wav")
    assert not measured.response.timed
    assert measured.latency_s is None
    assert np.argmax(np.abs(measured.response.samples)) == 1600
    (note,) = measured.findings
    assert (note.severity, note.where) == ("note", "takes/L.wav")
    assert "no reference channel" in note.text


@pytest.mark.parametrize("offset", [100000, -3000])
def test_a_take_started_by_hand_is_found(offset):
    """The recorder was started 2 s before the player, or a little after it."""
    microphone, _ = take(room_like(np.random.default_rng(4)), latency=0.0, ppm=50.0)
    moved = np.concatenate((np.zeros(offset), microphone)) if offset > 0 else microphone[-offset:]
    moved = moved + 1e-6 * np.random.default_rng(5).standard_normal(moved.size)
    measured = measurement.response_from_take(moved, None, SWEEP, RATE)
    peak = np.argmax(np.abs(measured.response.samples))
    assert peak == pytest.approx(0.02 * RATE, abs=20)
    assert measured.clock_error_ppm == pytest.approx(50.0, abs=0.01)
    assert [finding.severity for finding in measured.findings] == ["doubt"]


def test_a_sine_of_94_db():
    """1 Pa rms is 93.98 dB: an output sine of peak 0.1 that gives it at 1 kHz must read so."""
    pascal_per_full_scale, sensitivity_pa = np.sqrt(2) / 0.1, 20.0
    impulse = np.zeros(LENGTH)
    impulse[300] = pascal_per_full_scale / sensitivity_pa
    # As no loudspeaker reaches 0 Hz; at 1 kHz a fourth-order high-pass at 20 Hz is 1 within 1e-13.
    edge = scipy.signal.butter(4, 20, "high", fs=RATE, output="sos")
    true = scipy.signal.sosfilt(edge, impulse)
    microphone, reference = take(true)
    measured = measurement.response_from_take(
        microphone, reference, SWEEP, RATE, sensitivity_pa=sensitivity_pa
    )
    assert measured.response.absolute
    at_1_khz = abs(np.fft.rfft(measured.response.samples)[1000])
    level_db = 20 * np.log10(at_1_khz * 0.1 / np.sqrt(2) / 20e-6)
    assert level_db == pytest.approx(93.979, abs=0.001)


def test_the_microphone_is_undone():
    rows = np.array([10.0, 20, 40, 80, 160, 320, 640, 1280, 2560, 5120, 10240, 20480])
    curve = measurement.CalibrationCurve(rows, np.array([-4.0, -2, 0, 0, 0, 0, 0, 0, 0, 1, 3, 2]))
    n = 2 * RATE
    microphone_response = np.fft.irfft(
        1 / measurement.correction(curve, np.fft.rfftfreq(n, 1 / RATE)), n
    )
    true = room_like(np.random.default_rng(6))
    heard = scipy.signal.fftconvolve(true, microphone_response[:RATE])[:LENGTH]
    microphone, reference = take(heard)
    measured = measurement.response_from_take(microphone, reference, SWEEP, RATE, curve=curve)
    # The same curve on two grids.
    assert error_db(measured.response.samples, faded(true)) < -60.0
    from_impulse = measurement.response_from_impulse(heard, RATE, curve=curve)
    assert error_db(from_impulse.response.samples, faded(true)) < -60.0


def test_noise_floor_and_signal_to_noise_are_those_put_in():
    """Noise of known octave levels, as a room has it, must be read within 1 dB.

    What noise of density N (per hertz) leaves in a response is N times the power of the inverse
    sweep, known from the sweep alone. The lowest octaves hold few independent values: the
    recording is made with 12 seeds and the mean is taken.
    """
    true = room_like(np.random.default_rng(7))
    clean, reference = take(true)
    levels_db = -70.0 - 4.0 * np.arange(10)
    mids = measurement.OCTAVES_HZ
    spectrum = octave_shaped_noise_spectrum(levels_db, mids, clean.size, RATE)
    inverse = measurement.inverse_spectrum(
        SWEEP, RATE, measurement.transform_length(SWEEP, RATE), np.complex128
    )
    circle = 2 * (inverse.size - 1)
    grid = np.fft.rfftfreq(circle, 1 / RATE)
    bins = np.fft.rfftfreq(clean.size, 1 / RATE)
    # Mean square of the noise in each bin of the circle, and of what becomes of it.
    power = np.interp(grid, bins, spectrum**2) * clean.size / circle * np.abs(inverse) ** 2
    expected_rms = np.sqrt(power.sum())
    _, noise = band_powers(power, grid, 1, 16, 8000)
    energy = np.abs(np.fft.rfft(faded(true))) ** 2 * 2 / LENGTH
    _, signal = band_powers(energy, np.fft.rfftfreq(LENGTH, 1 / RATE), 1, 16, 8000)
    expected_db = 10 * np.log10(signal / (noise * LENGTH))
    read, rms_read = [], []
    for seed in range(12):
        hiss = shaped_noise(spectrum, clean.size, np.random.default_rng(seed))
        measured = measurement.response_from_take(
            (clean + hiss).astype(np.float32), reference, SWEEP, RATE
        )
        read.append(measured.signal_to_noise_db)
        rms_read.append(measured.response.noise_rms)
    # Below 20 Hz lies most of the noise, in few independent values: 1 dB.
    assert np.mean(rms_read) == pytest.approx(expected_rms, rel=0.12)
    np.testing.assert_allclose(np.mean(read, axis=0), expected_db, atol=1.0)


def test_the_trusted_band_ends_where_the_noise_begins():
    """A tone of white noise under a response that falls 24 dB an octave below 200 Hz."""
    rng = np.random.default_rng(8)
    impulse = np.zeros(LENGTH)
    impulse[300] = 0.2
    edge = scipy.signal.butter(4, 200, "high", fs=RATE, output="sos")
    true = scipy.signal.sosfilt(edge, impulse)
    microphone, reference = take(true, noise_rms=1e-3, rng=rng)
    measured = measurement.response_from_take(microphone, reference, SWEEP, RATE)
    low, high = measured.response.trusted_hz
    # White noise of density 1e-6/24000 per hertz against the inverse of the pink sweep.
    inverse = measurement.inverse_spectrum(
        SWEEP, RATE, measurement.transform_length(SWEEP, RATE), np.complex128
    )
    grid = np.fft.rfftfreq(2 * (inverse.size - 1), 1 / RATE)
    noise = 1e-6 * np.abs(inverse) ** 2 * LENGTH
    response = np.abs(scipy.signal.sosfreqz(edge, grid, fs=RATE)[1]) * 0.2
    clear = response**2 >= 9 * noise
    expected = grid[clear & (grid < 200)].min()
    assert low == pytest.approx(expected, rel=0.15)
    assert high == pytest.approx(measurement.full_level_band_hz(SWEEP)[1])


def test_a_dead_output_is_heard_as_nothing():
    rng = np.random.default_rng(9)
    _, reference = take(room_like(rng))
    noise = (1e-3 * rng.standard_normal(reference.size)).astype(np.float32)
    measured = measurement.response_from_take(noise, reference, SWEEP, RATE, where="takes/L.wav")
    assert measured.response.trusted_hz == (0.0, 0.0)
    assert np.isnan(measured.distortion_db).all()
    assert measured.signal_to_noise_db.max() < 5.0
    assert "no response that stands 10 dB clear" in measured.findings[-1].text
    without = measurement.response_from_take(noise, None, SWEEP, RATE)
    assert np.isnan(without.clock_error_ppm)


def polynomial_take(coefficients, oversampling=8, sweep=SWEEP):
    """A memoryless y = x + c2 x^2 + ..., worked out at a high rate so that nothing aliases."""
    fast = RATE * oversampling
    played = excitation(sweep, fast).astype(np.float64)
    heard = played + sum(c * played ** (k + 2) for k, c in enumerate(coefficients))
    slow = resample(np.stack((heard, played)), 1 / oversampling)
    # Late enough for all of a narrow sweep's response, which has no phase: it begins before its
    # direct sound.
    delayed = fractional_delay(np.pad(slow, ((0, 0), (0, 4000))), np.array([2500.0, 500.0]))
    microphone, reference = delayed.astype(np.float32)
    return microphone, reference


#: As a subwoofer is swept: all but a part of its second harmonic lies above.
NARROW = Sweep(
    start_hz=28.0,
    stop_hz=150.0,
    duration_s=0.55,
    fade_out_s=0.08,
    level_dbfs=-12,
    pilot_band_hz=(10.0, 21000.0),
)


@pytest.mark.parametrize("sweep", [SWEEP, NARROW])
def test_harmonics_of_a_known_polynomial(sweep):
    """x = A sin: x^2 gives A^2/2 at order 2, and so on (multiple-angle formulas)."""
    c2, c3, c4, c5 = 0.08, 0.3, 0.5, 1.2
    microphone, reference = polynomial_take((c2, c3, c4, c5), sweep=sweep)
    measured = measurement.response_from_take(microphone, reference, sweep, RATE)
    a = 10 ** (sweep.level_dbfs / 20)
    fundamental = 1 + 3 / 4 * c3 * a**2 + 5 / 8 * c5 * a**4
    harmonics = np.array(
        [
            c2 * a / 2 + c4 * a**3 / 2,
            c3 * a**2 / 4 + 5 / 16 * c5 * a**4,
            c4 * a**3 / 8,
            c5 * a**4 / 16,
        ]
    )
    expected_db = 20 * np.log10(harmonics / fundamental)
    np.testing.assert_allclose(measured.distortion_db, expected_db, atol=0.3)


def test_a_linear_path_has_no_distortion():
    microphone, reference = take(room_like(np.random.default_rng(10)), ppm=30.0)
    found = measurement.response_from_take(microphone, reference, SWEEP, RATE).distortion_db
    assert (np.isnan(found) | (found < -90)).all()


@pytest.mark.parametrize("seed", range(4))
def test_noise_is_not_taken_for_distortion(seed):
    rng = np.random.default_rng(seed)
    microphone, reference = take(room_like(rng), noise_rms=2e-4, rng=rng)
    found = measurement.response_from_take(microphone, reference, SWEEP, RATE).distortion_db
    assert np.isnan(found).all()


def test_harmonics_below_the_noise_are_unknown():
    microphone, reference = polynomial_take((0.02, 0.0, 0.0, 0.0))
    hiss = 1e-3 * np.random.default_rng(11).standard_normal(microphone.size)
    found = measurement.response_from_take(
        (microphone + hiss).astype(np.float32), reference, SWEEP, RATE
    ).distortion_db
    a = 10 ** (SWEEP.level_dbfs / 20)
    assert found[0] == pytest.approx(20 * np.log10(0.01 * a), abs=0.5)
    assert np.isnan(found[1:]).all()


def test_advances_follow_farina():
    """AES 108th Convention, 2000: f1 20, f2 20000 Hz, T 10 s."""
    sweep = Sweep(start_hz=20, stop_hz=20000, duration_s=10)
    advances = [harmonic_advance_s(sweep, order) for order in (2, 3, 4, 5)]
    np.testing.assert_allclose(advances, [1.003433, 1.590404, 2.006867, 2.329900], atol=2e-6)


@pytest.mark.parametrize(
    ("spoil", "sentence"),
    [
        (lambda x: x[: timeline(SWEEP, RATE).sweep_stop - 1], "cut short"),
        (lambda x: np.where(np.arange(x.size) == 9, np.nan, x), "not a number at sample 9"),
        (np.zeros_like, "is silent"),
        (lambda x: np.clip(8 * x, -1, 1), "is clipped"),
        (lambda x: np.stack((x, x)), "one row"),
    ],
)
def test_unusable_takes(spoil, sentence):
    microphone, reference = take(room_like(np.random.default_rng(12)))
    with pytest.raises(InputError, match=f"takes/L.wav .*{sentence}"):
        measurement.response_from_take(
            spoil(microphone), reference, SWEEP, RATE, where="takes/L.wav"
        )
    with pytest.raises(InputError, match=f"takes/L.wav, reference channel, .*{sentence}"):
        measurement.response_from_take(
            microphone, spoil(2 * reference), SWEEP, RATE, where="takes/L.wav"
        )


def test_more_that_cannot_be_measured():
    microphone, reference = take(room_like(np.random.default_rng(13)))
    noise = (0.01 * np.random.default_rng(14).standard_normal(reference.size)).astype(np.float32)
    with pytest.raises(InputError, match="reference channel does not hold the signal"):
        measurement.response_from_take(microphone, noise, SWEEP, RATE)
    with pytest.raises(InputError, match="does not fit the sweep"):
        measurement.response_from_take(microphone, reference, SWEEP, RATE, length_s=6.0)
    with pytest.raises(InputError, match="length of the response"):
        measurement.response_from_take(microphone, reference, SWEEP, RATE, length_s=0.0)


def test_a_tail_that_is_cut_is_said():
    microphone, reference = take(room_like(np.random.default_rng(15)))
    stop = timeline(SWEEP, RATE).sweep_stop + 20000
    measured = measurement.response_from_take(microphone[:stop], reference[:stop], SWEEP, RATE)
    assert measured.latency_s == pytest.approx(1137.37 / RATE, abs=1e-6)
    assert np.isnan(measured.clock_error_ppm)
    texts = " ".join(finding.text for finding in measured.findings)
    assert "late response is cut" in texts
    assert "no clock error" in texts


def test_an_impulse_response_loses_its_offset():
    """A constant offset makes a decay seem endless (a real living-room recording has one)."""
    rng = np.random.default_rng(16)
    true = room_like(rng, 0.3)
    given = true + 3e-4 + 1e-5 * rng.standard_normal(LENGTH)
    measured = measurement.response_from_impulse(given, RATE, where="responses/L.wav")
    assert measured.response.noise_rms == pytest.approx(1e-5, rel=0.1)
    assert not measured.response.timed
    assert error_db(measured.response.samples, faded(true)) < -40.0
    assert any("offset of 0.0003" in finding.text for finding in measured.findings)
    assert np.isnan(measured.distortion_db).all()
    assert np.isnan(measured.clock_error_ppm)
    in_pascal = measurement.response_from_impulse(given, RATE, sensitivity_pa=20.0, length_s=0.5)
    assert in_pascal.response.absolute
    assert in_pascal.response.samples.size == RATE // 2
    np.testing.assert_allclose(
        in_pascal.response.samples[:20000], 20 * measured.response.samples[:20000], rtol=1e-9
    )


def test_a_response_too_short_is_refused():
    with pytest.raises(InputError, match="cut short"):
        measurement.response_from_impulse(np.ones(100), RATE)


def test_other_rates_and_sweeps():
    sweep = Sweep(start_hz=20, stop_hz=18000, duration_s=1.0, tail_s=0.6)
    for rate in (44100, 96000):
        played = np.concatenate((excitation(sweep, rate), np.zeros(4000)))
        true = np.zeros(rate // 4)
        true[200], true[900] = 0.5, -0.25
        heard = scipy.signal.fftconvolve(played, true)[: played.size].astype(np.float32)
        measured = measurement.response_from_take(
            heard, played.astype(np.float32), sweep, rate, length_s=0.25
        )
        frequencies = np.fft.rfftfreq(true.size, 1 / rate)
        band = (frequencies > 100) & (frequencies < 16000)
        error = np.fft.rfft(measured.response.samples - true)[band]
        # The response is cut before time zero, 4 ms ahead: its band limit rings there.
        assert np.abs(error).max() < 0.02
        assert sweep_samples(sweep, rate).size == rate
