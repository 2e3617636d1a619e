"""How many emitters where, what they drive across the room, and what is refused."""

from __future__ import annotations

import numpy as np
import pytest
from array_rooms import BETA, SEATS, SIZE, array, box_field, misplaced, on_the_floor

from roomwright._errors import InputError
from roomwright.acoustics import green_walls
from roomwright.analysis import mean_spatial_variance_db2
from roomwright.signals import amplitude_db
from roomwright.tuning.arrays import (
    absorbing_gain,
    control_limit_hz,
    emitters,
    emitters_needed,
    first_surviving_mode,
    launched_field,
    near_field,
    places_on_wall,
    plane_wave,
    proposed_array,
    reachable_wave,
    simple_array,
)

C = 343.0


@pytest.mark.parametrize("count", [1, 2, 3, 5])
def test_evenly_spaced_emitters_cancel_all_but_multiples_of_twice_their_number(count):
    """The sum of cos(n pi (2 i - 1) / 2N) is 0, and N or -N at n = 2N, 4N ..."""
    places = np.array(places_on_wall((4.5, 6.0, 2.7), 1, 0.15, count, 1))[:, 0]
    n = np.arange(1, 6 * count + 1)
    sums = np.abs(np.cos(np.pi * n[:, None] * places / 4.5).sum(axis=1))
    assert sums == pytest.approx(np.where(n % (2 * count) == 0, count, 0.0), abs=1e-12)


@pytest.mark.parametrize(
    ("across", "up", "limit_hz"), [(2, 2, 152.44), (3, 2, 228.67), (3, 1, 127.04)]
)
def test_the_first_mode_that_survives_is_at_c_over_the_spacing(across, up, limit_hz):
    """c / d of the wider spacing, d = 2.25, 1.5 and (height, one emitter) 2.7 m."""
    places = [
        *places_on_wall(SIZE, 1, 0.15, across, up),
        *places_on_wall(SIZE, 1, 5.85, across, up),
    ]
    marks = [True] * (across * up) + [False] * (across * up)
    found = emitters([f"S{k}" for k in range(len(places))], places, marks, SIZE, SEATS)
    mode, cutoff = first_surviving_mode(found)
    assert cutoff == pytest.approx(limit_hz, abs=0.005)
    assert mode in {(2 * across, 0), (0, 2 * up)}
    assert control_limit_hz(found) == pytest.approx(limit_hz, abs=0.005)


@pytest.mark.parametrize("highest_hz", [60.0, 120.0, 152.4, 152.5, 300.0])
def test_the_proposal_reaches_the_frequency_asked_for_with_no_emitter_to_spare(highest_hz):
    found = proposed_array(SIZE, np.full(6, BETA), highest_hz, seats_m=SEATS)
    assert found.plane_up_to_hz is None or found.plane_up_to_hz >= highest_hz
    for side, count in ((SIZE[0], found.across), (SIZE[2], found.up)):
        assert count == 1 or C * (count - 1) / side < highest_hz or found.across == 2
    robust = proposed_array(SIZE, np.full(6, BETA), highest_hz, robust=True)
    assert robust.robust_up_to_hz is None or robust.robust_up_to_hz >= highest_hz


def test_numbers_needed():
    """ceil(W f / c) and ceil(2 W f / c); at exactly c / d no further emitter is asked for."""
    assert emitters_needed(4.5, 120.0, robust=False) == 2
    assert emitters_needed(4.5, 120.0, robust=True) == 4
    assert emitters_needed(4.5, 2 * C / 4.5, robust=False) == 2


def test_gain_of_the_absorbing_ones():
    """exp(-0.5 beta (1/W + 1/W + 1/H + 1/H) L) (1 - beta) / (1 + beta): 0.91 and 0.83."""
    for beta, gain in ((0.0166, 0.91), (0.0332, 0.83)):
        found = absorbing_gain(SIZE, np.full(6, beta), 6.0)
        assert found == pytest.approx(gain, abs=0.005)
    far_soft = absorbing_gain(SIZE, [0, 0, 0, 0.2, 0, 0], 6.0)
    assert far_soft == pytest.approx(0.8)
    assert absorbing_gain(SIZE, [0, 0, 0, 0.2, 0, 0], 6.0, direction=-1) == pytest.approx(1 / 1.2)


@pytest.mark.parametrize("gap_m", [0.0, 0.15, 0.3])
def test_the_delay_is_the_way_from_wall_to_wall_whatever_the_gap(gap_m):
    """An emitter and its image radiate from the wall between them: 2 cos(k gap) exp(-j k x).

    With the way between the boxes instead, the spread is some hundred times as large.
    """
    ideal = array()
    moved = ideal.position_m.copy()
    moved[:, 1] = np.where(ideal.launches, gap_m, 6.0 - gap_m)
    found = emitters(ideal.names, moved, ideal.launches, SIZE, SEATS)
    frequency = np.geomspace(20.0, 120.0, 30)
    field = box_field(moved, SEATS, frequency)
    simple = simple_array(found, absorbing_gain(SIZE, np.full(6, BETA), found.travel_m))
    assert simple.delay_s == pytest.approx(np.where(found.launches, 0.0, 6.0 / C))
    gain = np.abs(simple.gain[4])
    spread = {}
    for way in (6.0, 6.0 - 2 * gap_m):
        drive = np.where(
            found.launches[:, None], 1.0, -gain * np.exp(-2j * np.pi * frequency * way / C)
        )
        level = amplitude_db(np.einsum("sf,spf->pf", drive, field))
        spread[way] = mean_spatial_variance_db2(level)
    assert spread[6.0] < 0.1
    assert gap_m == 0.0 or spread[6.0 - 2 * gap_m] > 50 * spread[6.0]


def test_the_wave_in_the_duct():
    """N M 4 pi / (k W H), 2x2 at 40 Hz: +15.0 dB, times cos(k gap); a quarter period late."""
    frequency = np.array([20.0, 40.0, 80.0])
    found = array()
    field = launched_field(found, SEATS, frequency).sum(axis=0)
    k = 2 * np.pi * frequency / C
    wave = -1j * 4 * 4 * np.pi / (k * 4.5 * 2.7) * plane_wave(found, SEATS, frequency)
    assert amplitude_db(wave[0, 1]) == pytest.approx(15.0, abs=0.1)
    # The mode at 152 Hz dies off as exp(-2.4 x) at 80 Hz: 0.4 % are left after 2.35 m.
    assert np.abs(field / (wave * np.cos(0.15 * k)) - 1).max() < 5e-3


def test_front_and_back_together_make_the_wave_of_the_endless_duct():
    """The closed form of the box with the absorbing emitters on, against the duct without end."""
    frequency = np.array([25.0, 50.0, 80.0])
    found = array()
    # Nearer to the back wall, the near field of the absorbing ones is felt.
    seats = SEATS[SEATS[:, 1] < 4.0]
    simple = simple_array(found, absorbing_gain(SIZE, np.full(6, 1e-3), 6.0))
    field = box_field(found.position_m, seats, frequency, beta=1e-3)
    both = np.einsum("sf,spf->pf", simple.drives(frequency), field)
    alone = launched_field(found, seats, frequency).sum(axis=0)
    assert np.abs(both / alone - 1).max() < 0.02


def test_a_reachable_wave_is_plane_where_the_array_can_and_stays_when_asked_for_again():
    frequency = np.array([40.0, 55.0, 90.0, 120.0])
    points = np.vstack([SEATS, np.add(SEATS, (0, 0, 0.4))])
    for found, limit_hz in ((array(), 152.0), (on_the_floor(), 63.5)):
        wave = plane_wave(found, points, frequency)
        own = launched_field(found, points, frequency)
        reached = reachable_wave(wave, own)
        error = np.sqrt(np.mean(np.abs(reached - wave) ** 2, axis=0))
        assert np.all(error[frequency < 0.7 * limit_hz] < 0.1)
        assert np.all(error[frequency > limit_hz] > 0.2)
        exact = reachable_wave(wave, own, -120.0)
        assert reachable_wave(exact, own, -120.0) == pytest.approx(exact, abs=1e-4)


def test_filters_control_less_where_emitters_are_misplaced_and_little_from_the_floor():
    """Two and two on the floor cannot tell the wave from the vertical mode at c / 2H = 63.5 Hz."""
    assert control_limit_hz(on_the_floor()) == pytest.approx(C / 5.4)
    assert 63.0 < control_limit_hz(misplaced(0.3)) <= 152.45
    assert control_limit_hz(misplaced(0.02)) == pytest.approx(152.44, abs=0.01)


FOUR = [(1.0, 0.2, 0.3), (3.5, 0.2, 0.3), (1.0, 5.8, 0.3), (3.5, 5.8, 0.3)]
TWO_EACH = [True, True, False, False]
IN_FRONT = [(0.5 + k, 0.2, 0.3) for k in range(4)]
ON_THE_RIGHT = [(4.4, 1.0 + k, 0.3) for k in range(4)]


@pytest.mark.parametrize(
    ("places", "marks", "seats", "words"),
    [
        (FOUR[:3], TWO_EACH[:3], [], "mark 1 more"),
        (FOUR, [True] * 4, [], "no subwoofer is marked as absorbing"),
        (FOUR, [False] * 4, [], "no subwoofer is marked as launching"),
        (IN_FRONT, TWO_EACH, [], "all subwoofers of the array stand on the front wall"),
        (ON_THE_RIGHT, TWO_EACH, [], "all subwoofers of the array stand on the right wall"),
        ([FOUR[0], FOUR[3], FOUR[1], FOUR[2]], TWO_EACH, [], "mark those of one wall as launching"),
        (FOUR, TWO_EACH, [(2.0, 5.9, 1.2), (2.0, 3.0, 1.2)], "1 of 2 seats stand behind the abs"),
        (FOUR, TWO_EACH, [(2.0, 0.1, 1.2)], "1 of 1 seats stand behind the launching"),
        ([*FOUR[:3], (np.nan, 5.8, 0.3)], TWO_EACH, [], "not a number"),
        (FOUR, TWO_EACH[:3], [], "as many positions"),
    ],
)  # fmt: skip
def test_refused(places, marks, seats, words):
    names = [f"S{k}" for k in range(len(places))]
    with pytest.raises(InputError, match=words):
        emitters(names, places, marks, SIZE, seats)


def test_a_wave_may_run_either_way_along_either_side():
    back_to_front = emitters(list("abcd"), FOUR, [False, False, True, True], SIZE, SEATS)
    assert (back_to_front.axis, back_to_front.direction) == (1, -1)
    assert back_to_front.along_m([1.0, 5.0, 1.0]) == pytest.approx(1.0)
    sideways = emitters(
        list("abcd"), [(y, x, z) for x, y, z in FOUR], TWO_EACH, (6.0, 4.5, 2.7), []
    )
    assert (sideways.axis, sideways.across) == (0, (1, 2))


@pytest.mark.parametrize("beta", [[0.1] * 5, [0.1] * 5 + [1.2]])
def test_admittances_are_checked(beta):
    with pytest.raises(InputError, match="six numbers"):
        absorbing_gain(SIZE, beta, 6.0)


@pytest.mark.parametrize("frequency_hz", [60.0, 100.0])
@pytest.mark.parametrize("distance_m", [0.5, 1.0, 1.5])
def test_the_near_field_is_what_the_exact_field_has_besides_its_mean_across(
    frequency_hz, distance_m
):
    """The mean over a plane across the wave is the plane wave's share.

    Rigid walls, and a back wall that absorbs the plane wave; three across in a wide room, so that
    no mode across travels. The other group, over 7 m away, adds nothing.
    """
    size = (6.0, 9.0, 2.6)
    front, back = (places_on_wall(size, 1, y, 3, 2) for y in (0.15, 8.85))
    found = emitters(
        [f"S{k}" for k in range(12)], [*front, *back], [True] * 6 + [False] * 6, size, ()
    )
    x, z = ((np.arange(n) + 0.5) * side / n for n, side in ((24, 6.0), (12, 2.6)))
    points = np.array([(a, distance_m, b) for a in x for b in z])
    walls = np.zeros((6, 1))
    walls[3] = 1.0
    exact = green_walls(size, np.array(front), points, np.array([frequency_hz]), walls, C)
    field = exact.sum(axis=0)[:, 0]
    expected = np.abs(field / field.mean() - 1.0)
    # The formula leaves out what has a cut-off above 1 kHz.
    assert near_field(found, points, frequency_hz, C) == pytest.approx(expected, abs=1e-3)
