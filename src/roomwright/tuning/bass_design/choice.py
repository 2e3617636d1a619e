"""One set of places with its settings, and all that speaks for and against it."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from roomwright._progress import Progress
from roomwright.tuning.bass_design.designs import Problem
from roomwright.tuning.bass_design.gain_delay import THOROUGH, Settings
from roomwright.tuning.bass_design.judging import judged
from roomwright.tuning.bass_design.magnitude import magnitude_gains
from roomwright.tuning.bass_design.sensitivity import Sensitivity, Variants, sensitivity
from roomwright.tuning.bass_design.symmetry import all_equivalent, images

F = NDArray[np.float64]
Index = NDArray[np.intp]

#: Sets refined at once, between two reports of progress.
_AT_ONCE = 8

#: Less than this is no gain, dB squared.
_NOTHING_DB2 = 0.05


@dataclass(frozen=True, slots=True)
class Choice:
    """A set of sources, by number, and what it gives.

    `settings` holds gain, delay and polarity of each; `spread_db2`, `range_db`, `level_db` and
    `level_per_drive_db` are as in `Judged`, with these settings. `alike_spread_db2` and
    `alike_level_db` are with all sources alike, `free_spread_db2` and `free_level_db` with
    complex gains free at every frequency: what better processing could reach, and its price.
    `stands_for` counts the set and its mirror images. `remark` says where processing is useless.
    """

    sources: tuple[int, ...]
    settings: Settings
    spread_db2: float
    range_db: float
    level_db: float
    level_per_drive_db: float
    alike_spread_db2: float
    alike_level_db: float
    free_spread_db2: float
    free_level_db: float
    score: float
    sensitivity: Sensitivity
    stands_for: int
    remark: str


def chosen(
    problem: Problem, sets: Index, variants: Variants, progress: Progress
) -> tuple[Choice, ...]:
    """The sets (n, N) with the best settings a thorough look finds, in their order.

    Parameters
    ----------
    problem
        What they are designed for.
    sets
        Numbers of the sources of each set.
    variants
        Fields for the sensitivity.
    progress
        Told before each part; it may raise `Cancelled`.
    """
    choices = []
    for at in range(0, len(sets), _AT_ONCE):
        progress(at / len(sets), "refining the best places")
        some = sets[at : at + _AT_ONCE]
        designs = problem.design(some, effort=THOROUGH)
        choices += [
            _choice(problem, sources, designs.settings.of(number), variants)
            for number, sources in enumerate(some)
        ]
    return tuple(choices)


def _choice(problem: Problem, sources: Index, settings: Settings, variants: Variants) -> Choice:
    field, weights = problem.field, problem.weights
    own, frequency = field.response[sources], field.frequencies_hz
    gains = settings.gains(frequency)
    tuned, alike = judged(own, gains), judged(own, np.ones_like(gains))
    free = judged(own, magnitude_gains(own[None])[0])
    return Choice(
        sources=tuple(sources.tolist()),
        settings=settings,
        spread_db2=float(tuned.spread_db2),
        range_db=float(tuned.range_db),
        level_db=float(tuned.level_db),
        level_per_drive_db=float(tuned.level_per_drive_db),
        alike_spread_db2=float(alike.spread_db2),
        alike_level_db=float(alike.level_db),
        free_spread_db2=float(free.spread_db2),
        free_level_db=float(free.level_db),
        score=float(weights.score(tuned.spread_db2, tuned.level_db)),
        sensitivity=sensitivity(field.response, sources, gains, variants),
        stands_for=len(images(sources, problem.found)),
        remark=remark(
            float(alike.spread_db2 - tuned.spread_db2),
            float(alike.spread_db2 - free.spread_db2),
            float(alike.level_db - free.level_db),
            equivalent=len(sources) > 1 and all_equivalent(own),
        ),
    )


def remark(gained_db2: float, free_db2: float, price_db: float, *, equivalent: bool) -> str:
    """A plain sentence where gains and delays do nothing; empty where they help.

    Parameters
    ----------
    gained_db2
        By how much gain and delay lower the spread.
    free_db2, price_db
        By how much gains free at every frequency would lower it, and the level they would cost.
    equivalent
        Whether symmetries of room and seats lead from each source to every other one.
    """
    if gained_db2 >= _NOTHING_DB2:
        return ""
    because = (
        "The subwoofers mirror each other about the seats, so no difference in gain or delay "
        "evens out the seats"
        if equivalent
        else "No difference in gain or delay evens out the seats"
    )
    if free_db2 < _NOTHING_DB2:
        return f"{because}, nor does any filter: only another place would."
    return (
        f"{because}; filters that differ could lower the spread by {free_db2:.1f} dB squared at "
        f"most, for {max(price_db, 0.0):.1f} dB of level. Another place is the better way."
    )


def pareto(spread_db2: F, level_db: F) -> Index:
    """Places, by rising spread, that no other beats in both spread and level."""
    order = np.lexsort((-level_db, spread_db2))
    highest = np.maximum.accumulate(level_db[order])
    first = np.concatenate([[True], highest[1:] > highest[:-1]])
    return np.asarray(order[first])
