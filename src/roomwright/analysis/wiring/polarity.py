"""Units whose pressure goes the other way than that of their neighbours."""

from __future__ import annotations

from typing import Final

import numpy as np
from numpy.typing import NDArray

from roomwright.analysis.wiring.fronts import fronts, likeness, uprightness
from roomwright.analysis.wiring.system import HeardSystem
from roomwright.model import Diagnosis

#: Two units are told to be reversed against each other if the mean of the likeness of their fronts
#: over the stations lies below this: like units have +0.5 and more, however the walls help.
_REVERSED: Final = -0.3

#: A subwoofer's front stands upright if it leans by so much: a third of the whole for a pure pulse.
_UPRIGHT: Final = 0.1


def reversed_units(heard: HeardSystem, skip: frozenset[str]) -> tuple[Diagnosis, ...]:
    """Units reversed against most of those like them.

    Units of different types cannot be compared: their filters may turn the phase by half a turn.
    Where one of two is reversed, both are named unless they are subwoofers whose fronts clearly
    stand up and down: of loudspeakers with several ways the data sheet does not tell which way.
    """
    rows = [
        row
        for row, unit in enumerate(heard.units)
        if heard.usable[row].any() and unit.id not in skip
    ]
    found: list[Diagnosis] = []
    for like in dict.fromkeys(heard.units[row].like for row in rows):
        same = [row for row in rows if heard.units[row].like == like]
        found += _of_one_type(heard, same)
    return tuple(found)


def _of_one_type(heard: HeardSystem, rows: list[int]) -> list[Diagnosis]:
    alike = np.zeros((len(rows), len(rows)))
    cut = [fronts(heard, row) for row in rows]
    for i in range(len(rows)):
        for j in range(i):
            alike[i, j] = alike[j, i] = likeness(cut[i], cut[j])
    if len(rows) == 2:
        return [_of_two(heard, rows, cut, alike[0, 1])] if alike[0, 1] < _REVERSED else []
    votes = np.where(alike < _REVERSED, -1.0, np.where(alike > -_REVERSED, 1.0, 0.0))
    return [
        _reversed(heard, row, float(np.sum(alike[i]) / max(len(rows) - 1, 1)))
        for i, row in enumerate(rows)
        if votes[i].sum() < 0 and np.count_nonzero(votes[i] < 0) > len(rows) / 2 - 0.5
    ]


def _of_two(
    heard: HeardSystem, rows: list[int], cut: list[list[NDArray[np.float64] | None]], alike: float
) -> Diagnosis:
    up = [
        uprightness(one, heard.units[row].high_slope_db) for one, row in zip(cut, rows, strict=True)
    ]
    if not heard.units[rows[0]].subwoofer or min(up) > -_UPRIGHT or max(up) < _UPRIGHT:
        return _pair(heard, rows, alike)
    return _reversed(heard, rows[int(np.argmin(up))], alike)


def _kind(heard: HeardSystem, row: int) -> tuple[str, str]:
    unit = heard.units[row]
    if unit.subwoofer:
        return "subwoofer_reversed", "the other subwoofers"
    if unit.group is not None:
        return "array_member_reversed", f"the other loudspeakers of {unit.group}"
    return "reversed", "the other loudspeakers of its type"


def _reversed(heard: HeardSystem, row: int, alike: float) -> Diagnosis:
    kind, against = _kind(heard, row)
    return Diagnosis.model_validate(
        {
            "kind": kind,
            "sources": (heard.units[row].id,),
            "evidence": alike,
            "sentence": f"is out of polarity with {against}: its first front is theirs upside "
            f"down (likeness {alike:+.2f}, in polarity it is near +1)",
            "remedy": "exchange the two conductors at one end of its cable, or invert the output",
        }
    )


def _pair(heard: HeardSystem, rows: list[int], alike: float) -> Diagnosis:
    kind, _ = _kind(heard, rows[0])
    names = tuple(heard.units[row].id for row in rows)
    return Diagnosis.model_validate(
        {
            "kind": kind,
            "sources": names,
            "evidence": alike,
            "sentence": f"{names[0]} and {names[1]} are out of polarity with each other: the first "
            f"front of one is that of the other upside down (likeness {alike:+.2f})",
            "remedy": "test which of the two pushes first; exchange the conductors of the other",
        }
    )
