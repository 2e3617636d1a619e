"""All-pass sections that let a main channel and its bass add up where no delay can."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from itertools import combinations

import numpy as np
import scipy
from numpy.typing import NDArray

from roomwright.model import Biquad
from roomwright.signals import cascade_sos, response
from roomwright.tuning.meeting import Meeting

F = NDArray[np.float64]
C = NDArray[np.complex128]
Sections = tuple[Biquad, ...]

#: Sections are looked for on this grid, then refined between its points.
_OCTAVES_AROUND = 1.5
_STEPS_PER_OCTAVE = 12
_QS = (0.3, 0.42, 0.6, 0.84, 1.2, 1.55)

#: Two are first looked for among every so many of the grid's: all Qs come, not all frequencies.
_COARSER = 5

#: A section must save as much of the sum, or it is not worth a filter.
WORTH_DB = 0.3

#: Rounds in which every section is looked for anew beside the others.
_ROUNDS = 3

#: Group delay that sections may add: a period of the frequency, and above 100 Hz 7 ms at most
#: (thresholds of audibility below 300 Hz are 7 ms to a period and a half; from memory).
_LONGEST_ABOVE_100_HZ_S = 7e-3
_DIFFERENCE_HZ = 0.05
_CHECKED_POINTS = 64

#: Cost of a second of group delay beyond what is allowed, in decibels.
_TOO_LATE_DB = 1e4


def all_passes(
    met: Meeting, count: int, sampling_rate_hz: float, *, refine: bool = True
) -> Sections:
    """Up to two all-pass sections with the least summation loss, the same for all channels.

    They stand on the main channels. One, or two together, are looked for on a grid of frequencies,
    an octave and a half either side of the crossovers, and of Q; then each anew beside the other;
    then both are refined. Each must save 0.3 dB or more. Together they delay no frequency by more
    than its period, nor any above 100 Hz by more than 7 ms.

    Parameters
    ----------
    met
        The channels that share the sections, and their bass.
    count
        The most sections, 0 to 2.
    sampling_rate_hz
        Rate at which the processor filters.
    refine
        Whether to look between the points of the grid.

    Notes
    -----
    Bounds and steps are common practice, no source.
    """
    problem = _Problem(met, _grid_of(met, sampling_rate_hz), sampling_rate_hz)
    sections: Sections = ()
    loss = problem.loss_db(sections)
    for tried in (problem.one, problem.two)[:count]:
        more = problem.with_each_anew(tried())
        if refine:
            more = problem.refined(more)
        reached = problem.loss_db(more)
        if problem.allows(more) and reached >= loss + WORTH_DB * (len(more) - len(sections)):
            sections, loss = more, reached
    return tuple(sorted(sections, key=lambda one: one.frequency_hz))


def turned_back(sections: Sequence[Biquad], frequencies_hz: F, sampling_rate_hz: float) -> C:
    """What sections on a main channel do to the bass re it, at frequencies of any shape."""
    sos = cascade_sos(sections, sampling_rate_hz)
    flat = response(sos, frequencies_hz.ravel(), sampling_rate_hz)
    return np.conj(flat).reshape(frequencies_hz.shape)


def group_delay_s(sections: Sequence[Biquad], frequencies_hz: F, sampling_rate_hz: float) -> F:
    """Group delay (F,) of sections in series, by a central difference of their phase."""
    sos = cascade_sos(sections, sampling_rate_hz)
    above, below = (
        response(sos, frequencies_hz + by, sampling_rate_hz)
        for by in (_DIFFERENCE_HZ, -_DIFFERENCE_HZ)
    )
    return np.asarray(-np.angle(above * below.conj()) / (4 * np.pi * _DIFFERENCE_HZ))


def longest_group_delay_s(frequencies_hz: F) -> F:
    """What sections may delay each frequency, (F,)."""
    period = 1 / frequencies_hz
    held = np.minimum(period, _LONGEST_ABOVE_100_HZ_S)
    return np.asarray(np.where(frequencies_hz > 100.0, held, period))


@dataclass(frozen=True, slots=True, eq=False)
class _Grid:
    """G sections, what they do to the bass (G, N, F), and their group delay (G, K) at K checks."""

    sections: Sections
    turns: C
    checked_hz: F
    delay_s: F

    @property
    def range_hz(self) -> tuple[float, float]:
        return float(self.checked_hz[0]), float(self.checked_hz[-1])


@dataclass(frozen=True, slots=True, eq=False)
class _Problem:
    """The summation loss as a function of sections."""

    met: Meeting
    grid: _Grid
    rate_hz: float

    def loss_db(self, sections: Sections) -> float:
        """The mean loss over the channels."""
        return float(self.met.mean_loss_db(self._turned(sections)[None])[0])

    def one(self) -> Sections:
        """The best section of the grid."""
        return self.with_one_more(())

    def two(self) -> Sections:
        """The best two sections of a coarser grid: two may do what neither does alone."""
        steps = range(0, len(self.grid.sections), _COARSER)
        first, second = np.array(list(combinations(steps, 2))).T
        best = self._best(
            self.grid.turns[first] * self.grid.turns[second],
            self.grid.delay_s[first] + self.grid.delay_s[second],
        )
        return self.grid.sections[first[best]], self.grid.sections[second[best]]

    def allows(self, sections: Sections) -> bool:
        """Whether sections keep to the group delay."""
        at = self.grid.checked_hz
        late = group_delay_s(sections, at, self.rate_hz) - longest_group_delay_s(at)
        return bool(late.max() <= 0)

    def with_one_more(self, sections: Sections) -> Sections:
        """The section of the grid that loses least beside others."""
        best = self._best(
            self._turned(sections) * self.grid.turns,
            self.grid.delay_s + group_delay_s(sections, self.grid.checked_hz, self.rate_hz),
        )
        return (*sections, self.grid.sections[best])

    def _best(self, turns: C, delay_s: F) -> int:
        """Which of several turns (D, N, F) loses least within the group delay (D, K) allowed.

        Where none is allowed it is the one that exceeds it least.
        """
        late = (delay_s - longest_group_delay_s(self.grid.checked_hz)).max(axis=-1)
        allowed = np.flatnonzero(late <= max(0.0, float(late.min())))
        return int(allowed[np.argmax(self.met.mean_loss_db(turns[allowed]))])

    def with_each_anew(self, sections: Sections) -> Sections:
        """The sections, each looked for again beside the others until none moves."""
        for _ in range(_ROUNDS if len(sections) > 1 else 0):
            before = sections
            for place in range(len(sections)):
                anew = self.with_one_more((*sections[:place], *sections[place + 1 :]))
                if self.loss_db(anew) > self.loss_db(sections):
                    sections = anew
            if sections == before:
                break
        return sections

    def refined(self, sections: Sections) -> Sections:
        """The sections moved between the points of the grid."""
        start = np.log([(one.frequency_hz, one.q) for one in sections]).ravel()
        spread = np.array([1 / _STEPS_PER_OCTAVE, 0.2] * len(sections))

        def cost_db(flat: F) -> float:
            return self._cost_db(self._sections(flat))

        found = scipy.optimize.minimize(
            cost_db,
            start,
            method="Nelder-Mead",
            options={
                "maxfev": 40 * len(sections),
                "xatol": 1e-2,
                "fatol": 5e-3,
                "initial_simplex": np.vstack([start, start + np.diag(spread)]),
            },
        )
        moved = self._sections(found.x)
        return moved if self._cost_db(moved) < self._cost_db(sections) else sections

    def _sections(self, flat: F) -> Sections:
        """Sections from logarithms, within bounds, rounded as far below the audible."""
        low, high = self.grid.range_hz
        return tuple(
            Biquad(
                kind="all_pass",
                frequency_hz=float(f"{np.clip(np.exp(f), low, high):.4g}"),
                q=round(float(np.clip(np.exp(q), _QS[0], _QS[-1])), 2),
            )
            for f, q in flat.reshape(-1, 2)
        )

    def _cost_db(self, sections: Sections) -> float:
        at = self.grid.checked_hz
        late = group_delay_s(sections, at, self.rate_hz) - longest_group_delay_s(at)
        return _TOO_LATE_DB * max(float(late.max()), 0.0) - self.loss_db(sections)

    def _turned(self, sections: Sections) -> C:
        return turned_back(sections, self.met.frequencies_hz, self.rate_hz)


def _grid_of(met: Meeting, sampling_rate_hz: float) -> _Grid:
    reach = 2**_OCTAVES_AROUND
    low, high = float(met.crossover_hz.min()) / reach, float(met.crossover_hz.max()) * reach
    rows = [_grid(low, high, tuple(row), sampling_rate_hz) for row in met.frequencies_hz.tolist()]
    turns = np.concatenate([row.turns for row in rows], axis=1)
    return _Grid(rows[0].sections, turns, rows[0].checked_hz, rows[0].delay_s)


@lru_cache(maxsize=16)
def _grid(
    low_hz: float, high_hz: float, frequencies_hz: tuple[float, ...], sampling_rate_hz: float
) -> _Grid:
    steps = round(np.log2(high_hz / low_hz) * _STEPS_PER_OCTAVE)
    sections = tuple(
        Biquad(kind="all_pass", frequency_hz=float(f"{f:.4g}"), q=q)
        for f in np.geomspace(low_hz, high_hz, steps + 1)
        for q in _QS
    )
    f, checked = np.array(frequencies_hz), np.geomspace(low_hz, high_hz, _CHECKED_POINTS)
    return _Grid(
        sections,
        np.stack([turned_back((one,), f, sampling_rate_hz) for one in sections])[:, None],
        checked,
        np.stack([group_delay_s((one,), checked, sampling_rate_hz) for one in sections]),
    )
