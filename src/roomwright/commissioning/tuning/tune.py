"""The Tuning stage: from the survey to everything that is loaded into the processor."""

from __future__ import annotations

from dataclasses import dataclass
from typing import get_args

from roomwright import _checks
from roomwright._errors import InputError
from roomwright._progress import Progress, part, silent
from roomwright.commissioning.survey.responses import responses, takes_of
from roomwright.measurement import ResponseSet
from roomwright.model import Job, OwnCrossover, Tuning, TuningLimits
from roomwright.store import JobFolder
from roomwright.tuning import design, predict, tuning_basis
from roomwright.tuning.bass_ways import BassPlan


@dataclass(frozen=True, slots=True)
class Tuned:
    """The job, its tuning with what was found, and the response predicted at every station."""

    job: Job
    tuning: Tuning
    predicted: ResponseSet


def tuning_limits(
    job: Job, *, method: str | None = None, crossover_hz: float | None = None
) -> TuningLimits:
    """The job's limits with another method or crossover, where given.

    Raises
    ------
    InputError
        If the method is unknown or the crossover is not 20 to 300 Hz.
    """
    changed = job.limits.model_dump()
    if method is not None:
        if method not in get_args(TuningLimits.model_fields["method"].annotation):
            raise InputError(f"the method is {method!r}; allowed are biquads and fir")
        changed["method"] = method
    if crossover_hz is not None:
        changed["crossover_hz"] = _checks.within(crossover_hz, 20.0, 300.0, "the crossover in Hz")
    return TuningLimits.model_validate(changed)


def can_be_tuned(job: Job) -> bool:
    """Whether a survey stands that the tuning does not follow yet."""
    surveyed = any(take.kind != "noise" for take in takes_of(job, "survey"))
    return surveyed and (job.tuning is None or job.tuning.based_on != tuning_basis(job))


def solved(
    job: Job,
    survey: ResponseSet,
    progress: Progress = silent,
    plan: BassPlan | None = None,
) -> Tuning:
    """Compute the tuning of a job from its survey, with what was found in computing it.

    `plan` is what `plan_of` gave for the job's subwoofers; by default it is computed.

    Raises
    ------
    InputError
        If the survey does not fit the job.
    """
    tuning, findings = design(job, survey, progress, plan)
    return tuning.model_copy(update={"findings": findings})


def tune(
    folder: JobFolder,
    progress: Progress = silent,
    *,
    limits: TuningLimits | None = None,
    own_crossovers: tuple[OwnCrossover, ...] | None = None,
) -> Tuned:
    """Compute the tuning from the survey and save it; an earlier tuning can be undone to.

    Parameters
    ----------
    folder
        A job folder open for writing.
    progress
        Told how far it is; may raise `Cancelled`, which leaves the job as it was.
    limits
        What the solver may do; by default the job's own. They are saved with the tuning.
    own_crossovers
        Crossovers of single channels, likewise.

    Raises
    ------
    InputError
        If nothing was measured, or a recording cannot be used.
    """
    survey = responses(folder, "survey", part(progress, 0.0, 0.3))
    asked = {"limits": limits, "own_crossovers": own_crossovers}
    job = folder.job.model_copy(update={k: v for k, v in asked.items() if v is not None})
    tuning = solved(job, survey, part(progress, 0.3, 0.95))
    folder.save(job.model_copy(update={"tuning": tuning}))
    progress(0.95, "predicting every seat")
    return Tuned(folder.job, tuning, predict(folder.job, tuning, survey))
