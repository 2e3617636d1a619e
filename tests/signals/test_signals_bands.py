"""Fractional-octave bands against IEC 61260-1:2014 (standards.md 4.1 and 4.2)."""

import warnings

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from roomwright import signals
from roomwright._errors import InputError

G = 10**0.3

#: standards.md 4.1: nominal label and exact third-octave midband, computed there to five digits.
THIRD_OCTAVES = {
    "16": 15.849, "20": 19.953, "25": 25.119, "31.5": 31.623, "40": 39.811, "50": 50.119,
    "63": 63.096, "80": 79.433, "100": 100.00, "125": 125.89, "160": 158.49, "200": 199.53,
    "250": 251.19, "315": 316.23, "400": 398.11, "500": 501.19, "630": 630.96, "800": 794.33,
    "1k": 1000.0, "1.25k": 1258.9, "1.6k": 1584.9, "2k": 1995.3, "2.5k": 2511.9,
    "3.15k": 3162.3, "4k": 3981.1, "5k": 5011.9, "6.3k": 6309.6, "8k": 7943.3, "10k": 10000.0,
    "12.5k": 12589.0, "16k": 15849.0, "20k": 19953.0,
}  # fmt: skip

#: standards.md 4.2 (IEC 61260-1:2014 Table 1): exponent x of the octave breakpoint G^x, and the
#: least and greatest relative attenuation of class 1 in dB.
CLASS_1_INSIDE = np.array(
    [(0, -0.4, 0.4), (1 / 8, -0.4, 0.5), (1 / 4, -0.4, 0.7), (3 / 8, -0.4, 1.4), (1 / 2, -0.4, 5.3)]
)
CLASS_1_OUTSIDE = np.array([(1 / 2, 1.2), (1, 16.6), (2, 40.5), (3, 60.0), (4, 70.0)])


def breakpoints(exponents, fraction):
    """Breakpoints of a 1/fraction-octave band over its midband, by the mapping of 4.2."""
    return 1 + (G ** (0.5 / fraction) - 1) / (G**0.5 - 1) * (G**exponents - 1)


def attenuation_db(mid_hz, fraction, rate, frequencies):
    sos = signals.band_filter_sos(mid_hz, fraction, rate)
    return -signals.amplitude_db(signals.response(sos, frequencies, rate))


def test_midbands_table():
    mids = signals.midbands(3, 16, 20000)
    # Half a unit of the fifth digit.
    assert mids == pytest.approx(list(THIRD_OCTAVES.values()), rel=5e-5)
    assert [signals.nominal_label(mid, 3) for mid in mids] == list(THIRD_OCTAVES)


def test_mapped_breakpoints_table():
    # standards.md 4.2, column "1/3-oct Omega high" (IEC 61260-1:2014 Table F.1).
    mapped = breakpoints(np.array([0, 1 / 8, 1 / 4, 3 / 8, 1 / 2, 1, 2, 3, 4]), 3)
    assert mapped == pytest.approx(
        [1, 1.02667, 1.05575, 1.08746, 1.12202, 1.29437, 1.88173, 3.05365, 5.39195], abs=5e-6
    )


def test_octave_limits_are_inclusive_by_exact_and_by_nominal_value():
    exact = [63.096, 125.89, 251.19, 501.19, 1000, 1995.3, 3981.1, 7943.3]
    for limits in ((63, 8000), (63.1, 7943), (63.096, 7943.3), (45, 11000)):
        assert signals.midbands(1, *limits) == pytest.approx(exact, rel=5e-5)
    assert signals.midbands(1, 70, 100).size == 0


@given(st.integers(1, 24), st.floats(1, 1e4))
def test_bands_share_their_edges(fraction, low_hz):
    # 5.7: the edges of a 1/b-octave band lie G^(+-1/2b) about its midband, so bands abut.
    low, high = signals.band_edges(signals.midbands(fraction, low_hz, 4 * low_hz), fraction)
    assert high[:-1] == pytest.approx(low[1:], rel=1e-12)
    assert high / low == pytest.approx(np.full(low.shape, G ** (1 / fraction)), rel=1e-12)


def test_third_octave_edges():
    # standards.md 4.1: f 10^(+-0.05) = 0.89125 f and 1.12202 f.
    assert signals.band_edges(1000, 3) == pytest.approx((891.25, 1122.02), abs=5e-3)


def test_even_fractions_have_an_edge_at_the_reference_frequency():
    mids = signals.midbands(2, 500, 2000)
    assert mids == pytest.approx(1000 * G ** (np.array([-3, -1, 1, 3]) / 4), rel=1e-12)
    assert signals.band_edges(mids, 2)[1][1] == pytest.approx(1000.0, rel=1e-12)


def test_labels_of_narrow_bands():
    # standards.md 4.1: IEC 61260-1:2014 E.3.4, b = 24: 41.567 -> 41.6 and 8785.2 -> 8800.
    assert signals.nominal_label(41.567, 24) == "41.6"
    assert signals.nominal_label(8785.2, 24) == "8.8k"
    assert signals.nominal_words(1258.9, 3) == "1.25 kHz"
    assert signals.nominal_words(31.62, 1) == "31.5 Hz"


@pytest.mark.parametrize("rate", [44100, 48000, 96000])
@pytest.mark.parametrize("fraction", [1, 3, 6, 12])
def test_filters_meet_the_class_1_mask(fraction, rate):
    """Relative attenuation within Table 1, limits straight over log frequency (4.2)."""
    inside = np.geomspace(1, breakpoints(0.5, fraction) * (1 - 1e-9), 40)
    outside = np.geomspace(breakpoints(0.5, fraction) * (1 + 1e-9), 100, 120)
    inner, outer = (
        np.log(breakpoints(table[:, 0], fraction)) for table in (CLASS_1_INSIDE, CLASS_1_OUTSIDE)
    )
    mids = signals.midbands(fraction, 16, 20000)
    mids = mids[signals.band_edges(mids, fraction)[1] < rate / 2]
    assert mids.size >= 10
    for mid in mids:
        for sign in (1, -1):
            within = attenuation_db(mid, fraction, rate, mid * inside**sign)
            assert (within >= np.interp(np.log(inside), inner, CLASS_1_INSIDE[:, 1])).all()
            assert (within <= np.interp(np.log(inside), inner, CLASS_1_INSIDE[:, 2])).all()
            ratios = outside[mid * outside**sign < 0.4999 * rate]
            beyond = attenuation_db(mid, fraction, rate, mid * ratios**sign)
            assert (beyond >= np.interp(np.log(ratios), outer, CLASS_1_OUTSIDE[:, 1])).all()


@pytest.mark.parametrize("fraction", [1, 3])
def test_an_independent_judge_finds_class_1(fraction):
    """pyfar's own transcription of IEC 61260-1:2014 passes our filters."""
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")  # pyfar's dependencies deprecate freely
        import pyfar

        limits = (100, 8000)
        mids = pyfar.constants.fractional_octave_frequencies_exact(fraction, limits)[0]
        assert mids == pytest.approx(signals.midbands(fraction, *limits), rel=1e-12)
        sections = np.array([signals.band_filter_sos(mid, fraction, 48000) for mid in mids])
        judged = pyfar.FilterSOS(sections, 48000)
        assert pyfar.dsp.filter.check_fractional_octave_band_filter_tolerance(
            judged, fraction, limits, tolerance_class=1, n_samples=2**16
        )


@pytest.mark.parametrize("fraction", [1, 3])
def test_effective_bandwidth_and_summation(fraction):
    """4.2: effective bandwidth within +-0.4 dB, adjacent outputs sum within +0.8/-1.8 dB."""
    grid = np.geomspace(200, 5000, 20001)
    mids = signals.midbands(fraction, 250, 4000)
    gains = np.array(
        [
            np.abs(signals.response(signals.band_filter_sos(mid, fraction, 48000), grid, 48000))
            ** 2
            for mid in mids
        ]
    )
    centre = mids.size // 2
    low, high = signals.band_edges(mids[centre], fraction)
    effective = np.trapezoid(gains[centre], np.log(grid)) / np.log(high / low)
    assert abs(signals.power_db(effective)) <= 0.4
    between = (grid > mids[1]) & (grid < mids[-2])
    total_db = signals.power_db(gains.sum(axis=0))[between]
    assert total_db.max() <= 0.8
    assert total_db.min() >= -1.8


def test_a_band_beyond_half_the_rate_is_refused():
    with pytest.raises(InputError, match="below half"):
        signals.band_filter_sos(19953, 3, 44100)
    with pytest.raises(InputError, match="rising"):
        signals.midbands(3, 100, 50)
    with pytest.raises(InputError, match="1 or more"):
        signals.midbands(0, 50, 100)
    with pytest.raises(InputError, match="last axis"):
        signals.band_powers(np.ones(5), np.arange(6), 3, 1, 2)


@given(st.integers(0, 2**32 - 1), st.sampled_from([1, 3, 12]))
def test_band_powers_count_all_power_once(seed, fraction):
    rng = np.random.default_rng(seed)
    power = rng.exponential(size=(2, 1025)) * 10 ** rng.uniform(-6, 6, (2, 1))
    grid = signals.frequencies_hz(2048, 48000)
    # Power at 0 and at half the rate lies outside every band.
    power[:, grid < 100] = power[:, grid > 16000] = 0.0
    mids, powers = signals.band_powers(power, grid, fraction, 20, 24000)
    assert powers.shape == (2, mids.size)
    assert powers.sum(axis=-1) == pytest.approx(power.sum(axis=-1), rel=1e-9)


def test_band_powers_split_a_bin_at_an_edge():
    # White power of 1 per hertz, 50 Hz bins far wider than the lowest band.
    grid = np.arange(0, 24001, 50.0)
    mids, powers = signals.band_powers(np.full(grid.size, 50.0), grid, 3, 50, 16000)
    low, high = signals.band_edges(mids, 3)
    assert powers == pytest.approx(high - low, rel=1e-9)
