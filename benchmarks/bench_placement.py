"""Sets of 4 subwoofers of 40 places at 21 seats and 60 frequencies, against batched numpy.

The plain versions solve all sets of one frequency as one batch of linear systems, and take the
levels of some thousand sets at a time; the second is timed on a share of the sets and scaled up.
"""

from __future__ import annotations

import resource
import sys
import time
from collections.abc import Callable

import numpy as np

from roomwright.acoustics import green_walls
from roomwright.tuning.bass_design import (
    BassField,
    GainDelayLimits,
    Weights,
    all_sets,
    best_gain_costs,
    best_places,
    gain_and_delay,
    judged,
    ridge,
    travelling_wave,
    unity_spreads,
)

SIZE = (4.5, 6.0, 2.7)
FREQUENCY = np.geomspace(20.0, 120.0, 60)
COUNT = 4
SHARE = 8000
AT_ONCE = 1000


def best_of(rounds: int, run: Callable[[], object]) -> float:
    seconds = []
    for _ in range(rounds):
        start = time.perf_counter()
        run()
        seconds.append(time.perf_counter() - start)
    return min(seconds)


def places() -> tuple[np.ndarray, np.ndarray]:
    """Forty places along the walls, corners and middles among them; 21 seats in three rows."""
    x, y = np.linspace(0.15, 4.35, 9), np.linspace(0.15, 5.85, 13)
    flat = [(a, b, 0.15) for b in (0.15, 5.85) for a in x]
    flat += [(a, b, 0.15) for b in y[1:-1] for a in (0.15, 4.35)]
    rows = ((2.7, 1.2), (3.9, 1.2), (5.1, 1.45))
    seats = [(2.25 + 0.47 * n, back, height) for back, height in rows for n in range(-3, 4)]
    return np.array(flat), np.array(seats)


def plain_costs(response: np.ndarray, target: np.ndarray, mu: np.ndarray) -> np.ndarray:
    sets = all_sets(response.shape[0], COUNT)
    gram = np.einsum("spf,tpf->fst", response.conj(), response)
    aim = np.einsum("spf,pf->fs", response.conj(), target)
    silence = np.sum(np.abs(target) ** 2, axis=0)
    cost = np.zeros(len(sets))
    for f, ridge_here in enumerate(mu):
        matrices = gram[f][sets[:, :, None], sets[:, None, :]] + ridge_here * np.eye(COUNT)
        aims = aim[f][sets]
        gains = np.linalg.solve(matrices, aims[..., None])[..., 0]
        cost += 1.0 - np.einsum("ns,ns->n", aims.conj(), gains).real / silence[f]
    return cost / len(mu)


def plain_spreads(response: np.ndarray, sets: np.ndarray) -> np.ndarray:
    spreads = []
    for at in range(0, len(sets), AT_ONCE):
        pressure = response[sets[at : at + AT_ONCE]].sum(axis=1)
        spreads.append((20 * np.log10(np.abs(pressure))).var(axis=1).mean(axis=1))
    return np.concatenate(spreads)


def main() -> dict[str, float]:
    """Print all; give what has a limit."""
    sources, seats = places()
    walls = np.full((6, FREQUENCY.size), 0.0166)
    response = 4 * np.pi * green_walls(SIZE, sources, seats, FREQUENCY, walls)
    target = travelling_wave(seats, FREQUENCY, 343.0)
    mu = ridge(response, 0.03)
    sets = all_sets(len(sources), COUNT)
    print(f"{len(sets)} sets of {COUNT} of {len(sources)}, 60 frequencies, 21 seats")
    print("best of 9, plain versions best of 3")

    costs = best_gain_costs(response, target, mu, COUNT)
    difference = np.abs(costs - plain_costs(response, target, mu)).max()
    print(f"greatest difference of the misfits from the plain version: {difference:.1e}")
    fast = best_of(9, lambda: best_gain_costs(response, target, mu, COUNT))
    slow = best_of(3, lambda: plain_costs(response, target, mu))
    print(f"best complex gains of every set        {fast:8.3f} s")
    print(f"the same, one batch a frequency        {slow:8.3f} s   {slow / fast:6.1f} x")
    figures = {"best complex gains, times as fast": slow / fast}

    spreads, _ = unity_spreads(response, COUNT)
    difference = np.abs(spreads[:SHARE] - plain_spreads(response, sets[:SHARE])).max()
    print(f"greatest difference of the spreads from the plain version: {difference:.1e} dB2")
    fast = best_of(9, lambda: unity_spreads(response, COUNT))
    slow = best_of(3, lambda: plain_spreads(response, sets[:SHARE])) * len(sets) / SHARE
    print(f"spread in dB of every set, unity gain  {fast:8.3f} s")
    figures["spread at unity gain, s"] = fast
    print(
        f"the same, {AT_ONCE} sets at a time          {slow:8.3f} s   {slow / fast:6.1f} x (scaled)"
    )

    best = sets[np.argsort(np.log(costs) + np.log(spreads))[:1000]]
    own, weight = np.ascontiguousarray(response[best]), Weights().level
    start = time.perf_counter()
    settings = gain_and_delay(own, FREQUENCY, GainDelayLimits(), weight)
    took = time.perf_counter() - start
    spread = judged(own, settings.gains(FREQUENCY)).spread_db2.min()
    print(f"gain and delay of the best 1000 sets   {took:8.3f} s   least spread {spread:.2f} dB2")
    figures["gain and delay of the best 1000 sets, s"] = took

    start = time.perf_counter()
    search = best_places(BassField(FREQUENCY, response), COUNT, target, known=[(4, 13, 28, 29)])
    took = time.perf_counter() - start
    choice, middles = search.choices[0], search.known[0]
    print(f"the whole search, 20 choices           {took:8.3f} s   score {choice.score:.2f}")
    print(f"  against {middles.score:.2f} for the four middles of the walls, gain and delay set")
    unit = 2**20 if sys.platform == "darwin" else 2**10
    memory = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / unit
    print(f"most memory {memory:.0f} MB")
    return {**figures, "most memory, MB": memory}


if __name__ == "__main__":
    main()
