"""Noise that comes and goes in a take, and the sounds of a loudspeaker that is not whole."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Final

import numpy as np
import scipy
from numpy.typing import NDArray

from roomwright.measurement.quality.cells import CELL_OCTAVES_HZ, Cells
from roomwright.measurement.quality.orders import (
    DISTORTED_DB,
    KINKED_DB,
    distorted,
    total_distortion_db,
)
from roomwright.model import Diagnosis
from roomwright.signals import nominal_words

F = NDArray[np.float64]

#: The steady noise of an octave is read from this quantile of its cells: an event may fill most of
#: them. Where a cell has few degrees of freedom low quantiles say little: there from the second.
_STEADY, _STEADY_BASS, _FEW_DEGREES = 0.1, 0.25, 15.0

#: Chance that steady Gaussian noise alone makes one cell count. Some 500 cells of a take and a few
#: hundred takes of a survey leave 1 false alarm in 100 surveys for two such cells that touch.
_CHANCE: Final = 1e-6

#: Rooms are not as steady as Gaussian noise; what rises less than this beyond chance is the room,
#: dB. Common practice, no source: somewhat more than twice as many sources of the same kind.
_RISE_DB: Final = 4.0

#: A single cell counts alone where it stands out by so much more, dB: its neighbours may be hidden.
_ALONE_DB: Final = 10.0

#: An event is short if it lasts less than this: a slam, a knock, a cough.
_SHORT_S: Final = 0.35

#: A part that rattles does so as long as the cone moves far: over some octaves of the sweep. In
#: less than this a noise from elsewhere cannot be told from it.
_RATTLE_OCTAVES: Final = 1.5

#: Harmonics fall with their order, by 12 dB a doubling for a kink in the transfer curve: over the
#: noise they rise steadily while the sweep comes nearer. The noise of a loose part does not depend
#: on the order, and one from elsewhere comes and goes faster, at the same time in all octaves. dB a
#: doubling, at least and at most; dB over the noise from which cells tell, what they scatter, and
#: how far they may fall back on the way: a syllable ends.
_SLOPES_DB, _TELLS_DB, _SCATTER_DB, _FALLS_BACK_DB = (4.0, 30.0), 3.0, 4.0, 8.0

#: The steepest harmonics rise by this from one cell to the next that does not overlap it: 30 dB a
#: doubling, in sweeps of up to 6 octaves a second, dB.
_ABRUPT_DB: Final = 15.0

#: What comes of the loudspeaker is heard above the sweep, a noise in the room as often below it. So
#: many times more cells above tell: some of a loud rattle lie below.
_MOSTLY_ABOVE: Final = 4


@dataclass(frozen=True, slots=True)
class _Excess:
    """Cells that stand out, shape (T, B) as the cells, by how many dB, and which clearly."""

    counts: NDArray[np.bool_]
    over_db: F
    clear: NDArray[np.bool_]


def unsteady(cells: Cells, distortion_db: F) -> Diagnosis | None:
    """What is not steady noise in a take: an event in the room, a rattle, or high distortion.

    Parameters
    ----------
    cells
        Of the take.
    distortion_db
        Orders 2 to 5 re the fundamental, shape (4,); NaN where unknown.
    """
    excess = _excess(cells)
    below, above = excess.counts & ~cells.above, excess.counts & cells.above
    total_db = total_distortion_db(distortion_db)
    harmonic = _rises_with_the_sweep(cells, excess)
    few_below = _MOSTLY_ABOVE * np.count_nonzero(below) <= np.count_nonzero(above)
    heard_below, heard_above = (_heard(excess, part) for part in (below, above))
    if heard_below and not few_below:
        return _event(cells, excess)
    if total_db > (KINKED_DB if harmonic else DISTORTED_DB) and (harmonic or not heard_above):
        return distorted(total_db, high_orders=harmonic)
    if harmonic or not heard_above:
        return None
    rows = np.flatnonzero(above.any(axis=1))
    octaves = float(np.log2(cells.sweep_hz[rows[-1]] / cells.sweep_hz[rows[0]]))
    if octaves < _RATTLE_OCTAVES:
        return _event(cells, replace(excess, counts=above))
    return _rattle(cells, above, excess.over_db)


def event(cells: Cells) -> tuple[Diagnosis | None, float, float]:
    """A noise that comes and goes while several sources play, and from when to when, seconds.

    Whether one of them rattles cannot be told: what lies above one's sweep lies below another's.
    """
    excess = _excess(cells)
    if not _heard(excess, excess.counts):
        return None, 0.0, 0.0
    found = _event(cells, excess).model_copy(
        update={
            "remedy": "wait until it is quiet and record it again; if it comes again, measure the "
            "loudspeakers one by one: one may rattle",
            "at_hz": None,
        }
    )
    times_s = cells.time_s[excess.counts.any(axis=1)]
    half_s = float(cells.time_s[0])
    return found, float(times_s[0]) - half_s, float(times_s[-1]) + half_s


def event_around(cells: Cells, harmonics: F, total_db: float) -> Diagnosis | None:
    """What comes and goes where nothing that was played is heard, see `free_cells`.

    While the sweep plays, harmonics of high order rise steadily: what rises so until it cannot be
    seen any more may be of the loudspeaker, and is none.

    Parameters
    ----------
    cells
        Of a recording.
    harmonics
        Greatest power that those of the loudspeaker have in each, shape (T, B).
    total_db
        Harmonic distortion of the take.
    """
    excess = _excess(cells)
    meanwhile = excess.counts & cells.above
    if _heard(excess, excess.counts & ~cells.above):
        return _event(cells, excess)
    meanwhile[:, [_may_be_harmonic(one) for one in _meanwhile_db(cells, excess)]] = False
    with np.errstate(invalid="ignore"):
        of_unit = meanwhile & (cells.power <= harmonics)
    if _heard(excess, meanwhile & ~of_unit):
        return _event(cells, replace(excess, counts=meanwhile & ~of_unit))
    if total_db > KINKED_DB and _heard(excess, of_unit):
        return distorted(total_db, high_orders=True)
    return None


def _meanwhile_db(cells: Cells, excess: _Excess) -> list[F]:
    """Decibels over the steady noise while the sweep played, of each octave."""
    seen = np.isfinite(cells.power) & cells.above
    return [excess.over_db[seen[:, octave], octave] for octave in range(seen.shape[1])]


def _may_be_harmonic(over_db: F) -> bool:
    """Whether what rises over the noise, shape (n,), rises slowly and until the last."""
    if over_db.size < 3:
        return True
    risen_db = over_db[2:] - np.maximum(over_db[:-2], 0.0)
    return bool(over_db[-1] > over_db.max() - _FALLS_BACK_DB and risen_db.max() < _ABRUPT_DB)


def _excess(cells: Cells) -> _Excess:
    count = np.isfinite(cells.power)
    usable = count.sum(axis=0) >= 5
    steady = np.ones(CELL_OCTAVES_HZ.size)
    for octave in np.flatnonzero(usable):
        kept = count[:, octave]
        degrees = float(np.median(cells.degrees[kept, octave]))
        quantile = _STEADY if degrees >= _FEW_DEGREES else _STEADY_BASS
        expected = scipy.stats.chi2.ppf(quantile, degrees) / degrees
        steady[octave] = np.quantile(cells.power[kept, octave], quantile) / expected
    with np.errstate(invalid="ignore", divide="ignore"):
        ratio = cells.power / np.maximum(steady, np.finfo(float).tiny)
    limit = scipy.stats.chi2.isf(_CHANCE, cells.degrees) / cells.degrees * 10.0 ** (_RISE_DB / 10.0)
    ratio = np.where(count & usable, ratio, 0.0)
    counts, clear = ratio > limit, ratio > limit * 10.0 ** (_ALONE_DB / 10.0)
    with np.errstate(invalid="ignore", divide="ignore"):
        over_db = np.where(count, 10.0 * np.log10(np.maximum(ratio, 1e-12)), -np.inf)
    return _Excess(counts, over_db, clear)


def _heard(excess: _Excess, counts: NDArray[np.bool_]) -> bool:
    """Whether two cells that count are neighbours in time or in frequency, or one is clear."""
    if (excess.clear & counts).any():
        return True
    in_time = (counts[1:] & counts[:-1]).any()
    in_frequency = (counts[:, 1:] & counts[:, :-1]).any()
    return bool(in_time or in_frequency)


def _rises_with_the_sweep(cells: Cells, excess: _Excess) -> bool:
    """Whether what stands above the sweep falls with its order as harmonics do."""
    slopes = []
    for octave in range(CELL_OCTAVES_HZ.size):
        known = np.isfinite(cells.power[:, octave]) & cells.above[:, octave]
        if not (excess.counts[:, octave] & known).any():
            continue
        over_db = excess.over_db[known, octave]
        falls_back = float((np.maximum.accumulate(over_db) - over_db).max())
        if over_db[-2:].max() < over_db.max() - _SCATTER_DB or falls_back > _FALLS_BACK_DB:
            return False
        tells = over_db > _TELLS_DB
        if np.count_nonzero(tells) >= 3:
            doublings = np.log2(cells.sweep_hz[known][tells])
            slopes.append(float(np.polyfit(doublings, over_db[tells], 1)[0]))
    least, most = _SLOPES_DB
    return bool(slopes) and least <= float(np.median(slopes)) <= most


def _event(cells: Cells, excess: _Excess) -> Diagnosis:
    strongest = np.where(excess.counts, excess.over_db, -np.inf)
    row, octave = np.unravel_index(int(np.argmax(strongest)), strongest.shape)
    over_db = float(strongest[row, octave])
    rows = np.flatnonzero(excess.counts.any(axis=1))
    # Cells overlap by half.
    cell_s = 2.0 * float(cells.time_s[1] - cells.time_s[0])
    lasts_s = float(cells.time_s[rows[-1]] - cells.time_s[rows[0]]) + cell_s
    band = CELL_OCTAVES_HZ[excess.counts.any(axis=0)]
    loudest = nominal_words(float(CELL_OCTAVES_HZ[octave]), 1)
    return Diagnosis(
        kind="noise_event",
        evidence=over_db,
        sentence=f"holds a noise that comes and goes, {_likely(lasts_s, band)}: {over_db:.0f} dB "
        f"over the steady noise in the octave of {loudest}, "
        f"{_when(float(cells.time_s[row]))}, for {lasts_s:.1f} s",
        remedy="wait until it is quiet and record it again",
        at_hz=_passed_hz(cells, excess.counts),
    )


def _when(time_s: float) -> str:
    place = "before" if time_s < 0.0 else "after"
    return f"{abs(time_s):.1f} s {place} the sweep began"


def _passed_hz(cells: Cells, counts: NDArray[np.bool_]) -> float | None:
    """Frequency that the sweep passed in the middle of what stands out; None if it did not play."""
    middle = float(np.median(cells.sweep_hz[np.nonzero(counts)[0]]))
    return middle if middle < float(np.nanmax(cells.sweep_hz)) else None


def _likely(lasts_s: float, band_hz: F) -> str:
    if lasts_s < _SHORT_S:
        return "as short as a door or a knock"
    return (
        "as low as traffic or an aircraft"
        if band_hz.max() < 400.0
        else "as of a voice or a vehicle"
    )


def _rattle(cells: Cells, above: NDArray[np.bool_], over_db: F) -> Diagnosis:
    strongest = np.where(above, over_db, -np.inf)
    row, octave = np.unravel_index(int(np.argmax(strongest)), strongest.shape)
    rows = np.flatnonzero(above.any(axis=1))
    low, high = (cells.sweep_hz[rows[end]] for end in (0, -1))
    return Diagnosis(
        kind="rattle",
        evidence=float(strongest[row, octave]),
        sentence=f"rattles while the sweep passes {low:.0f} to {high:.0f} Hz: "
        f"{strongest[row, octave]:.0f} dB over the noise around "
        f"{nominal_words(float(CELL_OCTAVES_HZ[octave]), 1)}",
        remedy="find the loose part (grille, screw, something in the room) or the rubbing coil",
        at_hz=_passed_hz(cells, above),
    )
