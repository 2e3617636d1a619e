"""Spread and level of every set of N sources that all play alike, in decibels."""

from __future__ import annotations

import os
from concurrent.futures import ThreadPoolExecutor

import numpy as np
from numpy.typing import NDArray

from roomwright._errors import InputError
from roomwright.tuning.bass_design.nested import all_sets

F = NDArray[np.float64]
C = NDArray[np.complex128]

_DB_PER_NEPER_POWER = 10.0 / np.log(10.0)

#: Sets computed at once: the arrays then stay in the processor's cache.
_AT_ONCE = 64

#: Added to squared pressures, as a share of their mean: -120 dB, so that no sum is silent.
_FLOOR = 1e-12


def unity_spreads(response: C, count: int) -> tuple[F, F]:
    """Mean spatial variance and mean level of every set of `count` sources at unity gain.

    Parameters
    ----------
    response
        (S, P, F), the field of all sources.
    count
        Sources in a set, 1 to S.

    Returns
    -------
    tuple of ndarray
        Mean over frequency of the population variance of the level over points, dB squared, and
        mean level, dB, each (comb(S, count),) in the order of `all_sets`. Computed in single
        precision, good to about 0.001.

    Raises
    ------
    InputError
        If there are not as many sources.

    Notes
    -----
    Definitions: Welti & Devantier, JAES 54(5), 2006 (from memory). Sums of all pairs are made
    once; the rest of a set is one number a point on top of them.
    """
    sources = response.shape[0]
    if not 1 <= count <= sources:
        raise InputError(f"{count} of {sources} sources cannot be chosen")
    tail = min(count, 2)
    tails, heads = all_sets(sources, tail), all_sets(sources, count - tail)
    # The tails that may follow a head are the last ones: all after its last source.
    starts = np.searchsorted(tails[:, 0], heads[:, -1] if count > 2 else [-1], side="right")
    heads, starts = heads[starts < len(tails)], starts[starts < len(tails)]
    scale = np.sqrt(np.mean(np.abs(response) ** 2))
    unit = (response / scale).astype(np.complex64, order="C")
    summed = unit[tails].sum(axis=1)
    sums = (summed.real.copy(), summed.imag.copy())

    def one(head: NDArray[np.intp], start: int) -> tuple[F, F]:
        return _spreads(sums, start, unit[head].sum(axis=0))

    with ThreadPoolExecutor(os.cpu_count()) as pool:
        parts = list(pool.map(one, heads, starts))
    spread, level = (np.concatenate(column) for column in zip(*parts, strict=True))
    return spread, level + 20.0 * np.log10(scale)


def _spreads(sums: tuple[F, F], start: int, head: C) -> tuple[F, F]:
    """Spread and level of one head with each of the tails (n, P, F) from `start` on."""
    real, imaginary = sums
    spread, level = np.empty(len(real) - start), np.empty(len(real) - start)
    points, bins = head.shape
    for at in range(start, len(real), _AT_ONCE):
        part = slice(at, at + _AT_ONCE)
        power = real[part] + head.real
        power *= power
        other = imaginary[part] + head.imag
        other *= other
        power += other
        power += np.float32(_FLOOR)
        logarithm = np.log(power, out=power)
        mean = logarithm.sum(axis=1) / np.float32(points)
        logarithm -= mean[:, None]
        flat = logarithm.reshape(len(mean), -1)
        to = slice(part.start - start, part.start - start + len(mean))
        spread[to] = np.einsum("nx,nx->n", flat, flat)
        level[to] = mean.sum(axis=1)
    return (
        spread * (_DB_PER_NEPER_POWER**2 / (points * bins)),
        level * (_DB_PER_NEPER_POWER / bins),
    )
