"""Sweeps against standards.md 6.7 (Farina, AES 108, 2000) and an independent generator."""

import warnings

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from roomwright import signals
from roomwright._errors import InputError
from roomwright.model import Sweep

RATE = 48000
PLAIN = Sweep(start_hz=20, stop_hz=20000, duration_s=10, fade_in_s=0, fade_out_s=0, level_dbfs=0)


@pytest.mark.parametrize(
    ("order", "advance_s"), [(2, 1.003433), (3, 1.590404), (4, 2.006867), (5, 2.329900)]
)
def test_harmonic_advance_table(order, advance_s):
    # standards.md 6.7: f1 20, f2 20000, T 10 s, L 1.447648 s.
    assert signals.harmonic_advance_s(PLAIN, order) == pytest.approx(advance_s, abs=5e-7)


def test_harmonic_advance_from_10_hz():
    sweep = PLAIN.model_copy(update={"start_hz": 10.0})
    assert signals.harmonic_advance_s(sweep, 2) == pytest.approx(0.911927, abs=5e-7)
    assert signals.harmonic_advance_s(sweep, 1) == 0.0


@given(st.floats(0, 9.9), st.integers(1, 8))
def test_the_sweep_passes_a_harmonic_by_its_advance_later(time_s, order):
    later = time_s + signals.harmonic_advance_s(PLAIN, order)
    at = signals.instantaneous_frequency_hz(PLAIN, [time_s, later])
    assert at[1] == pytest.approx(order * at[0], rel=1e-12)


def test_frequency_at_the_ends():
    ends = signals.instantaneous_frequency_hz(PLAIN, [0, 10])
    assert ends == pytest.approx([20, 20000], rel=1e-12)


def test_an_independent_generator_agrees():
    """pyfar's exponential sweep has the same phase; float32 rounds by 6e-8."""
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")  # pyfar's dependencies deprecate freely
        import pyfar

        reference = pyfar.signals.exponential_sweep_time(
            10 * RATE, [20, 20000], n_fade_out=0, sampling_rate=RATE
        ).time[0]
    np.testing.assert_allclose(signals.sweep_samples(PLAIN, RATE), reference, atol=2e-7)


def test_crest_factor_is_that_of_a_sine():
    # 6.7: peak at full scale, crest 3.01 dB; the sweep starts with whole slow periods.
    samples = signals.sweep_samples(PLAIN, RATE)
    assert samples.dtype == np.float32
    assert signals.amplitude_db(signals.rms(samples)) == pytest.approx(-3.01, abs=0.02)


def test_spectrum_falls_by_3_db_an_octave():
    # 6.7. Octaves well inside the band hold equal energy, so density falls by 3.01 dB; the
    # ripple of the switched-on ends stays below 0.1 dB there.
    sweep = PLAIN.model_copy(update={"fade_in_s": 0.1, "fade_out_s": 0.01})
    samples = signals.sweep_samples(sweep, RATE)
    energy = np.abs(np.fft.rfft(samples)) ** 2
    grid = signals.frequencies_hz(samples.size, RATE)
    mids, powers = signals.band_powers(energy, grid, 1, 63, 8000)
    slope = np.polyfit(np.log2(mids), signals.power_db(powers / mids), 1)[0]
    assert slope == pytest.approx(-10 * np.log10(2), abs=0.01)
    assert np.ptp(signals.power_db(powers)) < 0.1


def test_a_squarer_answers_by_the_advance_of_the_second_harmonic():
    sweep = PLAIN.model_copy(update={"duration_s": 4.0, "fade_in_s": 0.05, "fade_out_s": 0.01})
    samples = signals.sweep_samples(sweep, RATE).astype(float)
    n = 2**19
    played, squared = (np.fft.rfft(x, n) for x in (samples, samples**2))
    regular = np.abs(played).max() ** 2 * 1e-6
    answer = np.abs(np.fft.irfft(squared * played.conj() / (np.abs(played) ** 2 + regular), n))
    advance = round(signals.harmonic_advance_s(sweep, 2) * RATE)
    # The answer is a band-limited pulse with a quadrature phase: its peak is within two samples.
    window = answer[n - advance - 200 : n - advance + 200]
    assert abs(int(np.argmax(window)) - 200) <= 2


@given(st.floats(-60, 0), st.floats(0.001, 0.2), st.floats(0.001, 0.2))
def test_peak_level_and_fades(level_dbfs, fade_in_s, fade_out_s):
    sweep = Sweep(
        start_hz=30,
        stop_hz=10000,
        duration_s=1,
        fade_in_s=fade_in_s,
        fade_out_s=fade_out_s,
        level_dbfs=level_dbfs,
    )
    samples = signals.sweep_samples(sweep, RATE)
    peak_db = signals.amplitude_db(np.abs(samples).max())
    # Sampling may miss a peak near 10 kHz, but not those of the slow start.
    assert peak_db == pytest.approx(level_dbfs, abs=1e-3)
    # One sample inside a fade of m samples its gain is below (pi/2/m)^2.
    for end, fade_s in ((samples[0], fade_in_s), (samples[-1], fade_out_s)):
        gain = (np.pi / 2 / round(fade_s * RATE)) ** 2
        assert abs(end) <= gain * signals.from_amplitude_db(level_dbfs)


def test_excitation_is_two_pilots_about_a_sweep():
    sweep = Sweep(duration_s=1.0)
    places = signals.timeline(sweep, RATE)
    played = signals.excitation(sweep, RATE)
    pilot, swept = signals.pilot_samples(sweep, RATE), signals.sweep_samples(sweep, RATE)
    assert played.dtype == np.float32
    assert played.size == places.total == round((0.1 + 0.1 + 0.3 + 1 + 1 + 0.1 + 0.3) * RATE)
    assert pilot.size == round(0.1 * RATE)
    assert places.sweep_start == round(0.5 * RATE)
    assert places.sweep_stop - places.sweep_start == swept.size == RATE
    assert places.pilot_2 - places.sweep_stop == RATE
    # What is left once the three parts are taken away is silence.
    for start, part in (
        (places.pilot_1, pilot),
        (places.sweep_start, swept),
        (places.pilot_2, pilot),
    ):
        assert np.array_equal(played[start : start + part.size], part)
        played[start : start + part.size] = 0
    assert not played.any()


def test_the_pilot_covers_the_band_of_the_sweep():
    # Octaves between its fades hold equal energy, but for the ripple of its short start.
    pilot = signals.pilot_samples(Sweep(level_dbfs=-20), RATE)
    assert signals.amplitude_db(np.abs(pilot).max()) == pytest.approx(-20, abs=0.01)
    energy = np.abs(np.fft.rfft(pilot)) ** 2
    grid = signals.frequencies_hz(pilot.size, RATE)
    _, powers = signals.band_powers(energy, grid, 1, 63, 8000)
    assert np.ptp(signals.power_db(powers)) < 0.2


def test_a_sweep_beyond_half_the_rate_is_refused():
    sweep = Sweep(stop_hz=24000)
    for make in (signals.sweep_samples, signals.pilot_samples, signals.excitation):
        with pytest.raises(InputError, match="must stop below 24000 Hz"):
            make(sweep, RATE)
    with pytest.raises(InputError, match="1 or more"):
        signals.harmonic_advance_s(sweep, 0)
