"""How long the survey of a job takes, as a whole and what is left of it."""

from __future__ import annotations

import math
from collections import Counter
from dataclasses import dataclass

from roomwright.acoustics import room_reverberation_s, speed_of_sound_m_s
from roomwright.commissioning.survey.recorder import NOISE_TAKE_S
from roomwright.commissioning.survey.redo import missing_pairs
from roomwright.commissioning.survey.responses import BACKGROUND
from roomwright.measurement import SurveyTime, response_window_s, survey_time
from roomwright.model import OCTAVE_BANDS_HZ, Job


@dataclass(frozen=True, slots=True)
class SurveyDuration:
    """How long a survey takes.

    Attributes
    ----------
    whole, left
        All outputs at all stations, and those pairs that have no take yet.
    window_s
        How long a response was taken to last, from the room's surfaces.
    says
        The same in a sentence.
    """

    whole: SurveyTime
    left: SurveyTime
    window_s: float
    says: str


def survey_duration(job: Job) -> SurveyDuration:
    """How long the survey takes, by the sweep, the stations and the room's reverberation time.

    Raises
    ------
    InputError
        If the room's surfaces absorb nothing, so that nothing ever dies away.
    """
    window = job_window_s(job)
    pairs = missing_pairs(job)
    missing = Counter(station for source, station in pairs if source != BACKGROUND)
    lacks_noise = any(source == BACKGROUND for source, _ in pairs)

    def time(sources_at: list[int], noise_s: float) -> SurveyTime:
        return survey_time(
            job.sweep, sources_at, job.sampling_rate_hz, window_s=window, noise_s=noise_s
        )

    whole = time([len(job.outputs)] * len(job.stations), NOISE_TAKE_S)
    left = time([missing[s.id] for s in job.stations], NOISE_TAKE_S if lacks_noise else 0.0)
    return SurveyDuration(whole, left, window, _words(job, whole, left))


def job_window_s(job: Job) -> float:
    """How long a response of the job lasts: flight from the farthest unit, and the slowest decay.

    Raises
    ------
    InputError
        If the room's surfaces absorb nothing.
    """
    slowest = float(room_reverberation_s(job.room, OCTAVE_BANDS_HZ).max())
    places = [station.position_m for station in job.stations if station.position_m is not None]
    farthest = max(
        (math.dist(unit.position_m, place) for unit in job.units for place in places), default=0.0
    )
    return response_window_s(slowest, farthest, speed_of_sound_m_s(job.room.temperature_c))


def _words(job: Job, whole: SurveyTime, left: SurveyTime) -> str:
    text = (
        f"{len(job.outputs)} outputs at {len(job.stations)} stations take "
        f"{_minutes(whole.one_after_another_s)} one after another"
    )
    if whole.overlapped_s is not None:
        text += f", {_minutes(whole.overlapped_s)} with overlapping sweeps"
    text += f"; {_minutes(whole.moving_s)} of it is carrying the microphone"
    if left.one_after_another_s < whole.one_after_another_s:
        rest = left.overlapped_s if left.overlapped_s is not None else left.one_after_another_s
        text += f"; {_minutes(rest)} are left"
    return text + (f"; sweeps cannot overlap: {whole.not_overlapped}" * bool(whole.not_overlapped))


def _minutes(seconds: float) -> str:
    minutes = round(seconds / 60.0)
    hours, rest = divmod(minutes, 60)
    return f"{hours} h {rest:02} min" if hours else f"{minutes} min"
