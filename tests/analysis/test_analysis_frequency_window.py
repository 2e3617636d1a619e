import numpy as np
import pytest

from roomwright._errors import InputError
from roomwright.analysis import frequency_dependent_window
from roomwright.signals import log_frequencies

RATE = 48000
FREQUENCIES = log_frequencies(20.0, 20000.0, 12)


def with_reflection(amount, delay, arrival=480, n=48000):
    response = np.zeros(n)
    response[arrival] = 1.0
    response[arrival + delay] += amount
    return response


def test_flat_stays_flat():
    response = frequency_dependent_window(with_reflection(0.0, 1), RATE, 6.0, FREQUENCIES)
    delay = np.exp(-2j * np.pi * FREQUENCIES * 480 / RATE)
    assert response == pytest.approx(delay, abs=1e-9)


@pytest.mark.parametrize("cycles", [3.0, 6.0, 15.0])
def test_a_reflection_counts_by_the_window(cycles):
    """1 + a cos^2(pi f d / 2 n) exp(-j omega d) up to n / f, 1 beyond: the stated window."""
    delay_s = 240 / RATE
    found = frequency_dependent_window(
        with_reflection(0.7, 240), RATE, cycles, FREQUENCIES, centre_s=480 / RATE
    )
    share = np.cos(np.pi / 2 * np.minimum(FREQUENCIES * delay_s / cycles, 1.0)) ** 2
    expected = 1 + 0.7 * share * np.exp(-2j * np.pi * FREQUENCIES * delay_s)
    expected = expected * np.exp(-2j * np.pi * FREQUENCIES * 480 / RATE)
    assert found == pytest.approx(expected, abs=1e-9)
    assert np.abs(found)[cycles / delay_s < FREQUENCIES] == pytest.approx(1.0, abs=1e-9)


def test_many_cycles_are_the_plain_spectrum():
    rng = np.random.default_rng(1)
    response = rng.standard_normal(400) * np.exp(-np.arange(400) / 60)
    found = frequency_dependent_window(response, RATE, 1e4, FREQUENCIES, centre_s=0.0)
    turns = np.exp(-2j * np.pi * np.outer(FREQUENCIES, np.arange(400)) / RATE)
    # The window is down by (pi / 2 400 f / 1e4 rate)^2, 7e-4 at 20 kHz.
    assert found == pytest.approx(turns @ response, abs=1e-3 * np.abs(response).sum())


def test_each_response_is_windowed_about_its_own_arrival():
    responses = np.stack([with_reflection(0.5, 300, arrival) for arrival in (100, 900)])
    found = frequency_dependent_window(responses, RATE, 5.0, FREQUENCIES)
    assert np.abs(found[0]) == pytest.approx(np.abs(found[1]), abs=1e-6)


def test_silence_has_no_direct_sound_to_window_about():
    with pytest.raises(InputError):
        frequency_dependent_window(np.zeros(4800), RATE, 5.0, FREQUENCIES)
