"""Directions from a four-capsule microphone, against geometry: 1 degree, 10 microseconds."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import signal

from roomwright._errors import InputError
from roomwright.analysis import bearing, capsule_arrivals_s, capsules_m, turn_deg
from roomwright.layout.geometry import direction

SPEED = 343.0
RATE = 48000
MICROPHONE = np.array([2.5, 4.0, 1.2])
SOURCES = np.array([(2.5, 0.2, 1.2), (0.8, 0.4, 1.3), (0.3, 5.5, 1.6), (3.6, 3.0, 2.7)])


def arrivals(source, capsules, yaw_deg=0.0):
    """Times of flight to a microphone turned to the left."""
    angle = np.radians(yaw_deg)
    # Left is -x and ahead is -y: to the left is clockwise in (x, y) seen with y downwards.
    turned = capsules @ np.array(
        [
            [np.cos(angle), -np.sin(angle), 0],
            [np.sin(angle), np.cos(angle), 0],
            [0, 0, 1],
        ]
    )
    return np.linalg.norm(source - (MICROPHONE + turned), axis=1) / SPEED


def test_the_tetrahedron_is_regular():
    capsules = capsules_m(0.1)
    sides = np.linalg.norm(capsules[:, None] - capsules, axis=-1)[~np.eye(4, dtype=bool)]
    # Edge of a regular tetrahedron over its circumradius: sqrt(8 / 3).
    assert sides == pytest.approx(0.1 * np.sqrt(8 / 3))
    assert capsules.mean(axis=0) == pytest.approx(0, abs=1e-12)
    # The first points ahead, to the left and up.
    assert (np.sign(capsules[0]) == (-1, -1, 1)).all()


@pytest.mark.parametrize("radius_m", [0.015, 0.15])
@pytest.mark.parametrize("source", SOURCES)
def test_exact_times_give_the_exact_direction(source, radius_m):
    capsules = capsules_m(radius_m)
    expected = direction(tuple(MICROPHONE), tuple(source))
    found = bearing(arrivals(source, capsules), capsules, speed_m_s=SPEED, timing_s=1e-6)
    # The mean of the four distances is not quite that of the centre: r^2 / 3d.
    assert found.azimuth_deg == pytest.approx(expected.azimuth_deg, abs=0.02)
    assert found.elevation_deg == pytest.approx(expected.elevation_deg, abs=0.02)
    assert found.distance_m == pytest.approx(expected.distance_m, abs=radius_m**2)
    plane = bearing(
        arrivals(source, capsules), capsules, speed_m_s=SPEED, timing_s=1e-6, timed=False
    )
    assert np.isnan(plane.distance_m)
    assert plane.azimuth_deg == pytest.approx(expected.azimuth_deg, abs=2.0)


@pytest.mark.parametrize(("radius_m", "noise_s"), [(0.2, 1e-5), (0.02, 1e-6)])
def test_timing_noise_leaves_a_degree_and_says_so(radius_m, noise_s):
    rng = np.random.default_rng(4)
    capsules = capsules_m(radius_m)
    angles, told = [], []
    for source in SOURCES:
        expected = direction(tuple(MICROPHONE), tuple(source))
        for _ in range(50):
            times = arrivals(source, capsules) + noise_s * rng.standard_normal(4)
            found = bearing(times, capsules, speed_m_s=SPEED, timing_s=noise_s)
            across = np.cos(np.radians(expected.elevation_deg))
            angles.append((found.azimuth_deg - expected.azimuth_deg + 180) % 360 - 180)
            angles[-1] *= across
            angles.append(found.elevation_deg - expected.elevation_deg)
            told.append(found.deviation_deg)
    assert np.std(angles) < 1.0
    # 400 angles know their deviation to 4 %.
    assert np.std(angles) == pytest.approx(np.sqrt(np.mean(np.square(told))), rel=0.12)


@pytest.mark.parametrize("yaw_deg", [-70.0, -12.0, 0.0, 5.5, 170.0])
def test_a_turned_microphone_is_turned_back(yaw_deg):
    capsules = capsules_m(0.02)
    planned = direction(tuple(MICROPHONE), tuple(SOURCES[0])).azimuth_deg
    seen = bearing(
        arrivals(SOURCES[0], capsules, yaw_deg), capsules, speed_m_s=SPEED, timing_s=1e-6
    )
    assert turn_deg([seen.azimuth_deg], [planned]) == pytest.approx(-yaw_deg, abs=0.05)


def test_several_loudspeakers_are_averaged_on_the_circle():
    assert turn_deg([179.0, -30.0], [-179.0, -28.0]) == pytest.approx(-2.0)


@pytest.mark.parametrize("source", SOURCES)
def test_arrivals_at_the_capsules_are_found_in_responses(source):
    """A loudspeaker's band-limited click and a reflection 3 ms later, in some noise."""
    rng = np.random.default_rng(6)
    capsules = capsules_m(0.02)
    true = arrivals(source, capsules)
    n = 4096
    frequencies = np.fft.rfftfreq(n, 1 / RATE)
    shape = np.abs(
        signal.freqz(*signal.butter(2, (200, 16000), "band", fs=RATE), frequencies, fs=RATE)[1]
    )
    image = source * (1, 1, -1)
    late = np.linalg.norm(image - (MICROPHONE + capsules), axis=1) / SPEED
    spectra = shape * (
        np.exp(-2j * np.pi * frequencies * true[:, None])
        + 0.6 * np.exp(-2j * np.pi * frequencies * np.maximum(late, true + 0.003)[:, None])
    )
    responses = np.fft.irfft(spectra, n) + 1e-4 * rng.standard_normal((4, n))
    found = capsule_arrivals_s(responses, RATE)
    # Of one another to half a microsecond, a third of a degree here.
    assert found - found.mean() == pytest.approx(true - true.mean(), abs=5e-7)
    assert found == pytest.approx(true, abs=3e-6)


def test_what_cannot_tell_a_direction_is_refused():
    with pytest.raises(InputError, match="one plane"):
        bearing([0.0] * 4, np.eye(4, 3) * [1, 1, 0], speed_m_s=SPEED, timing_s=1e-6)
    with pytest.raises(InputError, match="four capsules"):
        bearing([0.0] * 3, np.eye(3), speed_m_s=SPEED, timing_s=1e-6)
    responses = np.zeros((4, 2048))
    responses[[0, 2, 3], 300] = 1.0
    with pytest.raises(InputError, match="capsule 2 heard no direct sound"):
        capsule_arrivals_s(responses, RATE)
    with pytest.raises(InputError, match="radius"):
        capsules_m(0.0)
