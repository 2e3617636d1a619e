"""Live band levels against IEC 61260-1:2014 (standards.md 4.2) and their own definition."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from roomwright import signals
from roomwright._errors import InputError
from roomwright.measurement.metering import BandLevels

RATE = 48000


def impulse_gains_db(fraction, mid_hz, frequencies_hz, rate=RATE):
    """Gain of one band of the whole meter at frequencies, from the Leq of long sines."""
    gains = []
    for frequency in frequencies_hz:
        # A third octave rings for some ten periods; the steep edges of an octave no longer.
        seconds = max(25.0 / mid_hz, 0.05)
        time = np.arange(round(2 * seconds * rate)) / rate
        meter = BandLevels(rate, fraction=fraction)
        sine = np.sin(2 * np.pi * frequency * time)
        settled = round(seconds * rate)
        meter.follow(sine[:settled])
        meter.restart()
        meter.follow(sine[settled:])
        band = int(np.argmin(np.abs(np.log(meter.mid_hz / mid_hz))))
        gains.append(meter.equivalent_db()[band])
    return np.array(gains)


def breakpoints(exponents, fraction):
    ratio = 10**0.3
    x = np.asarray(exponents)
    return 1 + (ratio ** (0.5 / fraction) - 1) / (ratio**0.5 - 1) * (ratio**x - 1)


@pytest.mark.parametrize(
    ("fraction", "mid_hz"), [(1, 1000.0), (3, 63.096), (3, 1000.0), (3, 3981.07)]
)
def test_bands_keep_the_class_1_mask(fraction, mid_hz):
    # standards.md 4.2 (Table 1): breakpoints, and the least and greatest attenuation there.
    for exponent, least, greatest in (
        (0, -0.4, 0.4),
        (0.25, -0.4, 0.7),
        (0.375, -0.4, 1.4),
        (1, 16.6, np.inf),
        (2, 40.5, np.inf),
        (3, 60.0, np.inf),
    ):
        ratio = breakpoints(exponent, fraction)
        # The mean over a time that is no whole number of periods is off by 0.05 dB or less.
        loss = -impulse_gains_db(fraction, mid_hz, (mid_hz * ratio, mid_hz / ratio))
        assert (loss >= least - 0.05).all(), exponent
        assert (loss <= greatest + 0.05).all(), exponent


def test_pink_noise_has_equal_bands():
    rng = np.random.default_rng(5)
    noise = signals.pink_noise(30 * RATE, RATE, rng, 8, 23000) * 0.05
    meter = BandLevels(RATE)
    for block in np.array_split(noise, 300):
        meter.follow(block)
    levels = meter.equivalent_db()
    assert meter.mid_hz.size == 32
    power, frequencies = np.abs(np.fft.rfft(noise)) ** 2, np.fft.rfftfreq(noise.size, 1 / RATE)
    _, exact = signals.band_powers(power, frequencies, 3, 16, 20000)
    expected = signals.power_db(exact * 4 / noise.size**2)
    # The noise bandwidth of Butterworth edges of order n over the distance of their -3 dB points:
    # (pi / 2n) / sin(pi / 2n), 0.11 dB for n = 4.
    expected += 10 * np.log10(np.pi / 8 / np.sin(np.pi / 8))
    # In 30 s the lowest bands hold few hundred independent samples, and the skirts see others.
    assert levels == pytest.approx(expected, abs=0.25)
    assert levels[10:] == pytest.approx(expected[10:], abs=0.05)


def test_bands_agree_with_a_general_library():
    from pyoctaveband import octavefilter

    rng = np.random.default_rng(2)
    noise = 0.1 * rng.standard_normal(10 * RATE)
    meter = BandLevels(RATE, sensitivity_pa=1.0)
    meter.follow(noise)
    theirs, mids = octavefilter(noise, fs=RATE, fraction=3, order=6, limits=[50, 16000])
    # They calculate re 20 uPa of samples in pascal, as ours with full scale at 1 Pa.
    index = [int(np.argmin(np.abs(np.log(meter.mid_hz / mid)))) for mid in mids]
    assert meter.equivalent_db()[index] == pytest.approx(np.asarray(theirs), abs=0.3)


@settings(max_examples=10)
@given(st.lists(st.integers(0, 4000), min_size=1, max_size=8))
def test_the_length_of_the_blocks_does_not_matter(lengths):
    noise = np.random.default_rng(1).standard_normal(sum(lengths) + 1) * 0.1
    whole, parts = BandLevels(RATE), BandLevels(RATE)
    whole.follow(noise)
    start = 0
    for length in [*lengths, 1]:
        parts.follow(noise[start : start + length])
        start += length
    assert parts.levels_db() == pytest.approx(whole.levels_db(), abs=1e-8)
    assert parts.equivalent_db() == pytest.approx(whole.equivalent_db(), abs=1e-8)


def test_peak_hold_and_restart():
    meter = BandLevels(RATE, averaging_s=0.125)
    time = np.arange(RATE) / RATE
    meter.follow(np.sin(2 * np.pi * 1000 * time))
    meter.follow(np.zeros(RATE))
    band = int(np.argmin(np.abs(meter.mid_hz - 1000)))
    assert meter.peaks_db()[band] == pytest.approx(0, abs=0.1)
    # 1 s after at 34.7 dB/s
    assert meter.levels_db()[band] == pytest.approx(-34.7, abs=0.7)
    meter.restart()
    meter.follow(np.zeros(100))
    assert meter.peaks_db()[band] < -30


def test_bands_end_where_the_rate_does():
    assert BandLevels(44100).mid_hz[-1] == pytest.approx(15849, rel=1e-3)
    assert BandLevels(RATE, fraction=1).mid_hz.size == 11
    meter = BandLevels(RATE)
    assert np.isnan(meter.equivalent_db()).all()


def test_bad_input_is_refused():
    with pytest.raises(InputError, match="averaging"):
        BandLevels(RATE, averaging_s=0.0)
    with pytest.raises(InputError, match="one input"):
        BandLevels(RATE).follow(np.zeros((2, 5)))
