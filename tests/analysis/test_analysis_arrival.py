import numpy as np
import pytest

from roomwright._errors import InputError
from roomwright.analysis import arrival_s, onset_index
from roomwright.signals import fractional_delay

RATE = 48000


def impulse(delay_samples, n=16384):
    unit = np.zeros(n)
    unit[0] = 1.0
    return fractional_delay(unit, delay_samples)


@pytest.mark.parametrize("band_hz", [None, (500.0, 2000.0), (500.0, 8000.0), (30.0, 120.0)])
@pytest.mark.parametrize("delay_samples", [480.0, 480.25, 480.5, 1300.9])
def test_a_pure_delay_is_found_between_samples(delay_samples, band_hz):
    # A parabola through three samples of the envelope errs by a few hundredths of a sample.
    found = arrival_s(impulse(delay_samples), RATE, band_hz) * RATE
    assert found == pytest.approx(delay_samples, abs=0.05)


def test_a_stronger_reflection_does_not_hide_the_direct_sound():
    response = impulse(500.0) + 3.0 * impulse(740.0)
    assert arrival_s(response, RATE) * RATE == pytest.approx(500.0, abs=0.1)


def test_noise_ahead_of_the_direct_sound_is_not_taken_for_it():
    rng = np.random.default_rng(3)
    # Noise 26 dB below the peak on average reaches above the 20 dB line often.
    noise = 0.05 * rng.standard_normal((40, 16384))
    found = arrival_s(impulse(3000.0) + noise, RATE) * RATE
    assert np.abs(found - 3000.0).max() < 1.0


def test_nothing_arrives_in_noise_or_silence():
    rng = np.random.default_rng(4)
    assert np.isnan(arrival_s(rng.standard_normal((20, 8192)), RATE)).all()
    assert np.isnan(arrival_s(np.zeros(8192), RATE))


def test_each_response_of_a_set_is_read_alone():
    responses = np.stack([impulse(d) for d in (100.0, 200.5, 900.0)]).reshape(3, 1, -1)
    found = arrival_s(responses, RATE)
    assert found.shape == (3, 1)
    assert found[:, 0] * RATE == pytest.approx([100.0, 200.5, 900.0], abs=0.05)


def test_the_onset_is_the_first_sample_within_20_db_of_the_peak():
    """ISO 3382-1:2009: the start of a response, where it comes within 20 dB of its peak."""
    response = np.zeros(100)
    response[[10, 20, 30]] = 0.09, -0.11, 1.0
    assert onset_index(response) == 20


@pytest.mark.parametrize("band_hz", [(0.0, 100.0), (200.0, 100.0)])
def test_a_band_that_is_none_is_refused(band_hz):
    with pytest.raises(InputError):
        arrival_s(impulse(10.0), RATE, band_hz)
