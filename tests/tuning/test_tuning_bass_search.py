"""Figures of every set of sources, against one set at a time."""

from __future__ import annotations

from itertools import combinations

import numpy as np
import pytest

from roomwright._errors import InputError
from roomwright._progress import silent
from roomwright.tuning.bass_design import (
    all_sets,
    best_gain_costs,
    least_cost_bound,
    ridge,
    unity_spreads,
)
from roomwright.tuning.bass_design.exchange import exchanged
from roomwright.tuning.bass_design.screening import REGULARISATION, every_set, some_sets


def noise(sources, points, bins, seed=0):
    rng = np.random.default_rng(seed)
    shape = (sources, points, bins)
    return rng.normal(size=shape) + 1j * rng.normal(size=shape)


def one_cost(response, target, mu, chosen):
    """Ridge regression of one set by the textbook, with an augmented least-squares problem."""
    cost = []
    for f, ridge_here in enumerate(mu):
        matrix = np.vstack([response[chosen, :, f].T, np.sqrt(ridge_here) * np.eye(len(chosen))])
        aim = np.concatenate([target[:, f], np.zeros(len(chosen))])
        gains = np.linalg.lstsq(matrix, aim, rcond=None)[0]
        silence = np.sum(np.abs(target[:, f]) ** 2)
        cost.append(np.sum(np.abs(matrix @ gains - aim) ** 2) / silence)
    return np.mean(cost)


@pytest.mark.parametrize(("sources", "count"), [(5, 1), (6, 2), (7, 3), (9, 4), (8, 5), (4, 4)])
def test_all_sets_are_all_combinations_in_their_order(sources, count):
    assert all_sets(sources, count).tolist() == [
        list(chosen) for chosen in combinations(range(sources), count)
    ]


@pytest.mark.parametrize("count", [1, 2, 3, 4, 5])
def test_costs_of_sets_are_those_of_ridge_regression(count):
    """500 random sets, identical to rounding: the elimination is exact."""
    response, target = noise(16, 9, 5), noise(1, 9, 5, 1)[0]
    mu = ridge(response, 1e-2)
    costs = best_gain_costs(response, target, mu, count, np.float64)
    sets = all_sets(16, count)
    rng = np.random.default_rng(2)
    for place in rng.choice(len(sets), min(100, len(sets)), replace=False):
        assert costs[place] == pytest.approx(one_cost(response, target, mu, sets[place]), abs=1e-10)


def test_single_precision_ranks_sets_alike():
    """Six digits less the condition of the ridge (1 / 0.01)."""
    response, target = noise(14, 9, 8), np.ones((9, 8), complex)
    mu = ridge(response, 1e-2)
    exact = best_gain_costs(response, target, mu, 4, np.float64)
    assert best_gain_costs(response, target, mu, 4) == pytest.approx(exact, abs=1e-5)


@pytest.mark.parametrize("count", [1, 2, 3, 4, 5])
def test_spread_and_level_of_sets_at_unity_gain(count):
    """Single precision in the logarithm's argument: 1e-4."""
    response = 30.0 * noise(9, 6, 11)
    spread, level = unity_spreads(response, count)
    decibels = 20 * np.log10(np.abs(response[all_sets(9, count)].sum(axis=1)))
    assert spread == pytest.approx(decibels.var(axis=1).mean(axis=1), abs=1e-3)
    assert level == pytest.approx(decibels.mean(axis=(1, 2)), abs=1e-3)


@pytest.mark.parametrize("count", [2, 4])
def test_no_set_beats_the_bound_and_all_sources_together_meet_it(count):
    response, target = noise(10, 8, 6), np.ones((8, 6), complex)
    mu = ridge(response, 0.1)
    least = best_gain_costs(response, target, mu, count, np.float64).min()
    bound = least_cost_bound(response, target, mu, count)
    assert 0.3 * least < bound <= least
    every = best_gain_costs(response, target, mu, 10, np.float64)[0]
    assert least_cost_bound(response, target, mu, 10) == pytest.approx(every, abs=1e-9)


def test_exchange_finds_what_looking_at_all_sets_finds():
    response, target = noise(14, 8, 6), np.ones((8, 6), complex)
    found = exchanged(response, target, 3, silent)
    every = every_set(response, target, 3)
    best = all_sets(14, 3)[np.argmin(every)]
    assert found.sets[np.argmin(found.figure)].tolist() == best.tolist()
    assert found.figure.min() == pytest.approx(every.min(), abs=1e-4)
    assert len(found.sets) < len(every)
    assert found.gap is not None
    assert found.gap >= 0


def test_the_figure_of_some_sets_is_that_of_all():
    response, target = noise(8, 7, 5), noise(1, 7, 5, 3)[0]
    figure, _ = some_sets(response, target, all_sets(8, 3), ridge(response, REGULARISATION))
    assert figure == pytest.approx(every_set(response, target, 3), abs=1e-4)


def test_more_sources_than_there_are_cannot_be_chosen():
    response, target = noise(3, 4, 2), np.ones((4, 2), complex)
    with pytest.raises(InputError, match="4 of 3"):
        best_gain_costs(response, target, ridge(response, 0.1), 4)
    with pytest.raises(InputError, match="0 of 3"):
        unity_spreads(response, 0)
    with pytest.raises(InputError, match="ridge"):
        best_gain_costs(response, target, np.zeros(2), 2)
