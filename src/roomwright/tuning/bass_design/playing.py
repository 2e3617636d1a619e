"""Subwoofers that play together, one of which can be moved without computing the others anew."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from roomwright._errors import InputError
from roomwright.tuning.bass_design.judging import Judged, judged

C = NDArray[np.complex128]


@dataclass(frozen=True, slots=True)
class Playing:
    """Fields (N, P, F) of N sources, their gains (N, F), and the pressure of all (P, F)."""

    response: C
    gains: C
    pressure: C


def playing(response: C, gains: C) -> Playing:
    """N sources with fields (N, P, F) and complex gains (N, F), playing together."""
    return Playing(response, gains, np.einsum("npf,nf->pf", response, gains))


def with_source_moved(before: Playing, source: int, row: C) -> Playing:
    """The same with another field (P, F) of one source: where it stands now.

    Parameters
    ----------
    before
        All sources where they stood.
    source
        Number of the one that moved.
    row
        (P, F), its field from the new place.

    Raises
    ------
    InputError
        If there is no such source, or the field has another shape.
    """
    if not 0 <= source < len(before.response) or row.shape != before.response.shape[1:]:
        raise InputError(
            f"a field of shape {row.shape} cannot replace that of source {source} of "
            f"{len(before.response)}; it must have shape {before.response.shape[1:]}"
        )
    change = (row - before.response[source]) * before.gains[source]
    response = before.response.copy()
    response[source] = row
    return Playing(response, before.gains, before.pressure + change)


def judged_playing(now: Playing) -> Judged:
    """Spread and level of sources that play together, from their pressure alone."""
    drive = np.abs(now.gains).max(axis=0)
    alone = judged((now.pressure / drive)[None], np.ones((1, drive.size), dtype=np.complex128))
    share = 20.0 * np.log10(len(now.response))
    return Judged(
        alone.spread_db2, alone.range_db, alone.level_db, alone.level_per_drive_db - share
    )
