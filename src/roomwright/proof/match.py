"""Whether the main channels agree in level and arrival at the main seat."""

from __future__ import annotations

import numpy as np

from roomwright.analysis import arrival_s, band_level_db
from roomwright.proof.evidence import Evidence
from roomwright.proof.verdict import Requirement, Verdict
from roomwright.standards.bs1116 import ARRIVAL_MATCH_S, LEVEL_MATCH_DB

#: Band of level and arrival, hertz: above most room modes, below most beaming.
_LEVEL_BAND_HZ = (500.0, 2000.0)
_ARRIVAL_BAND_HZ = (500.0, 8000.0)

_LEVEL_LIMIT_DB = 0.5
_ARRIVAL_LIMIT_S = 0.001

_LEVEL = Requirement(
    "level_match",
    "Level match of the main channels",
    "dB",
    f"each within {_LEVEL_LIMIT_DB} dB of their mean, 500 to 2000 Hz, main seat",
    "common practice, no source; ITU-R BS.1116 asks for "
    f"{LEVEL_MATCH_DB} dB in a reference room, from memory",
)
_ARRIVAL = Requirement(
    "arrival_match",
    "Arrival match of the main channels",
    "ms",
    f"all within {1e3 * _ARRIVAL_LIMIT_S:.1f} ms, main seat",
    "common practice, no source; EBU Tech 3276 and ITU-R BS.1116 ask for "
    f"{1e3 * ARRIVAL_MATCH_S:.1f} ms in a reference room, from memory",
)


def level_verdict(evidence: Evidence) -> Verdict:
    """Largest departure of a main channel's level from the mean of all, at the main seat."""
    rows, missing = _readable(evidence, *_LEVEL_BAND_HZ)
    column = evidence.main_seat
    if column is None or len(rows) < 2:
        return _LEVEL.not_judged(_why_not(evidence, missing))
    responses = evidence.responses
    levels = band_level_db(
        responses.samples[rows, column], responses.sampling_rate_hz, *_LEVEL_BAND_HZ
    )
    departure = levels - levels.mean()
    worst = int(np.argmax(np.abs(departure)))
    within = bool(abs(departure[worst]) <= _LEVEL_LIMIT_DB)
    return _LEVEL.judged(
        value=abs(departure[worst]),
        passed=None if within and missing else within,
        reason=f"{evidence.name(rows[worst])} departs most from the mean: "
        f"{departure[worst]:+.2f} dB.{_left_out(missing)}",
        computed_from=_origin(evidence, rows, column),
        detail=[(evidence.name(r), d) for r, d in zip(rows, departure, strict=True)],
    )


def arrival_verdict(evidence: Evidence) -> Verdict:
    """Time between the first and the last main channel to arrive at the main seat."""
    if not evidence.responses.timed:
        return _ARRIVAL.not_judged(
            "The responses have no common time zero, so arrivals cannot be compared."
        )
    rows, missing = _readable(evidence, *_ARRIVAL_BAND_HZ)
    column = evidence.main_seat
    if column is None or len(rows) < 2:
        return _ARRIVAL.not_judged(_why_not(evidence, missing))
    responses = evidence.responses
    arrivals = arrival_s(
        responses.samples[rows, column], responses.sampling_rate_hz, _ARRIVAL_BAND_HZ
    )
    if not np.isfinite(arrivals).all():
        silent = [evidence.name(rows[i]) for i in np.flatnonzero(~np.isfinite(arrivals))]
        return _ARRIVAL.not_judged(f"No direct sound stands out of the noise of {silent[0]}.")
    spread_s = float(np.ptp(arrivals))
    first, last = int(np.argmin(arrivals)), int(np.argmax(arrivals))
    within = spread_s <= _ARRIVAL_LIMIT_S
    reference = "meets" if spread_s <= ARRIVAL_MATCH_S else "does not meet"
    return _ARRIVAL.judged(
        value=1e3 * spread_s,
        passed=None if within and missing else within,
        reason=f"{evidence.name(rows[last])} arrives {1e3 * spread_s:.2f} ms after "
        f"{evidence.name(rows[first])}; this {reference} the {1e3 * ARRIVAL_MATCH_S:.1f} ms of a "
        f"reference room.{_left_out(missing)}",
        computed_from=_origin(evidence, rows, column),
        detail=[
            (evidence.name(r), 1e3 * (a - arrivals.min()))
            for r, a in zip(rows, arrivals, strict=True)
        ],
    )


def _readable(evidence: Evidence, low_hz: float, high_hz: float) -> tuple[list[int], list[str]]:
    """Rows of the main channels whose band can be trusted at the main seat; names of the others."""
    column = evidence.main_seat
    if column is None:
        return [], []
    rows = [row for row in evidence.mains if evidence.trusts(row, column, low_hz, high_hz)]
    return rows, [evidence.name(row) for row in evidence.mains if row not in rows]


def _why_not(evidence: Evidence, missing: list[str]) -> str:
    if evidence.main_seat is None:
        return f"No station stands for the main seat {evidence.job.main_seat}."
    if len(evidence.mains) < 2:
        return "There are fewer than two main channels to compare."
    return f"The band cannot be trusted at the main seat for {', '.join(missing)}."


def _left_out(missing: list[str]) -> str:
    if not missing:
        return ""
    return f" Not judged, for the band cannot be trusted: {', '.join(missing)}."


def _origin(evidence: Evidence, rows: list[int], column: int) -> str:
    return f"{len(rows)} main channels at station {evidence.responses.stations[column]}"
