"""Places from arrival times, against geometry: 1 cm with 10 microseconds of timing noise."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from roomwright._errors import InputError
from roomwright.analysis import locate

SPEED = 343.0
#: Three rows of seats, and two heights at some of them, as a bass grid has.
STATIONS = np.array(
    [(x, y, z) for x in (1.2, 2.4, 3.6) for y in (3.0, 4.2, 5.4) for z in (1.1, 1.6)]
)
LOUDSPEAKERS = np.array([(0.9, 0.2, 1.2), (4.6, 3.1, 1.4), (1.1, 2.5, 2.6), (3.9, 6.4, 1.5)])


def arrivals(source, stations, rng=None, noise_s=0.0, offset_s=0.0):
    times = np.linalg.norm(np.asarray(source) - stations, axis=1) / SPEED + offset_s
    return times if rng is None else times + noise_s * rng.standard_normal(times.size)


@settings(max_examples=30)
@given(st.tuples(st.floats(0.3, 4.7), st.floats(0.1, 6.5), st.floats(0.1, 2.7)))
def test_exact_times_give_the_exact_place(source):
    near = np.array(source) + np.array([0.3, -0.2, 0.2])
    found = locate(STATIONS, arrivals(source, STATIONS), near, speed_m_s=SPEED)
    assert found.position_m == pytest.approx(source, abs=1e-6)
    assert found.residual_s < 1e-9
    assert found.mirrored_m is None
    assert found.offset_s is None


def test_ten_microseconds_leave_a_centimetre():
    rng = np.random.default_rng(0)
    errors, told = [], []
    for source in LOUDSPEAKERS:
        for _ in range(60):
            times = arrivals(source, STATIONS, rng, 1e-5)
            found = locate(STATIONS, times, source + 0.2, speed_m_s=SPEED)
            errors.append(found.position_m - source)
            told.append(found.deviation_m)
    errors, told = np.array(errors), np.array(told)
    assert np.sqrt(np.mean(np.sum(errors**2, axis=1))) < 0.01
    # 240 draws know a standard deviation to 5 %; the estimate from the residual is kept from
    # falling below the timing noise, so it leans up by a few per cent.
    ratio = np.sqrt(np.mean(errors**2, axis=0)) / np.sqrt(np.mean(told**2, axis=0))
    assert ratio == pytest.approx(np.ones(3), abs=0.2)


def test_an_unknown_latency_is_found_along_with_the_place():
    rng = np.random.default_rng(1)
    errors = []
    for source in LOUDSPEAKERS:
        times = arrivals(source, STATIONS, rng, 1e-5, offset_s=0.0237)
        found = locate(STATIONS, times, source + 0.2, speed_m_s=SPEED, timed=False)
        assert found.offset_s == pytest.approx(0.0237, abs=5e-5)
        errors.append(np.abs(found.position_m - source) / found.deviation_m)
    # Differences tell less than times do; what is told of the error must hold.
    assert np.max(errors) < 4


def test_stations_of_one_height_leave_two_places():
    flat = STATIONS[STATIONS[:, 2] == 1.1]
    source = np.array([1.0, 0.3, 1.9])
    found = locate(flat, arrivals(source, flat), (1.2, 0.3, 1.6), speed_m_s=SPEED)
    assert found.position_m == pytest.approx(source, abs=1e-6)
    assert found.mirrored_m == pytest.approx((1.0, 0.3, 0.3), abs=1e-6)
    below = locate(flat, arrivals(source, flat), (1.2, 0.3, 0.5), speed_m_s=SPEED)
    assert below.position_m == pytest.approx((1.0, 0.3, 0.3), abs=1e-6)


def test_height_near_the_plane_of_the_stations_is_said_to_be_unknown():
    flat = STATIONS[STATIONS[:, 2] == 1.1]
    source = np.array([1.0, 0.3, 1.1])
    found = locate(flat, arrivals(source, flat), source + 0.01, speed_m_s=SPEED)
    assert found.deviation_m[2] > 0.2
    assert (found.deviation_m[:2] < 0.01).all()


def test_a_late_reflection_taken_for_the_direct_sound_shows_in_the_residual():
    times = arrivals(LOUDSPEAKERS[0], STATIONS)
    times[3] += 0.004
    found = locate(STATIONS, times, LOUDSPEAKERS[0], speed_m_s=SPEED)
    assert found.residual_s > 5e-4
    assert (found.deviation_m > 0.05).any()


def test_stations_without_an_arrival_are_left_out():
    times = arrivals(LOUDSPEAKERS[1], STATIONS)
    times[::4] = np.nan
    found = locate(STATIONS, times, LOUDSPEAKERS[1] + 0.1, speed_m_s=SPEED)
    assert found.position_m == pytest.approx(LOUDSPEAKERS[1], abs=1e-6)


def test_too_few_and_collinear_stations_are_refused():
    times = arrivals(LOUDSPEAKERS[0], STATIONS)
    with pytest.raises(InputError, match="3 stations or more; there are 2"):
        locate(STATIONS[:2], times[:2], (0, 0, 1), speed_m_s=SPEED)
    with pytest.raises(InputError, match="4 stations or more; there are 3"):
        locate(STATIONS[:3], times[:3], (0, 0, 1), speed_m_s=SPEED, timed=False)
    line = np.array([(1.0, y, 1.2) for y in (3.0, 4.0, 5.0, 6.0)])
    with pytest.raises(InputError, match="one line"):
        locate(line, arrivals(LOUDSPEAKERS[0], line), (0, 0, 1), speed_m_s=SPEED)
