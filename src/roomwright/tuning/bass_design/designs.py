"""Sets of sources designed with their best gains and delays: one after the other, or many at once.

The work is a plain function applied to parts of a list, so that whoever calls can have it done
elsewhere: `Each` is the built-in `map`, or one that sends the parts to other machines.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from functools import partial
from typing import Any, Protocol

import numpy as np
from numpy.typing import NDArray

from roomwright.tuning.bass_design.field import BassField
from roomwright.tuning.bass_design.gain_delay import (
    QUICK,
    GainDelayLimits,
    Settings,
    Thoroughness,
    gain_and_delay,
)
from roomwright.tuning.bass_design.judging import Weights, judged
from roomwright.tuning.bass_design.symmetry import Symmetry, twin_codes

F = NDArray[np.float64]
C = NDArray[np.complex128]
Index = NDArray[np.intp]

#: Sets that make one part of the work; a multiple of what `gain_and_delay` does at once.
_PART = 16


class Each(Protocol):
    """Applies a function to every item, anywhere, and gives the results in their order."""

    def __call__(self, function: Callable[[Any], Any], items: Sequence[Any], /) -> Iterable[Any]:
        """Results of the function."""


def here(function: Callable[[Any], Any], items: Sequence[Any], /) -> Iterable[Any]:
    """Apply a function to every item in this process, one after the other."""
    return map(function, items)


@dataclass(slots=True)
class Designs:
    """Sets designed so far (n, N), their settings and figures; `known` holds their twin codes."""

    sets: Index
    settings: Settings
    spread_db2: F
    level_db: F
    known: set[int]

    def join(self, others: Designs) -> None:
        """Take in other designs."""
        self.sets = np.concatenate([self.sets, others.sets])
        self.settings = self.settings.and_of(others.settings)
        self.spread_db2 = np.concatenate([self.spread_db2, others.spread_db2])
        self.level_db = np.concatenate([self.level_db, others.level_db])
        self.known |= others.known


@dataclass(frozen=True, slots=True)
class Problem:
    """What sets are designed for, and who does the work; `found` are the field's symmetries."""

    field: BassField
    target: C
    limits: GainDelayLimits
    weights: Weights
    found: tuple[Symmetry, ...]
    each: Each

    def codes(self, sets: Index) -> NDArray[np.int64]:
        """A number for each set (n, N), the same for sets that mirror each other."""
        return twin_codes(sets, self.found, self.field.sources)

    def design(
        self, sets: Index, start: Settings | None = None, effort: Thoroughness = QUICK
    ) -> Designs:
        """Sets (n, N), one at least, with their best gains and delays, from a start if any."""
        places = [slice(at, at + _PART) for at in range(0, len(sets), _PART)]
        parts = [(sets[at], None if start is None else start.of(at)) for at in places]
        work = partial(_designed, self.field, self.limits, self.weights.level, effort)
        settings, spreads, levels = zip(*self.each(work, parts), strict=True)
        together = settings[0]
        for others in settings[1:]:
            together = together.and_of(others)
        known = set(self.codes(sets).tolist())
        return Designs(sets, together, np.concatenate(spreads), np.concatenate(levels), known)

    def scores(self, designs: Designs) -> F:
        """Scores (n,) of designs."""
        return self.weights.score(designs.spread_db2, designs.level_db)

    def without_twins(self, sets: Index) -> Index:
        """The sets (n, N) without images of earlier ones."""
        _, place = np.unique(self.codes(sets), return_index=True)
        return sets[np.sort(place)]


def _designed(
    field: BassField,
    limits: GainDelayLimits,
    level_weight: float,
    effort: Thoroughness,
    part: tuple[Index, Settings | None],
) -> tuple[Settings, F, F]:
    """Settings, spread and level of some sets; a plain function, so that it can be sent away."""
    sets, start = part
    own, frequency = field.response[sets], field.frequencies_hz
    settings = gain_and_delay(own, frequency, limits, level_weight, effort, start)
    result = judged(own, settings.gains(frequency))
    return settings, result.spread_db2, result.level_db
