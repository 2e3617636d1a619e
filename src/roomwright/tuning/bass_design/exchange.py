"""Good sets of sources where there are too many to look at all: one is exchanged at a time."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from roomwright._progress import Progress
from roomwright.tuning.bass_design.nested import ridge
from roomwright.tuning.bass_design.relaxation import least_cost_bound
from roomwright.tuning.bass_design.screening import REGULARISATION, some_sets

F = NDArray[np.float64]
C = NDArray[np.complex128]
Index = NDArray[np.intp]

#: Sets to start from.
_STARTS = 4


@dataclass(frozen=True, slots=True)
class Exchanged:
    """Every set looked at (n, N), its figure (n,), and how far the best may be from the best.

    `gap` is the share by which the least misfit found exceeds a bound that no set can beat: the
    true least lies in between. None where every set was looked at.
    """

    sets: Index
    figure: F
    gap: float | None


def exchanged(response: C, target: C, count: int, progress: Progress) -> Exchanged:
    """Sets of `count` sources found by exchange: from several starts, until no exchange helps.

    Parameters
    ----------
    response
        (S, P, F), the field of all sources.
    target
        (P, F), the pressure aimed for.
    count
        Sources in a set.
    progress
        Told after every exchange.
    """
    mu = ridge(response, REGULARISATION)
    seen: dict[tuple[int, ...], tuple[float, float]] = {}
    rng = np.random.default_rng(0)
    for start in range(_STARTS):
        progress(start / _STARTS, "exchanging subwoofer places")
        own = np.sort(rng.choice(response.shape[0], count, replace=False))
        for by in (0, 1):
            # By the figure, then by the misfit alone, whose bound is known.
            _exchange(response, target, mu, own, seen, by)
    sets = np.array(list(seen), dtype=np.intp)
    figure, misfit = np.array(list(seen.values())).T
    least = float(misfit.min())
    bound = least_cost_bound(response, target, mu, count)
    return Exchanged(sets, figure, least / bound - 1.0)


def _exchange(
    response: C,
    target: C,
    mu: F,
    own: Index,
    seen: dict[tuple[int, ...], tuple[float, float]],
    by: int,
) -> None:
    """Exchange the one source that helps most, until none does."""
    best = np.inf
    while True:
        sets = neighbours(own, response.shape[0])
        new = np.array([one for one in sets if tuple(one) not in seen], dtype=np.intp)
        if new.size:
            figures = np.column_stack(some_sets(response, target, new, mu))
            seen.update(zip(map(tuple, new.tolist()), map(tuple, figures.tolist()), strict=True))
        values = [seen[tuple(one)][by] for one in sets.tolist()]
        place = int(np.argmin(values))
        if values[place] >= best:
            return
        best, own = values[place], sets[place]


def neighbours(own: Index, sources: int) -> Index:
    """The set itself and every set that differs by one source, each rising, (n, N)."""
    others = np.setdiff1d(np.arange(sources), own)
    swapped = np.repeat(own[None], own.size * others.size, axis=0)
    place = np.repeat(np.arange(own.size), others.size)
    swapped[np.arange(len(swapped)), place] = np.tile(others, own.size)
    return np.sort(np.concatenate([own[None], swapped]), axis=1)
