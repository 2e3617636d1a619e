"""The wave's front between walls that absorb unlike, and arrays that follow it."""

from __future__ import annotations

import numpy as np
import pytest
from array_rooms import RATE, SEATS, SIZE, array, as_responses, misplaced

from roomwright._errors import InputError
from roomwright.acoustics import green_walls
from roomwright.analysis import mean_spatial_variance_db2
from roomwright.signals import amplitude_db, midbands
from roomwright.tuning.arrays import (
    Emitters,
    absorbing_gain,
    band_decay,
    control_limit_hz,
    emitters,
    front_delays_s,
    places_on_wall,
    simple_array,
)

C = 343.0
#: One side wall absorbs six times as much as the other; the rest is hard.
UNLIKE = np.array([0.05, 0.008, 0.012, 0.012, 0.01, 0.01])


def exact_wave(place_m, near: float, far: float, width_m: float, frequency_hz: float):
    """The plane wave's shape across, cos(q x) + a sin(q x), with q from Newton's steps."""
    k = 2 * np.pi * frequency_hz / C

    def shape(q, x):
        return np.cos(q * x) + 1j * k * near / q * np.sin(q * x)

    def wall(q):
        slope = -q * np.sin(q * width_m) + 1j * k * near * np.cos(q * width_m)
        return slope + 1j * k * far * shape(q, width_m)

    q = np.sqrt(1j * k * (near + far) / width_m)
    for _ in range(30):
        q = q - wall(q) * 2e-6 / (wall(q + 1e-6) - wall(q - 1e-6))
    assert abs(wall(q)) < 1e-9
    return shape(q, np.asarray(place_m))


@pytest.mark.parametrize("frequency_hz", [25.0, 50.0, 100.0])
def test_the_front_leans_as_the_exact_wave_does(frequency_hz):
    """Second order in k W b of 0.1 at 25 Hz and 0.4 at 100 Hz: within 10 %."""
    found = array()
    late = front_delays_s(found, UNLIKE)
    wave = exact_wave(found.position_m[:, 0], 0.05, 0.008, SIZE[0], frequency_hz)
    exact = -np.angle(wave / wave[late.argmin()]) / (2 * np.pi * frequency_hz)
    lean = late.max()
    assert lean == pytest.approx(SIZE[0] * (0.05 - 0.008) / (4 * C))
    assert late == pytest.approx(exact, abs=0.1 * lean)
    # As loud everywhere, to the second order again.
    assert np.abs(wave / wave[0]) == pytest.approx(1.0, abs=0.03)


def heard(found: Emitters, walls: np.ndarray, front_s) -> tuple[float, np.ndarray]:
    """Spread in dB2 and decay of each third octave re what can be read, 25 to 100 Hz."""
    grid = np.arange(1, 401) / 1.6
    every = np.repeat(walls[:, None], grid.size, axis=1)
    field = 4 * np.pi * green_walls(SIZE, found.position_m, SEATS[::2], grid, every)
    simple = simple_array(found, absorbing_gain(SIZE, walls, 6.0), C, front_s)
    result = np.einsum("sf,spf->pf", simple.drives(grid), field)
    inside = (grid >= 25.0) & (grid <= 100.0)
    read = band_decay(as_responses(result, 1.6, 1.2), RATE, midbands(3, 25.0, 100.0))
    spread = mean_spatial_variance_db2(amplitude_db(result[:, inside]))
    return float(spread), np.median(read.time_s, axis=0) / read.limit_s


def test_emitters_that_follow_the_front_leave_no_mode_across_to_ring():
    """In step they drive the first mode across, which then decays by itself; leaning they do not.

    The aims: less than 0.2 dB2, and as fast as can be read (to 15 %). That holds below the second
    mode across, c / W = 76 Hz, which both side walls together drive whatever the delays: the band
    of 80 Hz touches it, and that of 100 Hz needs filters.
    """
    found = array()
    in_step, leaning = (
        heard(found, UNLIKE, front_s) for front_s in (0.0, front_delays_s(found, UNLIKE))
    )
    assert in_step[0] > 0.3
    assert leaning[0] < 0.2
    assert in_step[1][:6].max() > 3.0
    assert leaning[1][:6].max() < 1.15


def test_walls_alike_need_no_lean_and_more_emitters_follow_a_curve():
    """Alike, those nearer to a wall are later by the same: two at the quarter points not at all."""
    assert front_delays_s(array(), np.full(6, 0.02)) == pytest.approx(0.0, abs=1e-12)
    places = [*places_on_wall(SIZE, 1, 0.15, 3, 1), *places_on_wall(SIZE, 1, 5.85, 3, 1)]
    three = emitters([f"S{n}" for n in range(6)], places, [True] * 3 + [False] * 3, SIZE, [])
    late = front_delays_s(three, np.full(6, 0.02))
    # 0.02 (x - x^2 / W) at W/2 less that at W/6.
    ahead_m = 0.02 * 4.5 * ((1 / 2 - 1 / 4) - (1 / 6 - 1 / 36))
    assert late == pytest.approx(np.array([1, 0, 1, 1, 0, 1]) * ahead_m / C)


def test_both_groups_lean_alike_and_none_is_early():
    found = misplaced(0.3)
    late = front_delays_s(found, UNLIKE)
    simple = simple_array(found, 0.9, C, late)
    assert late.min() == 0.0
    assert simple.delay_s == pytest.approx(simple_array(found, 0.9).delay_s + late)


def test_drives_that_are_good_enough_make_the_band():
    """Four up to 0.3 m off, by turns: shared evenly they leave 0.33 of (2, 0) at 76 Hz.

    Four times the power of equal drives cancels it to less than 0.3, so the band goes on to (4, 0).
    """
    ideal = array()
    moved = ideal.position_m.copy()
    moved[:4, 0] += (0.3, -0.3, 0.3, -0.2)
    near = emitters(ideal.names, moved, ideal.launches, SIZE, SEATS)
    assert control_limit_hz(near) == pytest.approx(C * 2 / 4.5, abs=0.1)


@pytest.mark.parametrize("walls", [np.full(5, 0.02), np.full(6, -0.1), np.full(6, np.nan)])
def test_walls_are_checked(walls):
    with pytest.raises(InputError, match=r"six numbers|not a number"):
        front_delays_s(array(), walls)
