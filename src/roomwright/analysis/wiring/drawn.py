"""Subwoofers that are heard within their range alone, compared with the field of the drawn room.

There the walls are as near as a part of a wave, and no front stands alone: what tells where a
subwoofer stands, and which way its pressure goes, is the whole pattern of the early sound over
frequency and stations.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property
from itertools import combinations
from typing import Final

import numpy as np
from numpy.typing import NDArray

from roomwright.analysis.wiring.fronts import reaches_beyond
from roomwright.analysis.wiring.system import DrawnBass, HeardSystem
from roomwright.model import Diagnosis

F = NDArray[np.float64]
C = NDArray[np.complex128]

#: What a processor may delay all subwoofers of a type by, seconds. Half a wave of the middle of the
#: range is within it, but turns the ends of two octaves the wrong way.
_DELAYS_S: Final = np.arange(-0.003, 0.0151, 0.00025)

#: A response is explained by the drawing from this likeness on. Walls that move by 2 % and places
#: by 6 cm leave 0.9 and more; less is a room that the drawing does not describe.
_EXPLAINED: Final = 0.8

#: So much more likely than from its own place must it come from another.
_BETTER: Final = 0.1

#: ... or so much more where the loudspeaker that stands there has a subwoofer's range: that alone
#: proves a swap, and all that is left to tell is with which of the subwoofers.
_BETTER_PROVEN: Final = 0.03

#: One station alone may be like another place's by chance.
_STATIONS: Final = 2

#: After so many times of its decay nothing of the damped sound is left.
_DECAYS: Final = 10.0


@dataclass(frozen=True, slots=True)
class _Fit:
    """How the units' responses are explained: signed likeness of each, in the order of the rows."""

    likeness: F
    swapped: tuple[int, int] | None = None

    @property
    def mean(self) -> float:
        return float(np.mean(np.abs(self.likeness)))


class DrawnFits:
    """Likeness of what was heard of narrow subwoofers and what the drawing lets expect.

    Parameters
    ----------
    heard
        With `drawn`; without it nothing is known.
    """

    def __init__(self, heard: HeardSystem) -> None:
        self._heard = heard

    @cached_property
    def rows(self) -> list[int]:
        """Subwoofers that are heard within their range alone, at enough stations."""
        heard = self._heard
        if heard.drawn is None or not heard.timed:
            return []
        return [
            row
            for row in heard.rows(subwoofers=True)
            if not reaches_beyond(heard, row) and heard.usable[row].sum() >= _STATIONS
        ]

    @cached_property
    def likeness(self) -> F:
        """Correlation of each of `rows` with each unit's place, (R, S, D) over the delays.

        Over the frequencies of the row's own range and its usable stations, levels kept.
        """
        heard, drawn = self._heard, self._heard.drawn
        if drawn is None:
            return np.zeros((0, len(heard.units), _DELAYS_S.size))
        turn = np.exp(2j * np.pi * drawn.frequency_hz * _DELAYS_S[:, None])
        found = np.zeros((len(self.rows), len(heard.units), _DELAYS_S.size))
        for k, row in enumerate(self.rows):
            unit = heard.units[row]
            own = (drawn.frequency_hz >= unit.low_hz) & (drawn.frequency_hz <= unit.high_hz)
            at = np.ix_(heard.usable[row], own)
            measured = _damped(heard, drawn, row)[at]
            template = np.array([responses[at] for responses in drawn.responses])
            cross = np.einsum("pf,vpf,df->vd", measured, template.conj(), turn[:, own])
            size = np.sum(np.abs(measured) ** 2) * np.sum(np.abs(template) ** 2, axis=(1, 2))
            found[k] = cross.real / np.maximum(np.sqrt(size), 1e-30)[:, None]
        return found

    def of_type(self, members: Sequence[int], candidates: Sequence[int]) -> _Fit:
        """`members`, indices into `rows`, from the places `candidates`, all late by the same."""
        pairs = self.likeness[list(members), list(candidates)]
        best = int(np.argmax(np.sum(np.abs(pairs), axis=0)))
        return _Fit(pairs[:, best])


def strangers(heard: HeardSystem) -> dict[int, tuple[int, float]]:
    """Narrow subwoofers that a loudspeaker's place and data sheet explain better than their own.

    No proof of a swap by itself: the loudspeaker must show the reverse.

    Returns
    -------
    For each such row the loudspeaker's row and the likeness.
    """
    fits, found = DrawnFits(heard), {}
    mains = heard.rows(subwoofers=False)
    for k, row in enumerate(fits.rows):
        best = np.max(np.abs(fits.likeness[k]), axis=-1)
        if not mains:
            continue
        main = max(mains, key=lambda other: float(best[other]))
        subs = [r for r in range(best.size) if heard.units[r].subwoofer]
        if best[main] >= _EXPLAINED and best[main] - best[subs].max() >= _BETTER_PROVEN:
            found[row] = main, float(best[main])
    return found


def by_drawing(heard: HeardSystem, skip: frozenset[str]) -> tuple[Diagnosis, ...]:
    """Narrow subwoofers that are swapped or reversed.

    Parameters
    ----------
    heard
        The responses and the plan.
    skip
        Units of which something else is known to be wrong.
    """
    fits, found = DrawnFits(heard), []
    kept = [k for k, row in enumerate(fits.rows) if heard.units[row].id not in skip]
    for like in dict.fromkeys(heard.units[fits.rows[k]].like for k in kept):
        members = [k for k in kept if heard.units[fits.rows[k]].like == like]
        if len(members) < 2:
            continue
        names = [heard.units[fits.rows[k]].id for k in members]
        fit = _explained(fits, members)
        if np.min(np.abs(fit.likeness)) < _EXPLAINED:
            continue
        if fit.swapped is not None:
            found.append(_swapped([names[k] for k in fit.swapped], fit))
        found += [_reversed(names[k], float(fit.likeness[k])) for k in _minority(fit.likeness)]
    return tuple(found)


def _explained(fits: DrawnFits, members: list[int]) -> _Fit:
    """The plan, or the swap of two units that is clearly more likely than it."""
    places = [fits.rows[k] for k in members]
    planned = fits.of_type(members, places)
    best = planned
    for one, two in combinations(range(len(members)), 2):
        crossed = list(places)
        crossed[one], crossed[two] = crossed[two], crossed[one]
        fit = fits.of_type(members, crossed)
        gain = np.abs(fit.likeness) - np.abs(planned.likeness)
        if min(gain[one], gain[two]) >= _BETTER and fit.mean > best.mean:
            best = _Fit(fit.likeness, (one, two))
    return best


def _minority(likeness: F) -> list[int]:
    """Which stand against most; of two halves those that stand against the data sheet."""
    down = likeness < 0.0
    odd = down if 2 * down.sum() <= down.size else ~down
    return [int(k) for k in np.flatnonzero(odd)]


def _damped(heard: HeardSystem, drawn: DrawnBass, row: int) -> C:
    """Spectra of a unit's responses at the drawing's frequencies, damped alike, (P, F)."""
    rate = heard.sampling_rate_hz
    count = min(heard.samples.shape[-1], round(_DECAYS / drawn.damping_per_s * rate))
    time = np.arange(count) / rate
    wave = np.exp(-np.outer(time, 2j * np.pi * drawn.frequency_hz + drawn.damping_per_s))
    return np.asarray(heard.samples[row, :, :count] @ wave)


def _swapped(names: list[str], fit: _Fit) -> Diagnosis:
    evidence = fit.mean
    return Diagnosis(
        kind="swapped",
        sources=tuple(names),
        evidence=evidence,
        sentence=f"{names[0]} and {names[1]} are swapped: what is heard of each is what the drawn "
        f"room gives from the other's place ({100 * evidence:.0f} % alike)",
        remedy="exchange the two outputs",
    )


def _reversed(name: str, likeness: float) -> Diagnosis:
    return Diagnosis(
        kind="subwoofer_reversed",
        sources=(name,),
        evidence=likeness,
        sentence="is out of polarity with the other subwoofers: within its range it plays what "
        f"the drawn room gives from its place upside down ({100 * abs(likeness):.0f} % alike)",
        remedy="exchange the two conductors at one end of its cable, or invert the output",
    )
