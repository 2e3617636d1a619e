"""How long the survey of a job takes, as a whole and what is left of it."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Final

from roomwright.commissioning.survey.passes import (
    PlannedTake,
    own_sweep,
    planned_takes,
    wanted_dbfs,
    window_s,
)
from roomwright.commissioning.survey.recorder import NOISE_TAKE_S
from roomwright.commissioning.survey.redo import missing_pairs
from roomwright.commissioning.survey.responses import BACKGROUND
from roomwright.commissioning.survey.rigs import Timing
from roomwright.measurement import duration_s
from roomwright.model import Job

#: Seconds to carry the microphone to the next station, set it up and leave the room quiet; to
#: start a recording and store it. Common practice, no source.
MOVE_S: Final = 45.0
BETWEEN_S: Final = 1.0


@dataclass(frozen=True, slots=True)
class SurveyTime:
    """Seconds that a survey takes.

    Attributes
    ----------
    one_after_another_s
        Every source with a recording of its own.
    overlapped_s
        With sweeps that overlap where they can: with what tells when a signal left the outputs,
        or with a loop-back if nothing does yet.
    moving_s
        What either holds for carrying the microphone.
    """

    one_after_another_s: float
    overlapped_s: float
    moving_s: float


@dataclass(frozen=True, slots=True)
class SurveyDuration:
    """How long a survey takes.

    Attributes
    ----------
    whole, left
        All outputs at all stations, and those pairs that have no take yet.
    says
        The same in a sentence.
    """

    whole: SurveyTime
    left: SurveyTime
    says: str


def survey_duration(job: Job) -> SurveyDuration:
    """How long the survey takes, by what each output plays, the stations and the room's decay.

    Soft sweeps that check the wiring at first, and recordings made again, are left out.

    Raises
    ------
    InputError
        If the room's surfaces absorb nothing, so that nothing ever dies away, or a declared band
        and the survey's sweep have no octave in common.
    """
    pairs = missing_pairs(job)
    missing: dict[str, list[str]] = {station.id: [] for station in job.stations}
    for source, station in pairs:
        if source != BACKGROUND:
            missing[station].append(source)
    lacks_noise = any(source == BACKGROUND for source, _ in pairs)
    driven = [output.drives for output in job.outputs]
    windows_s = {source: window_s(job, source) for source in driven}
    whole = _time(job, [driven] * len(job.stations), windows_s, has_noise=True)
    left = _time(job, list(missing.values()), windows_s, has_noise=lacks_noise)
    return SurveyDuration(whole, left, _words(job, whole, left))


def takes_s(planned: Iterable[PlannedTake]) -> float:
    """How long recordings at a station take."""
    return sum(take.duration_s + BETWEEN_S for take in planned)


def _time(
    job: Job,
    sources_at: Sequence[Sequence[str]],
    windows_s: Mapping[str, float],
    *,
    has_noise: bool,
) -> SurveyTime:
    """How long some sources at each station take; where there are none nobody goes."""
    timing, shared = job.interface.timing, _overlapping(job)
    single_s = {
        source: duration_s(own_sweep(job, source, wanted_dbfs(job, source), timing)) + BETWEEN_S
        for source in windows_s
    }
    one_after_another = overlapped = (NOISE_TAKE_S + BETWEEN_S) * has_noise
    moving = 0.0
    for sources, stations in Counter(tuple(sources) for sources in sources_at if sources).items():
        levels_dbfs = {source: wanted_dbfs(job, source) for source in sources}
        moving += stations * MOVE_S
        one_after_another += stations * sum(single_s[source] for source in sources)
        overlapped += stations * takes_s(planned_takes(job, levels_dbfs, shared, windows_s))
    return SurveyTime(moving + one_after_another, moving + overlapped, moving)


def _overlapping(job: Job) -> Timing:
    """What lets sweeps overlap: what is connected, or the loop-back that could be."""
    timing = job.interface.timing
    return "loop-back" if timing == "none" else timing


def _words(job: Job, whole: SurveyTime, left: SurveyTime) -> str:
    is_timed = job.interface.timing != "none"
    text = (
        f"{len(job.outputs)} outputs at {len(job.stations)} stations take "
        f"{_minutes(whole.one_after_another_s)} one after another"
    )
    overlap = whole.overlapped_s < whole.one_after_another_s
    if overlap:
        text += f", {_minutes(whole.overlapped_s)} with overlapping sweeps"
    if overlap and not is_timed:
        text += " (they need a loop-back or an acoustic reference)"
    text += f"; {_minutes(whole.moving_s)} of it is carrying the microphone"
    if left.one_after_another_s < whole.one_after_another_s:
        rest_s = left.overlapped_s if is_timed else left.one_after_another_s
        text += f"; {_minutes(rest_s)} are left"
    if not overlap and len(job.outputs) > 1:
        text += (
            f"; sweeps of {job.sweep.duration_s:g} s are too short for this room's decay to overlap"
        )
    return text


def _minutes(seconds: float) -> str:
    minutes = round(seconds / 60.0)
    hours, rest = divmod(minutes, 60)
    return f"{hours} h {rest:02} min" if hours else f"{minutes} min"
