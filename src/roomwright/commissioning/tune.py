"""The Tuning stage: from the survey to everything that is loaded into the processor."""

from __future__ import annotations

from dataclasses import dataclass

from roomwright._progress import Progress, part, silent
from roomwright.commissioning.responses import responses
from roomwright.measurement import ResponseSet
from roomwright.model import Job, Tuning
from roomwright.store import JobFolder
from roomwright.tuning import design, predict


@dataclass(frozen=True, slots=True)
class Tuned:
    """The job, its tuning with what was found, and the response predicted at every station."""

    job: Job
    tuning: Tuning
    predicted: ResponseSet


def tune(folder: JobFolder, progress: Progress = silent) -> Tuned:
    """Compute the tuning from the survey and save it; an earlier tuning can be undone to.

    Raises
    ------
    InputError
        If nothing was measured, or a recording cannot be used.
    """
    survey = responses(folder, "survey", part(progress, 0.0, 0.3))
    tuning, findings = design(folder.job, survey, part(progress, 0.3, 0.95))
    tuning = tuning.model_copy(update={"findings": findings})
    folder.save(folder.job.model_copy(update={"tuning": tuning}))
    progress(0.95, "predicting every seat")
    return Tuned(folder.job, tuning, predict(folder.job, tuning, survey))
