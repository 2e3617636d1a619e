"""Symmetries of a field: which sources do to the seats what others do to their mirror images."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from roomwright._errors import InputError

F = NDArray[np.float64]
C = NDArray[np.complex128]
Index = NDArray[np.intp]

#: Fields that differ by less than this share of their size are the same.
_ALIKE = 1e-4

#: Sources whose images are looked for; one is enough unless its image is not a candidate.
_BASES = 4


@dataclass(frozen=True, slots=True)
class Symmetry:
    """Source s does at point p what source `sources[s]` does at point `points[p]`.

    A source whose image is not among the sources has -1.
    """

    sources: Index
    points: Index


def symmetries(response: C, alike: float = _ALIKE) -> tuple[Symmetry, ...]:
    """Symmetries of a field (S, P, F) other than none at all, from the responses alone.

    A symmetry is found if one of the sources that tell the points apart best has its image among
    the sources. Measured fields have none: no room is that exact.
    """
    flat = response.reshape(response.shape[0], -1)
    size = float(np.sqrt(np.mean(np.sum(np.abs(response) ** 2, axis=2))))
    found: dict[tuple[int, ...], Symmetry] = {}
    for base in _telling(response)[:_BASES]:
        for image in range(response.shape[0]):
            points = _matched(response[base], response[image], alike * size)
            if points is None or tuple(points) in found:
                continue
            # What the source would do if the points were their images.
            moved = response[:, np.argsort(points)].reshape(flat.shape)
            limit = alike * size * np.sqrt(response.shape[1])
            sources = _nearest(moved, flat, limit)
            found[tuple(points)] = Symmetry(sources, points)
    return tuple(
        one
        for one in found.values()
        if np.any(one.sources != np.arange(one.sources.size)) and np.any(one.sources >= 0)
    )


def all_equivalent(response: C) -> bool:
    """Whether symmetries of a field (N, P, F) lead from each source to every other one.

    Then equal gains are the best least-squares gains: averaging any gains over the symmetries
    costs no more, and leaves them equal.
    """
    sources = response.shape[0]
    reached = np.eye(sources, dtype=bool)
    for one in symmetries(response):
        known = one.sources >= 0
        reached[np.arange(sources)[known], one.sources[known]] = True
    for _ in range(sources):
        reached = reached @ reached
    return bool(reached.all())


def twin_codes(sets: Index, found: Sequence[Symmetry], sources: int) -> NDArray[np.int64]:
    """One number for each of the sets (n, N), the same for sets that are images of each other.

    Raises
    ------
    InputError
        If there are more sets than numbers.
    """
    if sets.shape[1] * np.log2(max(sources, 2)) > 62:
        raise InputError(f"sets of {sets.shape[1]} of {sources} sources cannot be told apart")
    base = sources ** np.arange(sets.shape[1], dtype=np.int64)[::-1]
    code = np.sort(sets, axis=1) @ base
    for one in found:
        images = np.sort(one.sources[sets], axis=1)
        code = np.where(images[:, 0] >= 0, np.minimum(code, images @ base), code)
    return np.asarray(code)


def images(chosen: Index, found: Sequence[Symmetry]) -> set[tuple[int, ...]]:
    """The set (N,) and its images, each rising."""
    moved = [chosen, *(one.sources[chosen] for one in found)]
    return {tuple(sorted(one.tolist())) for one in moved if one.min() >= 0}


def _telling(response: C) -> Index:
    """Sources by how well they tell the two most alike points apart, the best first."""
    telling = []
    for rows in response:
        apart = _distances(rows, rows) + np.diag(np.full(len(rows), np.inf))
        telling.append(apart.min() / np.sqrt(np.mean(np.sum(np.abs(rows) ** 2, axis=1))))
    return np.argsort(telling)[::-1]


def _matched(rows: C, others: C, limit: float) -> Index | None:
    """The order of `others` (P, F) that gives `rows`; None if there is none."""
    points = _nearest(rows, others, limit)
    return points if np.all(points >= 0) and np.unique(points).size == points.size else None


def _nearest(rows: C, others: C, limit: float) -> Index:
    """For each row the nearest of the others, -1 if none is within the limit."""
    apart = _distances(rows, others)
    nearest = np.argmin(apart, axis=1)
    return np.where(apart[np.arange(len(rows)), nearest] <= limit, nearest, -1)


def _distances(rows: C, others: C) -> F:
    """Distance of each row (n, F) from each of the others (m, F), (n, m)."""
    squared = (
        np.sum(np.abs(rows) ** 2, axis=1)[:, None]
        + np.sum(np.abs(others) ** 2, axis=1)
        - 2.0 * (rows @ others.conj().T).real
    )
    return np.asarray(np.sqrt(np.maximum(squared, 0.0)))
