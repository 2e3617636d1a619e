"""The bass where its design did not look: the spread over the stations that were held back."""

from __future__ import annotations

import numpy as np

from roomwright.analysis import mean_spatial_variance_db2, smoothed_level_db
from roomwright.layout import stations_held_back
from roomwright.proof.evidence import Evidence
from roomwright.proof.verdict import Requirement, Verdict
from roomwright.signals import log_frequencies

_FRACTION = 24
_LIMIT_DB2 = 9.0

_HELD_BACK = Requirement(
    "bass_held_back",
    "Variance of the bass at stations held back",
    "dB2",
    f"mean spatial variance of the LFE at most {_LIMIT_DB2:g} dB2 where no design looked",
    "measure: Welti & Devantier 2006, from memory; limit: common practice, no source",
)


def held_back_verdicts(evidence: Evidence) -> tuple[Verdict, ...]:
    """How much the level of the subwoofers differs over the stations held back.

    Nothing where none was held back: the bass was then not designed for single stations.
    """
    responses, job = evidence.responses, evidence.job
    held = np.flatnonzero(stations_held_back(job, responses.stations)).tolist()
    rows = [row for row in range(len(responses.sources)) if row not in evidence.mains]
    if not held or not rows:
        return ()
    row, (low, high) = rows[0], job.bass.band_hz
    columns = [column for column in held if responses.present[row, column]]
    if len(columns) < 2:
        why = "Fewer than two stations that were held back were measured."
        return (_HELD_BACK.not_judged(why),)
    trusted = responses.trusted_hz[row, columns]
    low, high = max(low, trusted[:, 0].max()), min(high, trusted[:, 1].min())
    if high < 2.0 * low:
        why = f"The stations held back are trusted from {low:.0f} to {high:.0f} Hz only."
        return (_HELD_BACK.not_judged(why),)
    return (_judged(evidence, row, columns, (low, high)),)


def _judged(
    evidence: Evidence, row: int, columns: list[int], band_hz: tuple[float, float]
) -> Verdict:
    responses = evidence.responses
    seen = np.flatnonzero(responses.present[row])
    frequency = log_frequencies(*band_hz, _FRACTION)
    level = smoothed_level_db(
        responses.samples[row, seen], responses.sampling_rate_hz, frequency, _FRACTION
    )
    held = np.isin(seen, columns)
    variance = float(mean_spatial_variance_db2(level[held]))
    used = level[~held]
    beside = (
        f"; at the {len(used)} others it is {float(mean_spatial_variance_db2(used)):.1f} dB2"
        if len(used) > 1
        else ""
    )
    mean = level[held].mean(axis=0)
    return _HELD_BACK.judged(
        value=variance,
        passed=variance <= _LIMIT_DB2,
        reason=f"At {len(columns)} stations that the design did not use the variance is "
        f"{variance:.1f} dB2{beside}.",
        computed_from=f"levels over 1/{_FRACTION} octave from {band_hz[0]:.0f} to "
        f"{band_hz[1]:.0f} Hz of {evidence.name(row)}",
        detail=[
            (responses.stations[column], float(np.abs(own - mean).mean()))
            for column, own in zip(columns, level[held], strict=True)
        ],
    )
