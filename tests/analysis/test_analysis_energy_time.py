import numpy as np
import pytest

from roomwright.analysis import energy_time_db, step_response


def test_the_envelope_of_a_tone_burst_has_no_ripple():
    t = np.arange(4800)
    burst = np.sin(2 * np.pi * t / 24) * np.exp(-(((t - 2400) / 600) ** 2))
    expected = 20 * np.log10(np.exp(-(((t - 2400) / 600) ** 2)))
    near = np.abs(t - 2400) < 900
    assert energy_time_db(burst)[near] == pytest.approx(expected[near], abs=0.001)


def test_a_reflection_stands_at_its_level():
    response = np.zeros((2, 1000))
    response[:, 100] = 1.0
    response[1, 500] = -0.1
    levels = energy_time_db(response)
    assert levels[:, 100] == pytest.approx([0.0, 0.0])
    assert levels[1, 500] == pytest.approx(-20.0, abs=0.05)


def test_silence_is_silent():
    assert np.isneginf(energy_time_db(np.zeros(64))).all()


def test_the_step_is_the_running_sum():
    rng = np.random.default_rng(1)
    response = rng.standard_normal((3, 200))
    convolved = np.stack([np.convolve(row, np.ones(200))[:200] for row in response])
    assert step_response(response) == pytest.approx(convolved, abs=1e-12)
