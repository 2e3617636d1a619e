from __future__ import annotations

import numpy as np
import pytest

from roomwright._errors import InputError
from roomwright.acoustics import (
    arau_s,
    attenuation_db_per_m,
    critical_distance_m,
    eyring_s,
    fitzroy_s,
    millington_s,
    room_reverberation_s,
    sabine_s,
    speed_of_sound_m_s,
    steady_level_db,
)
from roomwright.model import Room, Surface

FOOT = 0.3048


def speed_for(constant):
    """The speed of sound at which 24 ln 10 / c is the constant a source used."""
    return 24.0 * np.log(10.0) / constant


def test_sabine_constant():
    """24 ln 10 / c is 0.1611 s/m at 343 m/s, and 0.049 s/ft."""
    metric = sabine_s([1.0], [[1.0]], 1.0)[0]
    assert metric == pytest.approx(0.1611, abs=5.1e-5)
    assert metric * FOOT == pytest.approx(0.049, abs=5.1e-4)


def test_untreated_room_of_the_handbook():
    """Everest, Master Handbook of Acoustics: 23.3 x 16 x 10 ft, T = 0.049 V / A, in feet."""
    areas = [373.0, 1159.0]
    absorption = [
        [0.01, 0.01, 0.015, 0.02, 0.02, 0.02],
        [0.29, 0.10, 0.05, 0.04, 0.07, 0.09],
    ]
    expected = [0.54, 1.53, 2.87, 3.39, 2.06, 1.63]
    time = sabine_s(areas, absorption, 3728.0, c=speed_for(0.049))
    assert time == pytest.approx(expected, abs=0.0085)  # the handbook rounds the sabins first


def test_uniform_absorption():
    """8 x 5 x 3 m, 0.2 everywhere: Sabine 0.611 to 0.612 s, Eyring = Millington = 0.548 s."""
    areas, absorption, volume = [30.0, 48.0, 80.0], [[0.2]] * 3, 120.0
    assert 0.6105 < sabine_s(areas, absorption, volume)[0] < 0.6125
    assert eyring_s(areas, absorption, volume)[0] == pytest.approx(0.548, abs=5.1e-4)
    assert millington_s(areas, absorption, volume) == pytest.approx(
        eyring_s(areas, absorption, volume), rel=1e-12
    )
    # With one absorption for all, the two models for boxes are Eyring's too.
    for model in (fitzroy_s, arau_s):
        assert model(areas, absorption, volume) == pytest.approx(
            eyring_s(areas, absorption, volume), rel=1e-12
        )


def test_uneven_absorption():
    """8 x 5 x 3 m, pairs across x 0.5, y 0.1, z 0.1: Fitzroy 0.974 s, Arau 0.812 s."""
    areas, absorption = [30.0, 48.0, 80.0], [[0.5], [0.1], [0.1]]
    assert fitzroy_s(areas, absorption, 120.0)[0] == pytest.approx(0.974, abs=5.1e-4)
    assert arau_s(areas, absorption, 120.0)[0] == pytest.approx(0.812, abs=5.1e-4)


def test_room_with_an_absorbing_ceiling():
    """10 x 7 x 3.5 m of a published comparison of models, two decimals, c = 343 m/s.

    Its absorption across x rises from .06 to .10 and across y from .12 to .20 over the bands;
    only the end bands are given in full, the others must lie between the two extremes.
    """
    areas, volume = [49.0, 70.0, 140.0], 245.0
    across_z = np.array([0.30, 0.50, 0.65, 0.78, 0.82, 0.80])
    expected = {
        sabine_s: [0.74, 0.47, 0.37, 0.31, 0.30, 0.30],
        arau_s: [0.79, 0.51, 0.38, 0.29, 0.26, 0.27],
        fitzroy_s: [1.02, 0.79, 0.66, 0.57, 0.51, 0.51],
    }
    least, most = (
        np.array([np.full(6, x), np.full(6, y), across_z]) for x, y in ((0.06, 0.12), (0.10, 0.20))
    )
    for model, times in expected.items():
        longest = model(areas, least, volume)
        shortest = model(areas, most, volume)
        assert longest[0] == pytest.approx(times[0], abs=0.0051)
        assert shortest[-1] == pytest.approx(times[-1], abs=0.0051)
        assert np.all(np.array(times) < longest + 0.0051)
        assert np.all(np.array(times) > shortest - 0.0051)


CINEMA_AREAS = [24.0, 24.0, 32.4, 21.6]
CINEMA_ABSORPTION = [[0.30], [0.10], [0.15], [0.40]]


def test_room_of_cinema_size():
    """6 x 4 x 2.7 m with floor .30, ceiling .10, sides .15, ends .40, constant 0.161."""
    for model, expected in ((sabine_s, 0.4516), (eyring_s, 0.3983), (millington_s, 0.3809)):
        time = model(CINEMA_AREAS, CINEMA_ABSORPTION, 64.8, c=speed_for(0.161))
        assert time[0] == pytest.approx(expected, abs=5.1e-5)


def test_steady_level():
    """Same room, LW 90 dB, Q 1: 83.29, 81.87, 81.43 dB at 1, 2, 4 m."""
    level = steady_level_db(90.0, [1.0, 2.0, 4.0], CINEMA_AREAS, CINEMA_ABSORPTION)
    assert level == pytest.approx([83.29, 81.87, 81.43], abs=0.0051)


def test_critical_distance():
    """0.057 sqrt(Q V / T), V 64.8 m3, T 0.3 s: 0.838 m for Q 1, 1.873 m for Q 5."""
    assert critical_distance_m(64.8, 0.3, [1.0, 5.0]) == pytest.approx([0.838, 1.873], abs=5.1e-4)


def test_direct_and_diffuse_sound_are_equal_at_the_critical_distance():
    """For small absorption; 0.057 is 0.0567 with c = 343 m/s, hence 0.1 dB."""
    areas, absorption, volume = [1000.0], [[0.001]], 2000.0
    time = sabine_s(areas, absorption, volume)
    distance = critical_distance_m(volume, time)
    far = steady_level_db(90.0, 1e6, areas, absorption)
    assert steady_level_db(90.0, distance, areas, absorption) - far == pytest.approx(3.01, abs=0.1)


def test_models_agree_when_little_is_absorbed():
    """ln(1 - alpha) = -alpha - alpha^2 / 2: below 0.1 % at alpha 0.002."""
    areas, absorption = [30.0, 48.0, 80.0], [[0.001], [0.002], [0.0015]]
    sabine = sabine_s(areas, absorption, 120.0)
    for model in (eyring_s, millington_s):
        assert model(areas, absorption, 120.0) == pytest.approx(sabine, rel=1.1e-3)


def test_air_alone_ends_a_decay():
    """Rigid walls: T = 6 ln 10 / (m c), whatever the volume."""
    time = eyring_s([100.0], [[0.0]], 50.0, 0.01)
    assert time[0] == pytest.approx(6.0 * np.log(10.0) / (0.01 * 343.0), rel=1e-12)
    assert np.isinf(sabine_s([100.0], [[0.0]], 50.0)[0])


def test_room_uses_its_surfaces_and_its_air():
    surface = Surface(material="test", absorption=(0.1, 0.2, 0.2, 0.2, 0.2, 0.2, 0.2, 0.3))
    room = Room(
        outline_m=((0, 0), (6, 0), (6, 4), (0, 4)),
        height_m=2.7,
        floor=surface,
        ceiling=surface,
        walls=(surface,) * 4,
    )
    frequency = np.array([31.5, 63.0, 1000.0, 16000.0])
    attenuation = attenuation_db_per_m(frequency, room.temperature_c, room.humidity_percent)
    expected = eyring_s(
        [102.0],
        [[0.1, 0.1, 0.2, 0.3]],
        64.8,
        attenuation * np.log(10.0) / 10.0,
        speed_of_sound_m_s(room.temperature_c),
    )
    assert room_reverberation_s(room, frequency) == pytest.approx(expected, rel=1e-12)


def test_bad_surfaces_are_refused():
    with pytest.raises(InputError, match="shape"):
        sabine_s([1.0, 2.0], [[0.1]], 10.0)
    with pytest.raises(InputError, match="0 to 1"):
        eyring_s([1.0], [[1.1]], 10.0)
    with pytest.raises(InputError, match="volume"):
        millington_s([1.0], [[0.1]], 0.0)
    with pytest.raises(InputError, match="three"):
        arau_s([1.0], [[0.1]], 10.0)
    with pytest.raises(InputError, match="areas"):
        sabine_s([0.0], [[0.1]], 10.0)
    with pytest.raises(InputError, match="air_power_m"):
        sabine_s([1.0], [[0.1]], 10.0, -0.1)
