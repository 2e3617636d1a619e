"""NC by ANSI/ASA S12.2-2019 Table 1, NR by ISO/R 1996, as public libraries transcribe them."""

import numpy as np
import pytest

from roomwright._errors import InputError
from roomwright.standards import nc, nr


def test_worked_example_of_s12_2():
    # S12.2-2019 example (a public library's report): SIL 35.5, NC-40 by touching at 250 Hz.
    levels = [79, 69, 59, 51, 50, 39, 36, 34, 33, 32]
    rating = nc.noise_criterion(levels)
    assert rating.value == pytest.approx(40.0)
    assert rating.governing_hz == 250.0


def test_editions_differ():
    # The older set has 47 36 29 at 63 to 250 Hz for NC-15, the 2019 edition 47 36 28.
    assert nc.noise_criterion_levels_db(15)[2:5] == pytest.approx([47, 36, 28])


@pytest.mark.parametrize("rating", [15, 20, 35, 50, 65])
def test_curve_rates_as_itself(rating):
    levels = nc.noise_criterion_levels_db(rating)
    # The mean of the four speech octaves of a printed curve is up to 1.75 dB off its name.
    assert nc.noise_criterion(levels).value == pytest.approx(rating, abs=1.75)


def test_speech_mean_decides_where_no_octave_exceeds_its_curve():
    # Mean of 500 Hz to 4 kHz is 25; NC-25 is 31 27 24 22 there, so nothing may exceed it.
    levels = [40, 40, 40, 35, 30, 29, 27, 23, 21, 10]
    value, governing = nc.noise_criterion(levels)
    assert value == pytest.approx(25.0)
    assert governing is None


def test_unknown_octaves_are_left_out():
    octaves = [31.623, 63.096, 125.89, 251.19]
    value, governing = nc.noise_criterion([np.nan, 54, 30, 20], octaves)
    assert value == pytest.approx(25.0)
    assert governing == 63.0


def test_louder_never_rates_lower():
    levels = nc.noise_criterion_levels_db(22)
    ratings = [nc.noise_criterion(levels + more).value for more in np.arange(0, 40, 0.5)]
    assert np.all(np.diff(ratings) >= -1e-9)


def test_rating_goes_on_beyond_the_table():
    below = nc.noise_criterion_levels_db(10)
    assert np.all(below < nc.noise_criterion_levels_db(15))
    above = nc.noise_criterion(nc.noise_criterion_levels_db(70) + 10)
    assert above.value > 75


@pytest.mark.parametrize(
    ("rating", "levels"),
    [
        (10, [62.2, 43.4, 30.7, 21.3, 14.5, 10.0, 6.6, 4.2, 2.3]),
        (15, [65.6, 47.4, 35.0, 26.0, 19.4, 15.0, 11.7, 9.3, 7.5]),
        (20, [69.0, 51.3, 39.4, 30.6, 24.3, 20.0, 16.8, 14.4, 12.6]),
        (25, [72.4, 55.2, 43.8, 35.2, 29.2, 25.0, 21.9, 19.5, 17.8]),
    ],
)
def test_nr_table(rating, levels):
    assert nr.noise_rating_levels_db(rating) == pytest.approx(levels, abs=0.06)  # as printed


@pytest.mark.parametrize("rating", [0, 12.5, 40])
def test_nr_at_1_khz_is_the_level_itself(rating):
    # Guards against the table shifted by an octave that some public codes have.
    assert nr.noise_rating([rating], [1000.0]) == (pytest.approx(rating), 1000.0)


@pytest.mark.parametrize("octave", nr.NR_OCTAVES_HZ)
def test_nr_curve_rates_as_itself_and_the_octave_raised_governs(octave):
    levels = nr.noise_rating_levels_db(17.0)
    levels[nr.NR_OCTAVES_HZ.index(octave)] += 3
    rating = nr.noise_rating(levels)
    assert rating.value > 17.0
    assert rating.governing_hz == octave


@pytest.mark.parametrize("rate", [nc.noise_criterion, nr.noise_rating])
def test_unusable_levels_are_refused(rate):
    with pytest.raises(InputError, match="one level for each octave"):
        rate([1.0, 2.0], [63.0])
    with pytest.raises(InputError, match="at least one octave"):
        rate([np.nan], [63.0])
    with pytest.raises(InputError, match="at least one octave"):
        rate([30.0], [90.0])
