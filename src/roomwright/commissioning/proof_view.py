"""What the Proof stage shows: each criterion in words, and the graph behind it."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import Final, Literal

import numpy as np
from numpy.typing import NDArray

from roomwright.commissioning.desk.view import MEAN_SEATS, Choice, Kind
from roomwright.commissioning.prove import Proved
from roomwright.commissioning.survey.recorder import noise_station
from roomwright.model import Job
from roomwright.proof import Drawing, Verdict, drawings

F = NDArray[np.float64]

Outcome = Literal["met", "not met", "not judged"]

_OUTCOMES: Final[dict[bool | None, Outcome]] = {True: "met", False: "not met", None: "not judged"}

#: Criteria whose graph is a choice of the responses themselves.
_FROM_DESK: Final = ("level_match", "arrival_match", "spread_below", "spread_above")


@dataclass(frozen=True, slots=True)
class CriterionRow:
    """One criterion: required, predicted, measured, in words.

    `outcome` is that of the measured result where there is one, else of the predicted one, which
    `judged_on` names. `detail` are single values by channel, seat or band.
    """

    criterion: str
    title: str
    required: str
    predicted: str
    measured: str
    outcome: Outcome
    judged_on: Literal["measured", "predicted"]
    reason: str
    source: str
    computed_from: str
    detail: tuple[tuple[str, str], ...]


@dataclass(frozen=True, slots=True, eq=False)
class DrawingScale:
    """What a drawing is seen in: the axis' ends, and its limits cut to them, (m,).

    `outside` names the curves that are beyond a limit anywhere.
    """

    low: float
    high: float
    decimals: int
    allowed_low: F
    allowed_high: F
    has_limits: bool
    outside: frozenset[str]


def criterion_rows(proved: Proved) -> tuple[CriterionRow, ...]:
    """Every criterion in the order of judging."""
    measured = {verdict.criterion: verdict for verdict in proved.verdicts_measured}
    return tuple(
        _row(predicted, measured.get(predicted.criterion))
        for predicted in proved.verdicts_predicted
    )


def summary(rows: Sequence[CriterionRow]) -> str:
    """In one line, how many criteria are met, not met, not judged."""
    counts = {
        outcome: sum(row.outcome == outcome for row in rows) for outcome in _OUTCOMES.values()
    }
    return ", ".join(f"{count} {outcome}" for outcome, count in counts.items() if count)


def drawings_behind(proved: Proved) -> Mapping[str, Drawing]:
    """By criterion, what its verdict was read from."""
    return drawings(proved.job, proved.measured or proved.predicted, proved.decay)


def graph_behind(
    proved: Proved,
    criterion: str,
    drawn: Callable[[Proved], Mapping[str, Drawing]] = drawings_behind,
) -> Choice | Drawing | None:
    """What to draw for a criterion: a choice for the graph desk, a drawing, or nothing.

    The result is of the re-measured responses where there are any, else of the predicted ones.
    `drawn` gives the drawings; a caller that shows one after the other keeps them there.
    """
    if criterion in _FROM_DESK:
        return _choice(
            proved.job, criterion, "predicted" if proved.measured is None else "re-measured"
        )
    return drawn(proved).get(criterion)


def scale_of_drawing(drawing: Drawing) -> DrawingScale:
    """The ends of the axis that show every curve and every finite limit, with a margin."""
    values = np.concatenate(
        [*(curve for _, curve in drawing.curves), drawing.low, drawing.high, np.zeros(1)]
    )
    values = values[np.isfinite(values)]
    step = {"s": 0.2}.get(drawing.unit, 5.0)
    low = step * math.floor(float(values.min()) / step)
    high = step * math.ceil(float(values.max()) / step)
    return DrawingScale(
        low=low,
        high=high if high > low else low + step,
        decimals=2 if drawing.unit == "s" else 1,
        allowed_low=np.where(drawing.low == -np.inf, low, drawing.low),
        allowed_high=np.where(drawing.high == np.inf, high, drawing.high),
        has_limits=bool(np.isfinite(drawing.high).any()),
        outside=frozenset(
            name
            for name, curve in drawing.curves
            if ((curve < drawing.low) | (curve > drawing.high)).any()
        ),
    )


def _choice(job: Job, criterion: str, kind: Kind) -> Choice:
    mains = tuple(channel.id for channel in job.channels if channel.role != "lfe")
    main = (noise_station(job).id,)
    if criterion == "arrival_match":
        return Choice(kinds=(kind,), sources=mains, places=main, quantity="energy-time")
    if criterion == "level_match":
        return Choice(kinds=(kind,), sources=mains, places=main, smoothing=1)
    return Choice(kinds=(kind,), sources=mains[:3], places=(MEAN_SEATS,), spread=True)


def _row(predicted: Verdict, measured: Verdict | None) -> CriterionRow:
    # The package of the report loads what only computing needs; the pages do not wait for it.
    from roomwright.handover.wording import printed

    verdict = measured or predicted
    return CriterionRow(
        criterion=verdict.criterion,
        title=verdict.title,
        required=printed(verdict.limit),
        predicted=_value(predicted),
        measured="" if measured is None else _value(measured),
        outcome=_OUTCOMES[verdict.passed],
        judged_on="predicted" if measured is None else "measured",
        reason=printed(verdict.reason),
        source=verdict.source,
        computed_from=verdict.computed_from,
        detail=tuple((name, _figure(value, verdict.unit)) for name, value in verdict.detail),
    )


def _value(verdict: Verdict) -> str:
    return "-" if verdict.value is None else _figure(verdict.value, verdict.unit)


def _figure(value: float, unit: str) -> str:
    from roomwright.handover.wording import printed

    fine = unit in {"s", "ms"} or (unit == "dB" and abs(value) < 1.0)
    decimals = 2 if fine else 0 if unit in {"NR", "NC"} else 1
    return printed(f"{value:.{decimals}f} {unit}")
