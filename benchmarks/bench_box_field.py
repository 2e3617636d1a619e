"""Box field of 24 subwoofers at 60 stations and 200 frequencies, against two plain versions.

Both plain versions are numpy: the closed form one pair at a time, to the same accuracy, and the
triple sum over modes as one matrix product per frequency, cut at 3.2 kHz and so less accurate. Both
are timed on a share of the work and scaled up.
"""

from __future__ import annotations

import time
from collections.abc import Callable

import numpy as np

from roomwright.acoustics import green_uniform, green_walls

SIZE = np.array([4.5, 6.0, 2.7])
T60_S = 0.4
C = 343.0
FREQUENCY = np.geomspace(15.0, 300.0, 200)
TAIL = np.log(1e6)
PAIRS_TIMED = 60
FREQUENCIES_TIMED = 2


def places() -> tuple[np.ndarray, np.ndarray]:
    """Subwoofers along the four walls; stations on a grid over the seats, placed by hand."""
    rng = np.random.default_rng(1)
    share = np.linspace(0.1, 0.9, 6)
    walls = [np.column_stack([np.full(6, x), share * 6.0]) for x in (0.15, 4.35)]
    walls += [np.column_stack([share * 4.5, np.full(6, y)]) for y in (0.15, 5.85)]
    flat = np.concatenate(walls)
    grid = np.meshgrid(
        np.linspace(0.9, 3.6, 5), np.linspace(2.7, 5.1, 4), [1.1, 1.2, 1.3], indexing="ij"
    )
    stations = np.stack(grid, axis=-1).reshape(-1, 3)
    return np.column_stack([flat, np.full(24, 0.2)]), stations + rng.uniform(-0.05, 0.05, (60, 3))


def best_of_three(run: Callable[[], object]) -> float:
    seconds = []
    for _ in range(3):
        start = time.perf_counter()
        run()
        seconds.append(time.perf_counter() - start)
    return min(seconds)


def one_pair(source: np.ndarray, receiver: np.ndarray) -> np.ndarray:
    """The closed form as it stands in the books, along the best axis of one pair."""
    wavenumber = (2 * np.pi * FREQUENCY - 3j * np.log(10.0) / T60_S) / C
    apart = np.abs(source - receiver)
    x = int(np.argmax(apart * np.sqrt(SIZE)))
    others = [axis for axis in range(3) if axis != x]
    cutoff = np.hypot(TAIL / apart[x], np.abs(wavenumber).max())
    n = np.indices([int(cutoff * SIZE[a] / np.pi) + 1 for a in others]).reshape(2, -1)
    across = n * np.pi / SIZE[others][:, None]
    kept = np.hypot(*across) <= cutoff
    n, across = n[:, kept], across[:, kept]
    shape = np.prod(
        np.cos(across * source[others][:, None])
        * np.cos(across * receiver[others][:, None])
        * np.where(n == 0, 1.0, 2.0)
        / SIZE[others][:, None],
        axis=0,
    )
    g = np.sqrt(np.sum(across**2, axis=0) - wavenumber[:, None] ** 2)
    low, high = sorted((source[x], receiver[x]))
    length = SIZE[x]
    wave = (
        np.exp(-g * (high - low))
        * (1 + np.exp(-2 * g * low))
        * (1 + np.exp(-2 * g * (length - high)))
        / (2 * g * (1 - np.exp(-2 * g * length)))
    )
    return wave @ shape


def triple_sum(sources: np.ndarray, receivers: np.ndarray, frequency: np.ndarray) -> np.ndarray:
    """H(f) = A_source diag(1 / (k_n^2 - k^2)) A_receiver over all modes up to 3.2 kHz."""
    limit = 2 * np.pi * 3200.0 / C
    n = np.indices([int(limit * length / np.pi) + 1 for length in SIZE]).reshape(3, -1)
    across = n * np.pi / SIZE[:, None]
    kept = np.sum(across**2, axis=0) < limit**2
    n, across = n[:, kept], across[:, kept]
    norm = np.prod(np.where(n == 0, 1.0, 0.5), axis=0) * np.prod(SIZE)
    at_source, at_receiver = (
        np.prod([np.cos(np.outer(p, k)) for p, k in zip(points.T, across, strict=True)], axis=0)
        for points in (sources, receivers)
    )
    field = []
    for f in frequency:
        k = (2 * np.pi * f - 3j * np.log(10.0) / T60_S) / C
        weight = 1.0 / (norm * (np.sum(across**2, axis=0) - k**2))
        field.append((at_source * weight) @ at_receiver.T)
    return np.stack(field, axis=-1)


def main() -> dict[str, float]:
    """Print all; give what has a limit."""
    sources, receivers = places()
    size = tuple(SIZE)
    walls = np.full((6, FREQUENCY.size), 0.05)
    pairs = [divmod(p, 60) for p in np.linspace(0, 24 * 60 - 1, PAIRS_TIMED).astype(int)]

    field = green_uniform(size, sources, receivers, FREQUENCY, T60_S, C)
    loop = np.array([one_pair(sources[i], receivers[j]) for i, j in pairs])
    error = max(
        np.abs(field[i, j] / row - 1).max() for (i, j), row in zip(pairs, loop, strict=True)
    )
    some = FREQUENCY[:: FREQUENCY.size // FREQUENCIES_TIMED]
    summed = triple_sum(sources, receivers, some)
    print(f"24 x 60 points x {FREQUENCY.size} frequencies, best of 3")
    print(f"greatest difference from the pair by pair version: {error:.1e}")
    difference = np.abs(summed - field[..., :: FREQUENCY.size // FREQUENCIES_TIMED])
    print(f"greatest difference from the triple sum, re 1 m: {4 * np.pi * difference.max():.1e}")

    uniform = best_of_three(lambda: green_uniform(size, sources, receivers, FREQUENCY, T60_S, C))
    lossy = best_of_three(lambda: green_walls(size, sources, receivers, FREQUENCY, walls, C))
    one_by_one = best_of_three(lambda: [one_pair(sources[i], receivers[j]) for i, j in pairs])
    one_by_one *= 24 * 60 / PAIRS_TIMED
    modal = best_of_three(lambda: triple_sum(sources, receivers, some))
    modal *= FREQUENCY.size / some.size
    print(f"green_uniform        {uniform:8.3f} s")
    print(f"green_walls          {lossy:8.3f} s")
    print(f"closed form, by pair {one_by_one:8.3f} s   {one_by_one / uniform:6.1f} x (scaled)")
    print(f"triple mode sum      {modal:8.3f} s   {modal / uniform:6.1f} x (scaled)")
    return {"field, even damping, s": uniform, "field, absorbing walls, s": lossy}


if __name__ == "__main__":
    main()
