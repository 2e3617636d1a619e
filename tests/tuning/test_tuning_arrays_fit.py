"""Least squares at the stations, judged where it was not fitted: what it repairs and what not.

Pressure matching with 8 or 4 emitters, by bin and without time terms, in the box with beta =
0.0166; the figures are recomputed and asserted by their order. Control at heights that differ from
the seats' tells how far a fit carries.
"""

from __future__ import annotations

import numpy as np
import pytest
from array_rooms import RATE, SEATS, SIZE, array, box_field, misplaced, on_the_floor, stations

from roomwright.analysis import mean_spatial_variance_db2
from roomwright.signals import amplitude_db
from roomwright.tuning.arrays import (
    ControlBand,
    FilterProblem,
    Grid,
    Uncertainty,
    emitters,
    filters_by_bin,
    plane_wave,
    simple_array,
)

C = 343.0
CERTAIN = Uncertainty(0.0, 0.0, 0.0)
#: Bins of 2 Hz up to the end of the band: by bin, nothing else matters of a grid.
GRID = Grid(rate_hz=float(RATE) / 2, factor=2, taps=50, period=300, bins=60)
BAND = ControlBand(20.0, 120.0)
INSIDE = BAND.inside(GRID.frequencies_hz)
#: An octave is worth the same wherever it is.
AT = np.unique(np.searchsorted(GRID.frequencies_hz, np.geomspace(20.0, 119.9, 40)))


def fitted(found, heights, effort_db: float = -25.0) -> np.ndarray:
    points = stations(*heights)
    frequency = GRID.frequencies_hz
    problem = FilterProblem(
        grid=GRID,
        band=BAND,
        field=box_field(found.position_m, points, frequency),
        wanted=5.0 * plane_wave(found, points, frequency),
        travel_s=points[:, 1] / C,
        delay_s=0.0,
        weights=np.ones(len(points)),
        limit=np.full((GRID.bins, len(found.names)), 1e9),
    )
    return filters_by_bin(problem, CERTAIN, effort_db)


def judged(found, drive, height: float = 1.2, c: float = C) -> tuple[float, np.ndarray]:
    """Spatial variance at the seats, and error re the wave at 20-40, 40-80, 80-120 Hz, dB."""
    seats = np.add(SEATS, (0.0, 0.0, height - 1.2))
    frequency = GRID.frequencies_hz
    result = np.einsum("bs,spb->pb", drive, box_field(found.position_m, seats, frequency, c=c))
    missed = np.abs(result - 5.0 * plane_wave(found, seats, frequency, c)) ** 2
    edges = ((20, 40), (40, 80), (80, 120))
    errors = [missed[:, (frequency >= a) & (frequency < b)].mean() / 25.0 for a, b in edges]
    variance = mean_spatial_variance_db2(amplitude_db(result[:, AT]))
    return float(variance), 10 * np.log10(errors)


def test_ideal_places_need_no_repair():
    variance, error = judged(array(), fitted(array(), (1.2,)))
    assert variance < 0.1
    assert np.all(error < (-30.0, -25.0, -20.0))


def test_misplaced_emitters_are_repaired():
    """Of the simple array's variance little is left, at the height of control least."""
    found = misplaced(0.3)
    simple = simple_array(found, 0.91).drives(GRID.frequencies_hz).T
    before, _ = judged(found, simple)
    variance, error = judged(found, fitted(found, (1.2,)))
    assert variance < 0.2 * before
    assert error.max() < -10.0
    between, _ = judged(found, fitted(found, (0.9, 1.5)))
    assert between < 0.4 * before


def test_from_the_floor_the_vertical_mode_cannot_be_told_from_the_wave():
    """c / 2H = 63.5 Hz: below, the wave is matched; above, the error stays."""
    found = on_the_floor()
    variance, error = judged(found, fitted(found, (0.9, 1.2, 1.5)))
    assert error[0] < -20.0
    assert error[2] > -12.0
    assert variance > 1.0
    worst_ideal, _ = judged(array(), fitted(array(), (0.9, 1.2, 1.5)))
    assert variance > 10 * worst_ideal


def test_corners_on_the_floor_are_no_array():
    """They drive (1, 0) across as well as the wave: from 38 Hz on worse than two at the quarters.

    Our table has errors of -26 and -3 dB below 40 and above 80 Hz and 8.9 dB2, against 1.5 dB2;
    here to 2 dB and 30 %. In between, where one mode at 63 Hz holds most of the error, the table's
    -11 dB lies between the mean of power (-7 dB) and that of decibels (-12 dB), so only the order
    is asserted.
    """
    places = [(x, y, 0.3) for y in (0.15, 5.85) for x in (0.15, 4.35)]
    corners = emitters(["F1", "F2", "B1", "B2"], places, [True, True, False, False], SIZE, SEATS)
    variance, error = judged(corners, fitted(corners, (1.2,)))
    assert error[[0, 2]] == pytest.approx([-26.0, -3.0], abs=2.0)
    assert variance == pytest.approx(8.9, rel=0.3)
    quarters, less = judged(on_the_floor(), fitted(on_the_floor(), (1.2,)))
    assert quarters < 0.4 * variance
    assert np.all(less < error - 3.0)


@pytest.mark.parametrize("found", [on_the_floor(), misplaced(0.3)], ids=["floor", "misplaced"])
def test_one_height_is_overfitted_and_three_carry_further(found):
    worst = {
        heights: max(judged(found, fitted(found, heights), z)[0] for z in (0.9, 1.2, 1.5))
        for heights in ((1.2,), (0.9, 1.2, 1.5))
    }
    assert worst[0.9, 1.2, 1.5] < 0.9 * worst[1.2,]
    at_own_height = judged(found, fitted(found, (1.2,)))[0]
    assert worst[1.2,] > 2 * at_own_height


def test_five_kelvin_undo_much_of_the_fit():
    """c from 343 to 346: phases over 6 m turn by 3 degrees at 20 Hz and 19 at 120 Hz."""
    found = array()
    drive = fitted(found, (1.2,))
    cold, warm = judged(found, drive), judged(found, drive, c=346.0)
    assert np.all(warm[1] - cold[1] > 8.0)
    assert warm[0] > 3 * cold[0]


def test_regularisation_has_a_plateau():
    """15 dB less effort change little from -25 dB on, 20 dB more a lot."""
    found = misplaced(0.3)
    error = [
        judged(found, fitted(found, (0.9, 1.2, 1.5), db))[1][:2].mean()
        for db in (-40.0, -25.0, -5.0)
    ]
    assert error[2] - error[1] > 2.5 * abs(error[1] - error[0])
    assert error[2] > error[1] + 8.0
