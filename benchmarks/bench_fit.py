"""Eight peaking filters fitted to the sum of eight known ones, exact derivatives against numeric.

The plain version is scipy's bounded least squares from the same greedy principle: a filter at the
largest residual, then a joint refit with numeric derivatives.
"""

from __future__ import annotations

import time

import numpy as np
from scipy.optimize import least_squares

from roomwright.signals import amplitude_db, cascade_sos, response
from roomwright.tuning import FitLimits, Wanted, fit_biquads
from roomwright.tuning.peaking import peaking_levels_db

RATE = 48000
GRID = np.geomspace(20, 20000, 200)
OMEGA = 2 * np.pi * GRID / RATE
LOWER, UPPER = np.log(20.0), np.log(20000.0)
CASES = 10


def known(seed: int) -> np.ndarray:
    """Level of eight filters about an octave and a quarter apart."""
    rng = np.random.default_rng(seed)
    centres = np.geomspace(30, 12000, 8) * 2 ** rng.uniform(-0.25, 0.25, 8)
    gains = rng.uniform(2, 8, 8) * rng.choice([-1, 1], 8)
    rows = np.column_stack([np.log(centres), gains, np.log(rng.uniform(0.8, 6, 8))])
    return peaking_levels_db(rows, OMEGA, RATE).sum(axis=0)


def ours(level: np.ndarray) -> float:
    """Remaining rms misfit in dB."""
    ones = np.ones(GRID.size)
    limits = FitLimits(20, 20000, 12, 12, 10, 10, 20000, maximum_boost_q=10)
    found = fit_biquads(Wanted(GRID, level, ones, 99 * ones, -99 * ones), limits, 8, RATE)
    return rms(amplitude_db(response(cascade_sos(found, RATE), GRID, RATE)) - level)


def plain(level: np.ndarray) -> float:
    """Remaining rms misfit in dB."""

    def misfit(flat: np.ndarray) -> np.ndarray:
        return peaking_levels_db(flat.reshape(-1, 3), OMEGA, RATE).sum(axis=0) - level

    flat = np.empty(0)
    for _ in range(8):
        left = -misfit(flat) if flat.size else level
        at = int(np.argmax(np.abs(left)))
        start = [np.log(GRID[at]), np.clip(left[at], -12, 12), np.log(2.0)]
        flat = np.concatenate([flat, start])
        low = np.tile([LOWER, -12, np.log(0.5)], flat.size // 3)
        high = np.tile([UPPER, 12, np.log(10)], flat.size // 3)
        flat = least_squares(misfit, np.clip(flat, low, high), bounds=(low, high)).x
    return rms(misfit(flat))


def rms(error: np.ndarray) -> float:
    return float(np.sqrt(np.mean(error**2)))


def main() -> None:
    levels = [known(seed) for seed in range(CASES)]
    results = {}
    for name, fit in (("exact derivatives", ours), ("numeric derivatives", plain)):
        seconds, errors = [], []
        for level in levels:
            start = time.perf_counter()
            errors.append(fit(level))
            seconds.append(time.perf_counter() - start)
        results[name] = float(np.median(seconds))
        exact = sum(error < 1e-6 for error in errors)
        print(
            f"{name}: median {1e3 * results[name]:.0f} ms a fit, "
            f"exact in {exact} of {CASES}, worst {max(errors):.2g} dB rms"
        )
    print(f"ratio {results['numeric derivatives'] / results['exact derivatives']:.1f}")


if __name__ == "__main__":
    main()
