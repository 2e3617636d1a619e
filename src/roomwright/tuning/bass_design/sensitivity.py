"""How the spread of finished settings grows when the room is not quite as assumed."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from roomwright.tuning.bass_design.judging import judged

F = NDArray[np.float64]
C = NDArray[np.complex128]

#: The gain error looked at.
GAIN_ERROR_DB = 1.0


@dataclass(frozen=True, slots=True)
class Variants:
    """The same field with every source moved, or in other air, each (V, S, P, F) or None.

    `moved` holds one field for every direction in which all sources are moved, usually by 10 cm;
    `other_air` one for every other temperature, usually 3 K either way. Measured fields have
    neither.
    """

    moved: C | None = None
    other_air: C | None = None


@dataclass(frozen=True, slots=True)
class Sensitivity:
    """Largest spread, dB squared, when one thing is off; None where no such field is known.

    `moved_db2` for one subwoofer moved, `gain_db2` for one 1 dB off, `air_db2` for other air.
    """

    moved_db2: float | None
    gain_db2: float
    air_db2: float | None


def sensitivity(
    response: C, sources: NDArray[np.intp], gains: C, variants: Variants
) -> Sensitivity:
    """Largest spread of a set's settings with one place, one gain or the air off.

    Parameters
    ----------
    response
        (S, P, F), the field of all sources.
    sources
        (N,), those of the set.
    gains
        (N, F), their complex gains.
    variants
        Fields with sources moved and in other air.
    """
    own = response[sources]
    factors = 10.0 ** (np.array([-1.0, 1.0]) * GAIN_ERROR_DB / 20.0)
    off = [_with(gains, n, gains[n] * by) for n in range(len(gains)) for by in factors]
    moved = None
    if variants.moved is not None:
        fields = [
            _with(own, n, there[source])
            for there in variants.moved
            for n, source in enumerate(sources)
        ]
        moved = _worst(np.stack(fields), gains)
    air = None
    if variants.other_air is not None:
        air = _worst(variants.other_air[:, sources], gains)
    return Sensitivity(moved, _worst(own, np.stack(off)), air)


def _with(whole: C, place: int, part: C) -> C:
    changed = whole.copy()
    changed[place] = part
    return changed


def _worst(response: C, gains: C) -> float:
    return float(judged(response, gains).spread_db2.max())
