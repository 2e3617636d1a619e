"""The solvers of array filters against dense algebra and a general convex solver."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from array_rooms import BETA, RATE, array, box_responses, on_the_floor
from scipy import fft

from roomwright._errors import InputError
from roomwright.tuning.arrays import (
    ControlBand,
    Drivers,
    Emitters,
    FilterProblem,
    Grid,
    TimeTerms,
    Uncertainty,
    at_output_rate,
    band_shape,
    design_grid,
    evidence,
    filters_by_bin,
    filters_in_time,
    plane_wave,
    response_spectra,
)
from roomwright.tuning.arrays.by_bin import solved, solved_within, with_effort
from roomwright.tuning.arrays.filters import expected_normal, least_effort
from roomwright.tuning.arrays.in_time import TimeTask, solved_in_time, solved_in_time_within
from roomwright.tuning.arrays.robustness import Normal, at_other_speed, normal_equations
from roomwright.tuning.arrays.time_terms import time_weights

CERTAIN = Uncertainty(0.0, 0.0, 0.0)
RNG_SEED = 11
POINTS = np.array([(x, y, z) for x in (1.3, 3.0) for y in (2.6, 3.9) for z in (1.0, 1.4)])


def random_complex(rng, *shape) -> np.ndarray:
    return rng.standard_normal(shape) + 1j * rng.standard_normal(shape)


def random_normal(bins: int, emitters: int, points: int) -> tuple[Normal, np.ndarray, np.ndarray]:
    rng = np.random.default_rng(RNG_SEED)
    field, wanted = random_complex(rng, bins, points, emitters), random_complex(rng, bins, points)
    adjoint = field.conj().swapaxes(1, 2)
    return Normal(adjoint @ field, (adjoint @ wanted[..., None])[..., 0]), field, wanted


def small_task(*, grid: Grid | None = None, emitters: int = 3, points: int = 4) -> TimeTask:
    """A few filters of a few taps, with every term."""
    rng = np.random.default_rng(RNG_SEED)
    grid = grid or Grid(rate_hz=400.0, factor=3, taps=12, period=40, bins=14)
    bins = grid.bins
    field = random_complex(rng, bins, points, emitters)
    wanted = random_complex(rng, points, bins)
    adjoint = field.conj().swapaxes(1, 2)
    normal = Normal(adjoint @ field, (adjoint @ wanted.T[..., None])[..., 0])
    return TimeTask(
        grid=grid,
        normal=normal,
        effort=rng.uniform(0.5, 2.0, (bins, emitters)),
        effort_outside=rng.uniform(0.5, 2.0, emitters),
        field=field,
        wanted=wanted,
        weights=rng.uniform(0.0, 30.0, (points, grid.period)) ** 2 / 30.0,
    )


def dense(task: TimeTask) -> tuple[np.ndarray, np.ndarray]:
    """Matrix and right-hand side built from transforms written out, one tap at a time."""
    emitters, taps = task.effort.shape[1], task.grid.taps
    n, period = np.arange(task.grid.period), task.grid.period
    k = np.arange(1, task.grid.bins + 1)
    turn = np.exp(-2j * np.pi * np.outer(k, np.arange(taps)) / period)
    every = np.exp(-2j * np.pi * np.outer(np.arange(period), np.arange(taps)) / period)
    back = np.exp(2j * np.pi * np.outer(n, k) / period) * (2.0 / period)
    rows, wanted = [], []
    for f in range(task.grid.bins):
        # A Cholesky factor of the gram stands for the tracking of any number of models.
        factor = np.linalg.cholesky(task.normal.gram[f]).conj().T
        rows += list(np.kron(factor, turn[f]) * np.sqrt(2.0 / period))
        wanted += list(
            np.linalg.solve(factor.conj().T, task.normal.right[f]) * np.sqrt(2.0 / period)
        )
    rows = [part for row in rows for part in (row.real, row.imag)]
    wanted = [part for value in wanted for part in (value.real, value.imag)]
    for p in range(task.field.shape[1]):
        spectra = np.concatenate([task.field[:, p, [s]] * turn for s in range(emitters)], axis=1)
        weight = np.sqrt(task.weights[p])
        rows += list(weight[:, None] * (back @ spectra).real)
        wanted += list(weight * (back @ task.wanted[p]).real)
    matrix, right = np.array(rows), np.array(wanted)
    normal, side = matrix.T @ matrix, matrix.T @ right
    for s in range(emitters):
        effort = np.full(period, task.effort_outside[s])
        effort[k] = effort[-k] = task.effort[:, s]
        part = slice(s * taps, (s + 1) * taps)
        normal[part, part] += (every.conj().T @ (effort[:, None] * every)).real / period
    return normal, side


def test_the_steps_go_to_the_solution_of_the_dense_equations():
    task = small_task()
    normal, right = dense(task)
    gram = with_effort(task.normal.gram, task.effort)
    unit = np.eye(right.size).reshape(-1, 3, 12)
    applied = np.stack([task.gradient(u, gram).ravel() for u in unit])
    assert applied == pytest.approx(normal, abs=1e-9 * np.abs(normal).max())
    assert task.right().ravel() == pytest.approx(right, abs=1e-9 * np.abs(right).max())
    taps, steps = solved_in_time(task)
    exact = np.linalg.solve(normal, right)
    # Stopped at 1e-3 of the error's energy norm.
    assert np.abs(taps.ravel() - exact).max() < 2e-3 * np.abs(exact).max()
    assert steps < 60


def test_without_time_terms_long_filters_are_those_by_bin():
    """As many taps as the period has samples: nothing couples the bins."""
    grid = Grid(rate_hz=400.0, factor=1, taps=40, period=40, bins=14)
    task = small_task(grid=grid)
    task = replace(task, weights=np.zeros_like(task.weights))
    taps, steps = solved_in_time(task)
    expected = solved(task.normal, task.effort)
    assert task.drives(taps) == pytest.approx(expected, abs=1e-9)
    assert steps <= 2


def test_limits_by_bin_against_a_convex_solver():
    cp = pytest.importorskip("cvxpy")
    normal, field, wanted = random_normal(bins=6, emitters=4, points=7)
    effort = np.full((6, 4), 0.3)
    limit = np.random.default_rng(2).uniform(0.05, 0.4, (6, 4))
    free, found = solved(normal, effort), solved_within(normal, effort, limit)
    assert np.any(np.abs(free) > limit)
    assert np.all(np.abs(found) <= limit * (1 + 1e-12))
    for f in range(6):
        w = cp.Variable(4, complex=True)
        cost = cp.sum_squares(field[f] @ w - wanted[f]) + 0.3 * cp.sum_squares(w)
        cp.Problem(cp.Minimize(cost), [cp.abs(w) <= limit[f]]).solve(solver=cp.CLARABEL)
        assert found[f] == pytest.approx(w.value, abs=2e-5)


def test_limits_of_finite_filters_against_a_convex_solver():
    cp = pytest.importorskip("cvxpy")
    task = small_task()
    free, _ = solved_in_time(task)
    limit = np.full((14, 3), 0.6 * np.abs(task.drives(free)).max())
    found, _ = solved_in_time_within(task, limit)
    assert np.all(np.abs(task.drives(found)) <= limit * (1 + 1e-9))

    normal, right = dense(task)
    root = np.linalg.cholesky(normal).T
    goal = np.linalg.solve(root.T, right)
    turn = np.exp(-2j * np.pi * np.outer(np.arange(1, 15), np.arange(12)) / 40)
    w = cp.Variable(36)
    held = [
        cp.norm(
            cp.vstack([turn.real @ w[12 * s : 12 * s + 12], turn.imag @ w[12 * s : 12 * s + 12]]),
            2,
            axis=0,
        )
        <= limit[:, s]
        for s in range(3)
    ]
    cp.Problem(cp.Minimize(cp.sum_squares(root @ w - goal)), held).solve(solver=cp.CLARABEL)

    def cost(taps) -> float:
        return float(np.sum((root @ taps.ravel() - goal) ** 2))

    # The splitting stops within 0.2 % of the limits.
    assert cost(found) < cost(w.value) + 0.01 * (cost(np.zeros(36)) - cost(w.value))
    assert cost(found) > cost(free)


def test_a_hopeless_limit_is_still_kept():
    task = small_task()
    limit = np.full((14, 3), 1e-3)
    found, _ = solved_in_time_within(task, limit)
    assert np.all(np.abs(task.drives(found)) <= limit * (1 + 1e-9))
    assert np.abs(found).max() > 0


def box_problem(found: Emitters, high_hz: float) -> FilterProblem:
    """An array at eight points of the box."""
    emitters = len(found.names)
    band = ControlBand(20.0, high_hz)
    grid = design_grid(RATE, 0.25, 1.2, band.fades_out_hz)
    shape = band_shape(band, grid) * np.exp(-2j * np.pi * grid.frequencies_hz * 0.02)
    drivers = Drivers(np.full(emitters, 20.0), np.full(emitters, 20.0))
    return FilterProblem(
        grid=grid,
        band=band,
        field=response_spectra(box_responses(found.position_m, POINTS), grid),
        wanted=plane_wave(found, POINTS, grid.frequencies_hz) * shape,
        travel_s=POINTS[:, 1] / 343.0,
        delay_s=0.02,
        weights=np.ones(len(POINTS)),
        limit=drivers.limit(grid.frequencies_hz),
    )


@pytest.fixture(scope="module")
def problem() -> FilterProblem:
    return box_problem(array(), 100.0)


def ahead_and_late(problem: FilterProblem, drive) -> tuple[float, float]:
    """Energy of the field from 10 ms ahead of the wave, of its error from 100 ms after, re all.

    The wave asked for has a tail of its own at the band's lower end.
    """
    result = problem.grid.time(np.einsum("bs,spb->pb", drive, problem.field))
    missed = result - problem.grid.time(problem.wanted)
    after = np.arange(problem.grid.period) / problem.grid.rate_hz - problem.delay_s
    after = after - problem.travel_s[:, None]
    total = np.sum(result**2)
    return np.sum(result[after < -0.01] ** 2) / total, np.sum(missed[after > 0.1] ** 2) / total


def test_each_term_over_time_does_its_part(problem):
    """Ahead of the wave and long after it there is less with the term than without."""
    shares = {}
    for terms in (TimeTerms(0.0, 0.0), TimeTerms(0.1, 0.0), TimeTerms(0.0, 10.0)):
        taps, _ = filters_in_time(problem, CERTAIN, -25.0, terms)
        shares[terms.ahead, terms.late] = ahead_and_late(problem, problem.grid.spectrum(taps).T)
    assert shares[0.1, 0.0][0] < 0.1 * shares[0.0, 0.0][0]
    assert shares[0.0, 10.0][1] < 0.5 * shares[0.0, 0.0][1]


def test_filters_by_bin_ring_ahead_and_more_so_the_more_they_are_regularised(problem):
    """A real regularisation has no phase, so it rings evenly both ways."""
    ahead = [
        ahead_and_late(problem, filters_by_bin(problem, CERTAIN, effort))[0]
        for effort in (-25.0, -5.0)
    ]
    assert ahead[1] > 3 * ahead[0]
    timed, _ = filters_in_time(problem, CERTAIN, -25.0, TimeTerms())
    assert ahead_and_late(problem, problem.grid.spectrum(timed).T)[0] < 0.1 * ahead[0]


def test_filters_that_ring_ahead_of_the_wave_are_flagged():
    """Two and two on the floor, asked for more than they can: -40 dB at 20 ms is far exceeded.

    By bin, about -11 dB come more than 10 ms ahead (our table; -30 dB is the limit), here above
    -15 dB; the terms over time take 8 dB of it at least, which is no aim but what they reach.
    """
    own = box_problem(on_the_floor(), 120.0)
    arrival = own.travel_s + own.delay_s
    by_bin = filters_by_bin(own, CERTAIN, -25.0)
    found = evidence(own.field, by_bin, own.wanted, arrival, own.limit, own.band, own.grid)
    assert not found.quiet_ahead
    assert found.ahead_db[1] > -15.0
    taps, _ = filters_in_time(own, CERTAIN, -25.0, TimeTerms())
    timed = own.grid.spectrum(taps).T
    less = evidence(own.field, timed, own.wanted, arrival, own.limit, own.band, own.grid)
    assert np.all(less.ahead_db < found.ahead_db - 8.0)


def test_effort_is_charged_by_what_a_driver_can_give(problem):
    """Half the limit, four times the price: so the weaker one is driven less."""
    weaker = problem.limit.copy()
    weaker[:, 0] *= 0.5
    own = replace(problem, limit=weaker)
    effort = least_effort(expected_normal(own, CERTAIN), weaker, -25.0)
    assert effort[:, 0] == pytest.approx(4 * effort[:, 1])
    drives = [np.abs(filters_by_bin(p, CERTAIN, -10.0)[60]) for p in (problem, own)]
    assert drives[1][0] < drives[0][0]


def test_another_speed_of_sound_is_the_field_computed_with_it(problem):
    """The walls' damping follows the speed as well, so it is exact but for the band's ends."""
    other = box_responses(array().position_m, POINTS, BETA, 343.0 * 1.01)
    faster = response_spectra(other, problem.grid)
    moved = at_other_speed(problem.field, problem.grid, 1.01)
    inside = problem.band.inside(problem.grid.frequencies_hz)
    error = np.abs(moved - faster)[..., inside] ** 2
    change = np.abs(problem.field - faster)[..., inside] ** 2
    # What remains is the low-pass of the test's responses, which a speed does not move.
    assert error.sum() < 0.003 * np.sum(np.abs(faster[..., inside]) ** 2)
    assert error.sum() < 0.05 * change.sum()


def test_the_expectation_is_the_mean_over_errors_at_random(problem):
    """Monte Carlo over gains: mean |(H + E) w - t|^2 = w^H gram w - 2 Re right^H w + |t|^2."""
    rng = np.random.default_rng(RNG_SEED)
    expected = Uncertainty(0.0, 0.0, 0.5)
    relative = np.expm1(0.5 * np.log(10.0) / 20.0)
    normal = normal_equations(
        problem.field, problem.wanted, problem.weights, expected, problem.grid, problem.travel_s
    )
    drive = random_complex(rng, problem.grid.bins, 8)
    formula = np.einsum("bs,bst,bt->b", drive.conj(), normal.gram, drive).real
    formula -= 2 * np.einsum("bs,bs->b", normal.right.conj(), drive).real
    formula += np.sum(np.abs(problem.wanted) ** 2, axis=0)
    total = np.zeros(problem.grid.bins)
    for _ in range(400):
        gain = 1 + relative * rng.standard_normal((problem.grid.bins, 8))
        result = np.einsum("bs,spb->pb", drive * gain, problem.field)
        total += np.sum(np.abs(result - problem.wanted) ** 2, axis=0) / 400
    # 1 / sqrt(400) of a part that is a tenth of the whole, averaged over hundreds of bins.
    assert np.mean(total / formula) == pytest.approx(1.0, abs=0.002)


def test_robust_filters_do_better_on_average_over_the_errors(problem):
    rng = np.random.default_rng(RNG_SEED)
    expected = Uncertainty(0.0, 0.0, 1.0)
    drives = [filters_by_bin(problem, u, -25.0) for u in (CERTAIN, expected)]
    inside = problem.band.inside(problem.grid.frequencies_hz)
    missed = np.zeros(2)
    for _ in range(50):
        gain = 1 + np.expm1(np.log(10.0) / 20.0) * rng.standard_normal((1, 8))
        for i, drive in enumerate(drives):
            result = np.einsum("bs,spb->pb", drive * gain, problem.field)
            missed[i] += np.sum(np.abs(result - problem.wanted)[:, inside] ** 2)
    assert missed[1] < 0.9 * missed[0]


def test_time_weights_rise_backwards_and_begin_again_late():
    grid = Grid(rate_hz=1000.0, factor=1, taps=100, period=400, bins=100)
    weights = time_weights(np.array([0.1]), grid, TimeTerms(0.1, 2.0, 0.05))[0]
    assert weights[100:150] == pytest.approx(0.0)
    assert weights[[90, 70, 20]] == pytest.approx([0.1 * 1e2, 0.1 * 1e4, 0.1 * 1e4])
    assert np.all(np.diff(weights[70:100]) < 0)
    assert weights[170:] == pytest.approx(2.0)


def test_direct_transform_is_the_fast_one():
    samples = np.random.default_rng(1).standard_normal((2, 3, 900)).astype(np.float32)
    grid = design_grid(48000, 0.05, 900 / 48000, 300.0)
    length = grid.period * grid.factor
    expected = fft.rfft(samples.astype(float), length)[..., 1 : grid.bins + 1]
    found = response_spectra(samples, grid)
    assert np.abs(found - expected).max() < 1e-5 * np.abs(expected).max()
    assert grid.frequencies_hz == pytest.approx(fft.rfftfreq(length, 1 / 48000)[1 : grid.bins + 1])


def test_taps_at_the_output_rate_have_the_same_response():
    grid = design_grid(48000, 0.25, 0.3, 240.0)
    t = (np.arange(grid.taps) / grid.rate_hz - 0.08) / 0.02
    taps = np.stack([np.exp(-(t**2) / 2) * np.cos(2 * np.pi * f * t * 0.02) for f in (30.0, 90.0)])
    own = at_output_rate(taps, grid)
    assert own.shape == (2, grid.taps * grid.factor)
    frequency = np.linspace(5.0, 200.0, 40)
    low = taps @ np.exp(-2j * np.pi * np.outer(np.arange(grid.taps), frequency) / grid.rate_hz)
    high = own @ np.exp(-2j * np.pi * np.outer(np.arange(own.shape[1]), frequency) / 48000.0)
    assert np.abs(high - low).max() < 1e-3 * np.abs(low).max()


def test_a_frequency_too_high_for_the_rate_is_refused():
    with pytest.raises(InputError, match="may reach up to"):
        design_grid(400, 0.3, 0.3, 240.0)
