"""Regularised spectral division: known responses, inversion limits, an independent library."""

from __future__ import annotations

import numpy as np
import pytest
import scipy.signal

from roomwright import measurement
from roomwright._errors import InputError
from roomwright.model import Sweep
from roomwright.signals import harmonic_advance_s, sweep_samples

RATE = 48000
SWEEP = Sweep(duration_s=2.0, tail_s=1.0)
FIVE_SECONDS = Sweep()


def room_like(rng, n=24000):
    """Direct sound at 8 ms, a decaying tail (0.3 s), a loudspeaker's roll-offs."""
    time = np.arange(n) / RATE
    response = 0.05 * rng.standard_normal(n) * np.exp(-6.91 * time / 0.3) * (time > 0.008)
    response[384] += 1.0
    edges = [scipy.signal.butter(4, 25, "high", fs=RATE, output="sos")]
    edges += [scipy.signal.butter(2, 20000, "low", fs=RATE, output="sos")]
    return scipy.signal.sosfilt(np.vstack(edges), response)


def recorded(response, sweep):
    length = measurement.transform_length(sweep, RATE)
    played = np.zeros(length)
    samples = sweep_samples(sweep, RATE)
    played[: samples.size] = samples
    return scipy.signal.fftconvolve(played, response)[:length]


def error_db(measured, true, low_hz=20.0, high_hz=20000.0):
    """Power of the error in a band over that of the truth."""
    frequencies = np.fft.rfftfreq(measured.size, 1 / RATE)
    band = (frequencies >= low_hz) & (frequencies <= high_hz)
    error = np.fft.rfft(measured.astype(np.float64) - true)[band]
    return 10 * np.log10(np.sum(np.abs(error) ** 2) / np.sum(np.abs(np.fft.rfft(true)[band]) ** 2))


@pytest.mark.parametrize("sweep", [SWEEP, FIVE_SECONDS], ids=["2 s", "5 s"])
@pytest.mark.parametrize(
    ("dtype", "limit_db"),
    # Double precision errs by the regularisation (1e-9 of the response, -180 dB); single by
    # rounding in two transforms: some 1e-7 x sqrt(log2 n), raised by the sweep's pink slope.
    [(np.complex128, -170.0), (np.complex64, -115.0)],
)
def test_a_known_response_comes_back(sweep, dtype, limit_db):
    true = room_like(np.random.default_rng(1))
    inverse = measurement.inverse_spectrum(
        sweep, RATE, measurement.transform_length(sweep, RATE), dtype
    )
    real = np.float32 if dtype is np.complex64 else np.float64
    circle = measurement.deconvolve(recorded(true, sweep).astype(real), inverse)
    assert circle.dtype == real
    padded = np.concatenate((true, np.zeros(circle.size - true.size)))
    assert error_db(circle, padded) < limit_db


def test_many_recordings_at_once_are_those_one_by_one():
    rng = np.random.default_rng(2)
    inverse = measurement.inverse_spectrum(SWEEP, RATE, measurement.transform_length(SWEEP, RATE))
    rows = np.stack([recorded(room_like(rng), SWEEP) for _ in range(3)]).astype(np.float32)
    together = measurement.deconvolve(rows.reshape(3, 1, -1), inverse, 4800)
    assert together.shape == (3, 1, 4800)
    for row, kept in zip(rows, together[:, 0], strict=True):
        alone = measurement.deconvolve(row, inverse, 4800, workers=1)
        np.testing.assert_allclose(kept, alone, atol=1e-7)


@pytest.mark.parametrize(
    # Kirkeby & Nelson, JAES 47(7/8), 1999; numbers by hand.
    ("magnitude", "beta", "gain"),
    [(1.0, 0.01, 0.990099), (0.1, 0.01, 5.0), (0.05, 0.0025, 10.0), (0.01, 0.01, 0.990099)],
)
def test_inversion_limits(magnitude, beta, gain):
    turned = magnitude * np.exp(1j * 0.7)
    inverse = measurement.regularised_inverse(np.array([turned]), beta)[0]
    assert abs(inverse) == pytest.approx(gain, rel=1e-6)
    assert np.angle(inverse) == pytest.approx(-0.7)


def test_the_inverse_never_exceeds_its_peak_gain():
    magnitude = np.logspace(-6, 3, 4001)
    for beta in (1e-6, 0.0025, 4.0):
        gain = np.abs(measurement.regularised_inverse(magnitude, beta))
        assert gain.max() == pytest.approx(1 / (2 * np.sqrt(beta)), rel=1e-4)
        assert magnitude[gain.argmax()] == pytest.approx(np.sqrt(beta), rel=0.01)


def test_outside_its_band_the_sweep_is_not_inverted():
    length = measurement.transform_length(FIVE_SECONDS, RATE)
    inverse = measurement.inverse_spectrum(FIVE_SECONDS, RATE, length, np.complex128)
    played = np.fft.rfft(sweep_samples(FIVE_SECONDS, RATE).astype(float), length)
    frequencies = np.fft.rfftfreq(length, 1 / RATE)
    passed = np.abs(played * inverse)
    low, high = measurement.full_level_band_hz(FIVE_SECONDS)
    inside = (frequencies > low) & (frequencies < high)
    # The regularisation inside is 1e-9 of the power at the edges of the band.
    np.testing.assert_allclose(passed[inside], 1.0, atol=1e-6)
    assert passed[(frequencies < low / 2.5) | (frequencies > high * 1.016)].max() < 0.01


def test_agrees_with_the_regularised_inversion_of_an_independent_library():
    """pyfar.dsp.RegularizedSpectrumInversion, on the same circle."""
    import pyfar

    true = room_like(np.random.default_rng(3))
    recording = recorded(true, SWEEP)
    length = recording.size
    played = np.zeros(length)
    samples = sweep_samples(SWEEP, RATE)
    played[: samples.size] = samples
    inverse = pyfar.dsp.RegularizedSpectrumInversion.from_frequency_range(
        pyfar.Signal(played, RATE), (15, 21000)
    ).invert
    theirs = np.fft.irfft(np.fft.rfft(recording) * inverse.freq_raw[0], length)
    ours = measurement.deconvolve(
        recording.astype(np.float32), measurement.inverse_spectrum(SWEEP, RATE, length)
    )
    # Within its range theirs is exact: what is left is our single precision.
    assert error_db(ours, theirs, 20, 20000) < -110.0


def test_harmonics_begin_their_advance_before_the_end_of_the_circle():
    """Farina, AES 108th Convention, 2000: order N comes L ln N early."""
    length = measurement.transform_length(FIVE_SECONDS, RATE)
    circle = np.zeros(length)
    for order in (2, 3, 4, 5):
        circle[length - round(harmonic_advance_s(FIVE_SECONDS, order) * RATE)] = float(order)
    windows = measurement.harmonic_responses(circle, FIVE_SECONDS, RATE, (5, 2, 4, 3))
    assert list(windows) == [2, 3, 4, 5]
    for order, window in windows.items():
        assert window.max() == float(order)
        assert np.count_nonzero(window) == 1


def test_the_inverse_is_computed_once():
    length = measurement.transform_length(SWEEP, RATE)
    first = measurement.inverse_spectrum(SWEEP, RATE, length)
    assert measurement.inverse_spectrum(Sweep(duration_s=2.0), RATE, length) is first
    assert not first.flags.writeable


def test_bad_arguments_are_named():
    inverse = measurement.inverse_spectrum(SWEEP, RATE, measurement.transform_length(SWEEP, RATE))
    with pytest.raises(InputError, match="even number of at least 96000"):
        measurement.inverse_spectrum(SWEEP, RATE, 95998)
    with pytest.raises(InputError, match="even number"):
        measurement.inverse_spectrum(SWEEP, RATE, 150001)
    with pytest.raises(InputError, match="at most 144000"):
        measurement.deconvolve(np.zeros(144001, np.float32), inverse)
    with pytest.raises(InputError, match="above 0"):
        measurement.regularised_inverse(np.ones(3), [1.0, 0.0, 1.0])
    with pytest.raises(InputError, match="2 or more"):
        measurement.harmonic_responses(np.zeros(144000), SWEEP, RATE, (1,))
