from __future__ import annotations

import numpy as np
import pytest
from scipy.special import j1

from roomwright.acoustics import directivity_factor, directivity_gain, piston_gain

KINDS = ["omni", "wide", "medium", "narrow"]
ANGLES = np.linspace(0.0, np.pi, 181)
FREQUENCIES = np.geomspace(20.0, 20000.0, 61)
FLOOR = 10.0 ** (-25.0 / 20.0)


def test_piston_is_one_ahead_and_null_at_3_832():
    """Beranek, Acoustics, chapter 4: first zero of J1 at 3.8317."""
    assert piston_gain(0.0) == 1.0
    assert piston_gain(1e-4) == pytest.approx(1.0 - 1e-8 / 8.0, abs=1e-13)
    assert abs(piston_gain(3.8317)) < 1e-5
    assert piston_gain(3.83) > 0 > piston_gain(3.84)


def test_omni_radiates_evenly():
    assert directivity_gain("omni", ANGLES, FREQUENCIES) == pytest.approx(1.0, abs=1e-12)
    assert directivity_factor("omni", FREQUENCIES) == pytest.approx(1.0, abs=1e-12)


@pytest.mark.parametrize("kind", KINDS)
def test_every_kind_is_even_when_small_against_the_wavelength(kind):
    """At 1 Hz k a is below 0.005: what is left is its square."""
    assert directivity_gain(kind, ANGLES, [1.0]) == pytest.approx(1.0, abs=1e-4)
    assert directivity_factor(kind, [1.0]) == pytest.approx(1.0, abs=1e-4)


@pytest.mark.parametrize("kind", KINDS)
def test_gain_is_one_on_axis_and_never_below_the_floor(kind):
    gain = directivity_gain(kind, ANGLES, FREQUENCIES)
    assert gain[0] == pytest.approx(1.0, abs=1e-12)
    assert np.all(gain >= 0.99 * FLOOR)
    assert np.all(gain <= 1.0 + 1e-12)


def test_first_null_is_filled_to_the_floor():
    """Narrow piston, radius 35 mm: the null where k a sin(angle) = 3.832."""
    frequency = 10000.0
    argument = 2 * np.pi * frequency / 343.0 * 0.035
    null = np.arcsin(3.8317 / argument)
    gain = directivity_gain("narrow", [0.9 * null, null, 1.1 * null], [frequency])[:, 0]
    assert gain[1] == pytest.approx(FLOOR, rel=2e-3)
    assert gain[0] > gain[1] < gain[2]


def test_factor_of_a_box_without_a_beam():
    """(1 + cos)/2 has Q 3. Wide at 2 kHz: box k b = 3.7, piston k a = 0.48, so near to it."""
    assert directivity_factor("wide", [2000.0])[0] == pytest.approx(3.0, abs=0.15)


def test_factor_of_a_piston():
    """Rigid piston in a baffle: Q = (k a)^2 / (1 - J1(2 k a) / k a), Beranek chapter 4.

    The floor adds an even part. The box, 1 - angle^2 / 4 near the axis, narrows the beam by a
    share that falls as 1 / (k a)^2.
    """
    frequency = np.array([10000.0, 14000.0, 18000.0, 40000.0])
    ka = 2 * np.pi * frequency / 343.0 * 0.035
    beam = (1.0 - j1(2 * ka) / ka) / ka**2
    excess = directivity_factor("narrow", frequency) * (beam + FLOOR**2) / (1.0 + FLOOR**2) - 1.0
    assert np.all(excess > 0)
    assert np.all(excess * ka**2 < 5.0)


def test_classes_are_ordered():
    factors = [directivity_factor(kind, [500.0, 4000.0, 12000.0]) for kind in KINDS]
    assert np.all(np.diff(factors, axis=0) > 0)


def test_factor_agrees_with_a_sum_over_the_sphere():
    """Midpoint rule over 20 000 rings against the quadrature."""
    angle = (np.arange(20000) + 0.5) * np.pi / 20000
    gain = directivity_gain("narrow", angle, [16000.0])[:, 0]
    mean = np.sum(gain**2 * np.sin(angle)) / np.sum(np.sin(angle))
    assert directivity_factor("narrow", [16000.0])[0] == pytest.approx(1.0 / mean, rel=1e-6)
