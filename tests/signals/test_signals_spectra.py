"""Phase relations (standards.md 6.9)."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import signal

from roomwright import signals
from roomwright._errors import InputError
from roomwright.model import Biquad

RATE = 48000


def spectrum(taps, n):
    return np.fft.rfft(taps, n)


@pytest.mark.parametrize("oversampling", [1, 2])
def test_minimum_phase_of_a_reflected_pair(oversampling):
    # 6.9: h = [0.5, 1] has the minimum-phase twin [1, 0.5]. Straight lines between 1024 bins
    # bend the log magnitude by at most (2 pi/1024)^2/8 times its curvature, 2: 1e-5.
    twin = np.fft.irfft(
        signals.minimum_phase(np.abs(spectrum([0.5, 1.0], 1024)), oversampling), 1024
    )
    expected = np.zeros(1024)
    expected[:2] = (1.0, 0.5)
    assert twin == pytest.approx(expected, abs=1e-12 if oversampling == 1 else 1e-5)


@given(st.lists(st.floats(-0.9, 0.9), min_size=1, max_size=4))
def test_minimum_phase_is_its_own_twin(zeros):
    # Zeros inside |z| = 0.9: the cepstrum is below 0.9^512/512 where a grid of 1024 folds it.
    response = spectrum(np.poly(zeros), 1024)
    assert signals.minimum_phase(np.abs(response), 1) == pytest.approx(response, abs=1e-9)


def test_minimum_phase_keeps_the_magnitude_and_fills_nulls():
    magnitude = np.abs(spectrum([1.0, 0.0, 1.0], 64))  # an exact null at a quarter of the rate
    magnitude[16] = 0.0
    kept = np.abs(signals.minimum_phase(magnitude))
    others = np.delete(np.arange(33), 16)
    assert kept[others] == pytest.approx(magnitude[others], rel=1e-12)
    assert kept[16] == pytest.approx(1e-6 * magnitude.max(), rel=1e-9)  # -120 dB re the maximum


def test_minimum_phase_takes_many_at_once():
    magnitudes = np.abs(np.random.default_rng(1).standard_normal((2, 3, 129))) + 0.1
    together = signals.minimum_phase(magnitudes, 2)
    assert together.shape == magnitudes.shape
    assert together[1, 2] == pytest.approx(signals.minimum_phase(magnitudes[1, 2], 2), rel=1e-12)


def test_oversampling_unfolds_the_cepstrum_of_a_high_pass():
    # A Butterworth high-pass is its own minimum-phase twin; at 20 Hz and 5.9 Hz bins its steep
    # slope towards 0 Hz is what folds. A tenth is what the default should gain at least.
    sos = signal.butter(4, 30, "highpass", fs=RATE, output="sos")
    grid = signals.frequencies_hz(8192, RATE)
    response = signals.response(sos, grid, RATE)
    heard = grid >= 20
    folded, unfolded = (
        np.abs(np.angle(twin[heard] / response[heard])).max()
        for twin in (
            signals.minimum_phase(np.abs(response), 1),
            signals.minimum_phase(np.abs(response)),
        )
    )
    assert unfolded < 0.03
    assert unfolded < folded / 10


def test_minimum_phase_fir_has_the_magnitude_of_a_band_pass():
    sos = signal.butter(2, [200, 4000], "bandpass", fs=RATE, output="sos")
    wanted = np.abs(signals.response(sos, signals.frequencies_hz(2**15, RATE), RATE))
    fir = signals.minimum_phase_fir(wanted, 4096)
    assert fir.shape == (4096,)
    # The poles near 200 Hz decay by exp(-900 t): where the fade begins, at 64 ms, to 1e-25. What
    # is left is the filled null at 0 Hz, whose cepstrum outlasts the taps.
    np.testing.assert_allclose(np.abs(spectrum(fir, 2**15)), wanted, atol=1e-5)
    assert abs(fir[-1]) < 1e-9


def test_minimum_phase_fir_is_the_minimum_phase_filter():
    # Peaks and shelves have their zeros within the unit circle, so their own response is meant.
    sections = [
        Biquad(kind="peaking", frequency_hz=200, gain_db=6, q=1),
        Biquad(kind="high_shelf", frequency_hz=4000, gain_db=-9),
    ]
    sos = signals.cascade_sos(sections, RATE)
    wanted = np.abs(signals.response(sos, signals.frequencies_hz(2**15, RATE), RATE))
    fir = signals.minimum_phase_fir(wanted, 4096)
    # Straight lines between bins of 1.5 Hz err by (1.5 Hz / 200 Hz)^2/8 of the peak: 1e-5.
    np.testing.assert_allclose(fir, signal.sosfilt(sos, np.eye(1, 4096)[0]), atol=1e-5)


@given(st.integers(0, 63))
def test_group_delay_of_a_pure_delay(delay):
    # 6.9: group delay and phase delay of a pure delay are both that delay.
    impulse = np.eye(1, 128, delay)[0]
    assert signals.group_delay_s(impulse, RATE) == pytest.approx(
        np.full(65, delay / RATE), abs=1e-12
    )
    response = np.fft.rfft(impulse)
    turn = signals.phase(response)[1:]
    assert -turn / (2 * np.pi * signals.frequencies_hz(128, RATE)[1:]) == pytest.approx(
        np.full(64, delay / RATE), abs=1e-12
    )
    # The delay is all excess: there is nothing of it in the minimum phase.
    assert signals.excess_phase(response) == pytest.approx(signals.phase(response), abs=1e-9)


def test_linear_phase_delays_by_half_its_length():
    # 6.9: N taps delay by (N - 1)/2 samples; 4096 taps at 48 kHz are 42.656 ms.
    taps = signal.firwin(4096, 5000, fs=RATE)
    delay_ms = 1e3 * signals.group_delay_s(taps, RATE)
    passband = signals.frequencies_hz(4096, RATE) < 4900
    assert delay_ms[passband] == pytest.approx(np.full(passband.sum(), 42.656), abs=5e-4)


def test_group_delay_is_undefined_at_an_exact_null():
    delays = signals.group_delay_s([[1.0, 1.0], [1.0, 0.0]], RATE)
    assert np.isnan(delays[0, 1])
    assert not np.isnan(delays[1]).any()


def test_excess_phase_of_an_all_pass_is_its_phase():
    # One pole at 0.5 (a minimum-phase part) times a first-order all-pass; straight lines between
    # 1024 bins as above.
    grid = np.linspace(0, np.pi, 513)
    all_pass = signal.freqz([-0.7, 1.0], [1.0, -0.7], grid)[1]
    other = signal.freqz([1.0], [1.0, -0.5], grid)[1]
    excess = signals.excess_phase(all_pass * other)
    np.testing.assert_allclose(excess, signals.phase(all_pass), atol=1e-5)


def test_what_has_no_minimum_phase_is_refused():
    with pytest.raises(InputError, match="zero everywhere"):
        signals.minimum_phase(np.zeros(9))
    with pytest.raises(InputError, match="at least 2 bins"):
        signals.minimum_phase(np.ones(1))
    with pytest.raises(InputError, match="allows 1 to 16"):
        signals.minimum_phase_fir(np.ones(9), 17)
