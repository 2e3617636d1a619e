"""Where units are by the arrival of their sound: swapped with one another, or far from the plan."""

from __future__ import annotations

from itertools import combinations
from typing import Final

import numpy as np
from numpy.typing import NDArray

from roomwright.analysis.wiring.fronts import fronts_s
from roomwright.analysis.wiring.system import HeardSystem
from roomwright.model import Diagnosis

F = NDArray[np.float64]

#: What distances may be off, root mean square over the stations, metres. Loudspeaker and
#: microphone each stand within 5 cm of the plan; twice that is doubtful. A subwoofer's front is
#: known to a quarter of its wave at 500 Hz, and its own middle hardly better.
_MAIN_M, _SUB_M = 0.15, 0.4

#: A swap is looked for from this on: that each of two units lies where the other should is a
#: second piece of evidence, and loudspeakers side by side are about as far from every station.
_SWAPPED_M: Final = 0.1

#: Where half of at least so many loudspeakers are off by half as much, the microphone is.
_ENOUGH_TO_BLAME: Final = 4

#: From so many other stations where a unit is heard in its place, one alone is wrong.
_ENOUGH_TO_TELL: Final = 2

#: A swap explains the distances if it leaves less than this share of what is off without it.
_SHARE: Final = 0.5


def arrival_m(heard: HeardSystem, skip: frozenset[str] = frozenset()) -> F:
    """Distances by arrival, shape (S, P), each kind's usual offset removed; NaN where unknown.

    Units in `skip` are left out.
    """
    found = np.full(heard.usable.shape, np.nan)
    planned = heard.planned_m()
    for subwoofers in (False, True):
        rows = [r for r in heard.rows(subwoofers=subwoofers) if heard.units[r].id not in skip]
        for row in rows:
            found[row] = fronts_s(heard, row) * heard.speed_m_s
        # What a filter or an unknown latency adds is common to all of a kind.
        if np.isfinite(found[rows]).any():
            found[rows] -= np.nanmedian(found[rows] - planned[rows])
    return found


def misplaced(heard: HeardSystem, skip: frozenset[str]) -> tuple[Diagnosis, ...]:
    """Units whose sound comes from another unit's place, or from none of the planned ones."""
    measured, planned = arrival_m(heard, skip), heard.planned_m()
    measured[:, _strange_stations(heard, measured - planned)] = np.nan
    found: list[Diagnosis] = []
    for subwoofers in (False, True):
        limit = _SUB_M if subwoofers else _MAIN_M
        rows = [r for r in heard.rows(subwoofers=subwoofers) if heard.units[r].id not in skip]
        off = {(s, u): _off_m(measured[s], planned[u]) for s in rows for u in rows}
        odd = [row for row in rows if off[row, row] > _SWAPPED_M]
        swapped = _swaps(odd, off)
        found += [_swap(heard, one, two, off) for one, two in swapped]
        wrong = [row for row in rows if off[row, row] > limit]
        for row in (row for row in wrong if all(row not in pair for pair in swapped)):
            late_m = measured[row] - planned[row]
            odd_one = _odd_one(late_m, limit)
            if odd_one is None:
                found.append(_far(heard, row, late_m, off[row, row]))
            elif late_m[odd_one] < 0:
                found.append(_early(heard, row, odd_one, -float(late_m[odd_one])))
    return tuple(found)


def _odd_one(late_m: F, limit: float) -> int | None:
    """The only station from which a unit is off: it did not move, shape (P,) searched."""
    known = np.flatnonzero(np.isfinite(late_m))
    worst = int(known[np.argmax(np.abs(late_m[known]))])
    rest = known[known != worst]
    if rest.size < _ENOUGH_TO_TELL or np.abs(late_m[rest]).max() > limit / 2.0:
        return None
    return worst


def _strange_stations(heard: HeardSystem, late_m: F) -> NDArray[np.bool_]:
    """Stations from which most loudspeakers are off, shape (P,): there the microphone is."""
    mains = np.abs(late_m[heard.rows(subwoofers=False)])
    known = np.isfinite(mains)
    off = np.sum(known & (mains > _MAIN_M / 2.0), axis=0)
    return np.asarray((known.sum(axis=0) >= _ENOUGH_TO_BLAME) & (off > known.sum(axis=0) / 2))


def _off_m(measured: F, planned: F) -> float:
    known = np.isfinite(measured)
    if not known.any():
        return 0.0
    return float(np.sqrt(np.mean((measured - planned)[known] ** 2)))


def _swaps(odd: list[int], off: dict[tuple[int, int], float]) -> list[tuple[int, int]]:
    """Pairs that explain each other's distances, the best first, each unit once."""
    fits = []
    for one, two in combinations(odd, 2):
        crossed = max(off[one, two], off[two, one])
        straight = min(off[one, one], off[two, two])
        if crossed < _SHARE * straight:
            fits.append((crossed / straight, one, two))
    pairs: list[tuple[int, int]] = []
    for _, one, two in sorted(fits):
        if all(one not in pair and two not in pair for pair in pairs):
            pairs.append((one, two))
    return pairs


def _swap(heard: HeardSystem, one: int, two: int, off: dict[tuple[int, int], float]) -> Diagnosis:
    names = heard.units[one].id, heard.units[two].id
    straight = max(off[one, one], off[two, two])
    crossed = max(off[one, two], off[two, one])
    return Diagnosis(
        kind="swapped",
        sources=names,
        evidence=straight,
        sentence=f"{names[0]} and {names[1]} are swapped: each is heard from the other's place "
        f"to within {crossed:.2f} m, and from its own it is {straight:.2f} m off",
        remedy="exchange the two outputs",
    )


def _early(heard: HeardSystem, row: int, column: int, early_m: float) -> Diagnosis:
    """Nothing arrives before the sound itself but a noise; what comes late may be in its way."""
    return Diagnosis(
        kind="noise_event",
        sources=(heard.units[row].id,),
        stations=(heard.stations[column],),
        evidence=early_m,
        sentence=f"holds a noise before its sound arrives: it seems {early_m:.1f} m nearer here "
        "than planned, and at the other stations it is where it should be",
        remedy="wait until it is quiet and record it again",
    )


def _far(heard: HeardSystem, row: int, late_m: NDArray[np.float64], off_m: float) -> Diagnosis:
    mean = float(np.nanmean(late_m))
    nearer = mean < -0.5 * off_m
    if abs(mean) < 0.5 * off_m:
        said = f"its distances to the stations are off by {off_m:.2f} m on average"
    else:
        said = f"it is heard {abs(mean):.2f} m {'farther' if mean > 0 else 'nearer'} than planned"
    return Diagnosis(
        kind="far_from_plan",
        sources=(heard.units[row].id,),
        evidence=off_m,
        sentence=f"is not where it is planned{'' if nearer else ', or plays with a delay'}: {said}",
        remedy="measure its place and correct the plan"
        + ("" if nearer else "; look for a delay in its output"),
    )
