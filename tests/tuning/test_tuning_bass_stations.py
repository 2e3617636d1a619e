"""Which further stations tell most: closed forms of Gaussian conditioning, and symmetry."""

from __future__ import annotations

from itertools import combinations

import numpy as np
import pytest
from bass_rooms import CinemaRoom, box_field

from roomwright._errors import InputError
from roomwright.tuning.bass_design import (
    diffuse_covariance,
    ensemble_covariance,
    further_stations,
)

FREQUENCY = np.array([30.0, 50.0, 80.0])


def left_of(covariance, at, stations, noise):
    """Conditional variance by the textbook: C_tt - C_ts (C_ss + n)^-1 C_st, summed."""
    noise = noise * np.einsum("fpp->fp", covariance).real.mean()
    total = 0.0
    for own in covariance:
        inner = own[np.ix_(stations, stations)] + noise * np.eye(len(stations))
        cross = own[np.ix_(at, stations)]
        rest = own[np.ix_(at, at)] - cross @ np.linalg.solve(inner, cross.conj().T)
        total += np.trace(rest).real / np.einsum("pp->p", own[np.ix_(at, at)]).real.sum()
    return total / len(covariance)


@pytest.fixture(scope="module")
def covariance():
    rng = np.random.default_rng(3)
    return diffuse_covariance(rng.uniform(0.0, 4.0, (14, 3)), FREQUENCY)


def test_what_is_left_is_that_of_gaussian_conditioning(covariance):
    at, existing, candidates = [0, 1, 2, 3], [4, 5], list(range(6, 14))
    found = further_stations(covariance, at, existing, candidates, 3, noise=0.01)
    for n, share in enumerate(found.left):
        assert share == pytest.approx(
            left_of(covariance, at, [*existing, *found.stations[:n]], 0.01), rel=1e-9
        )


def test_the_first_is_the_best_of_all_and_two_are_nearly_the_best_pair(covariance):
    """Greedy is exact for one; for two, variance reduction here is near submodular."""
    at, candidates = [0, 1, 2, 3], list(range(4, 14))
    found = further_stations(covariance, at, [], candidates, 2, noise=0.01)
    singles = [left_of(covariance, at, [c], 0.01) for c in candidates]
    assert found.stations[0] == candidates[int(np.argmin(singles))]
    pairs = min(left_of(covariance, at, list(p), 0.01) for p in combinations(candidates, 2))
    assert pairs <= found.left[2] + 1e-12
    # Nemhauser, Wolsey and Fisher 1978: 1 - 1/e of the best, where it is submodular.
    assert 1 - found.left[2] >= (1 - np.exp(-1)) * (1 - pairs)


def test_the_gap_in_a_row_is_filled_first():
    """A line of seats measured at its left end; with long waves nothing else is so uncertain."""
    line = np.array([(0.5 * n, 0.0, 1.2) for n in range(7)])
    covariance = diffuse_covariance(line, [40.0])
    right = further_stations(covariance, range(7), [0], [0, 1, 5, 6], 1, noise=1e-3)
    assert right.stations[0] in {5, 6}
    both = further_stations(covariance, range(7), [0, 6], range(7), 1, noise=1e-3)
    assert both.stations == (3,)


def test_a_station_on_the_nodal_plane_of_the_only_unknown_mode_says_nothing():
    """Models that differ in the strength of the mode (1, 0, 0) alone: cos(pi x / L)."""
    x = np.array([0.0, 0.25, 0.5, 0.75])
    mode = np.cos(np.pi * x)
    strength = np.array([1.0, -0.4, 0.7, 1.6])
    fields = 1.0 + (strength[:, None] * mode)[:, None, :, None] * np.ones(1)
    covariance = ensemble_covariance(fields + 0j)
    found = further_stations(covariance, [0], [], [2, 1, 3, 0], 4, noise=1e-6)
    assert found.stations[0] == 0  # the antinode
    assert 2 not in found.stations
    assert found.left[1] < 1e-5


def test_stations_that_repeat_an_existing_one_come_last():
    points = np.vstack([CinemaRoom.seats, CinemaRoom.seats[:1]])
    fields = np.stack(
        [
            box_field(CinemaRoom.size, CinemaRoom.corners, points, FREQUENCY, beta, c)
            for beta in (0.012, 0.0166, 0.024)
            for c in (341.0, 343.0, 345.0)
        ]
    )
    covariance = ensemble_covariance(fields)
    seats = len(CinemaRoom.seats)
    found = further_stations(covariance, range(seats), [0], range(seats + 1), 3)
    assert not {0, seats} & set(found.stations)
    assert np.all(np.diff(found.left) < 0)
    assert found.left[0] < 1.0


@pytest.mark.parametrize(
    ("change", "message"),
    [
        ({"matter": []}, "no point is named"),
        ({"existing": [99]}, "existing stations must be numbers of points, 0 to 13"),
        ({"noise": 0.0}, "noise of a measurement"),
        ({"covariance": np.ones((2, 3, 4))}, "must be \\(frequencies, points, points\\)"),
    ],
)
def test_what_cannot_be_asked(covariance, change, message):
    arguments = {
        "covariance": covariance,
        "matter": [0],
        "existing": [1],
        "candidates": [2],
        "count": 1,
        **change,
    }
    with pytest.raises(InputError, match=message):
        further_stations(**arguments)


def test_one_model_tells_no_covariance():
    with pytest.raises(InputError, match="two models or more"):
        ensemble_covariance(np.ones((1, 2, 3, 4), complex))
    with pytest.raises(InputError, match="no source is heard"):
        ensemble_covariance(np.zeros((2, 2, 3, 4), complex))
