"""Misfit of every set of N sources with its best complex gains, grown one source at a time.

With the Gram matrix G = A^H A + mu of all sources and b = A^H t, the best gains of a set leave
the cost t^H t - b_s^H G_ss^-1 b_s. Eliminating one source from G and b (one step of Cholesky's
method) leaves the same problem for the others, so all sets that begin alike share that step, and
the last two sources are a two by two problem in closed form.
"""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
from numpy.typing import NDArray

from roomwright._checks import positive
from roomwright._errors import InputError

F = NDArray[np.float64]
C = NDArray[np.complex128]

#: Sets computed at once: the arrays then stay in the processor's cache.
_AT_ONCE = 512


def ridge(response: C, regularisation: float) -> F:
    """The ridge mu (F,) of a field (S, P, F): a share of the mean energy of its sources."""
    share = positive(regularisation, "the regularisation")
    mean: F = np.mean(np.sum(np.abs(response) ** 2, axis=1), axis=0)
    return share * mean


def all_sets(sources: int, count: int) -> NDArray[np.intp]:
    """Every set of `count` sources, (n, count), rising, in the order of all results here."""
    sets = np.empty((1, 0), dtype=np.intp)
    for place in range(count):
        last = sets[:, -1] if place else np.array([-1])
        # Enough sources must be left for the places that follow.
        choices = sources - count + place - last
        before = np.cumsum(choices) - choices
        following = np.arange(choices.sum()) - np.repeat(before - last - 1, choices)
        sets = np.column_stack([np.repeat(sets, choices, axis=0), following])
    return sets


def best_gain_costs(
    response: C, target: C, mu: F, count: int, dtype: type[np.floating] = np.float32
) -> F:
    """Least squared misfit of every set of `count` sources with free complex gains.

    Parameters
    ----------
    response
        (S, P, F), the field of all sources.
    target
        (P, F), the pressure aimed for at each point.
    mu
        (F,), what a unit of squared gain costs; above 0.
    count
        Sources in a set, 1 to S.
    dtype
        Precision of the real numbers computed with; float32 serves for ranking.

    Returns
    -------
    ndarray
        (comb(S, count),): mean over frequency of the cost over that of silence, in the order of
        `all_sets`.

    Raises
    ------
    InputError
        If there are not as many sources, or `mu` is not above 0.
    """
    if not 1 <= count <= response.shape[0]:
        raise InputError(f"{count} of {response.shape[0]} sources cannot be chosen")
    if np.any(mu <= 0):
        raise InputError("the ridge must be above 0 at every frequency")
    silence = np.sum(np.abs(target) ** 2, axis=0)
    # One scale for all: the gains a set brings then add up to the drop of the mean cost.
    gram = np.einsum("spf,tpf->stf", response.conj(), response) / mu
    gram += np.eye(response.shape[0])[..., None]
    aim = np.einsum("spf,pf->sf", response.conj(), target) / np.sqrt(mu * silence * silence.size)
    complex_type = np.result_type(dtype, np.complex64)
    # Frequency innermost, whatever the order of the field in memory.
    gram, aim = (part.astype(complex_type, order="C") for part in (gram, aim))
    nothing = np.zeros(aim.shape[1], aim.real.dtype)
    return 1.0 - np.concatenate(list(_branches(gram, aim, nothing, count)))


def _squared(values: C) -> F:
    squared: F = values.real**2 + values.imag**2
    return squared


def _branches(gram: C, aim: C, before: F, count: int) -> Iterator[F]:
    """Drops of all sets of `count` of the sources left."""
    if count <= 3:
        leaves = {1: _singles, 2: _pairs, 3: _triples}[count]
        yield leaves(gram, aim) + before.sum(dtype=np.float64)
        return
    for first in range(aim.shape[0] - count + 1):
        yield from _branches(*_without(gram, aim, first, before), count - 1)


def _without(gram: C, aim: C, first: int, before: F) -> tuple[C, C, F]:
    """The problem of the sources after `first` once it is eliminated, and the drop so far (F,)."""
    pivot = gram[first, first].real
    column = gram[first + 1 :, first]
    scaled = column / pivot
    left = gram[first + 1 :, first + 1 :] - scaled[:, None] * column.conj()
    drop = before + _squared(aim[first]) / pivot
    return left, aim[first + 1 :] - scaled * aim[first], drop


def _singles(gram: C, aim: C) -> F:
    """Drops of the sources left, each alone."""
    drops: F = (_squared(aim) / np.einsum("ssf->sf", gram).real).sum(axis=1, dtype=np.float64)
    return drops


def _pairs(gram: C, aim: C) -> F:
    """Drops of all pairs of the sources left."""
    one, two = np.triu_indices(aim.shape[0], 1)
    between = gram[one, two]
    return _drops_of_two(between, *_parts(np.einsum("ssf->sf", gram).real, aim), one, two)


def _triples(gram: C, aim: C) -> F:
    """Drops of all triples of the sources left: the pairs once the first is eliminated.

    All that one source and the first decide is computed for all of these pairs at once.
    """
    left, bins = aim.shape
    diagonal = np.einsum("ssf->sf", gram).real
    scaled = gram / diagonal
    others = np.ascontiguousarray(gram.conj())
    remaining = diagonal[:, None] - (scaled * others).real
    aims = aim[:, None] - scaled * aim
    # A source is not paired with itself; any number will do there.
    remaining[range(left), range(left)] = 1.0
    gram, scaled, others = (part.reshape(-1, bins) for part in (gram, scaled, others))
    gain, alone, inverse = _parts(remaining.reshape(-1, bins), aims.reshape(-1, bins))
    dropped = (_squared(aim) / diagonal).sum(axis=1, dtype=np.float64)
    sets = all_sets(left, 3)
    drops = np.empty(len(sets))
    for start in range(0, len(sets), _AT_ONCE):
        part = slice(start, start + _AT_ONCE)
        first, second, third = sets[part].T
        one, two = second * left + first, third * left + first
        between = scaled.take(one, axis=0)
        between *= others.take(two, axis=0)
        np.subtract(gram.take(second * left + third, axis=0), between, out=between)
        drops[part] = dropped[first] + _drops_of_two(between, gain, alone, inverse, one, two)
    return drops


def _parts(diagonal: F, aim: C) -> tuple[C, F, F]:
    """The gain of each source alone, what it takes off the cost, and 1 / d, all (n, F)."""
    inverse = 1.0 / diagonal
    return aim * inverse, _squared(aim) * inverse, inverse


def _drops_of_two(
    between: C, gain: C, alone: F, inverse: F, one: NDArray[np.intp], two: NDArray[np.intp]
) -> F:
    """Drops (n,) of pairs of sources `one` and `two` with the entries `between` them (n, F).

    (|b1|^2 / d1 + |b2|^2 / d2 - 2 Re(b1* g b2) / d1 d2) / (1 - |g|^2 / d1 d2)
    """
    cross = gain.take(one, axis=0)
    np.conjugate(cross, out=cross)
    cross *= gain.take(two, axis=0)
    cross *= between
    drop = alone.take(one, axis=0)
    drop += alone.take(two, axis=0)
    drop -= 2.0 * cross.real
    shared = _squared(between)
    shared *= inverse.take(one, axis=0)
    shared *= inverse.take(two, axis=0)
    np.subtract(1.0, shared, out=shared)
    drop /= shared
    total: F = (drop @ np.ones(drop.shape[1], drop.dtype)).astype(np.float64)
    return total
