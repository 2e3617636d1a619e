"""The Tuning stage: from the survey to everything that is loaded into the processor."""

from __future__ import annotations

from dataclasses import dataclass

from roomwright._progress import Progress, part, silent
from roomwright.commissioning.responses import responses
from roomwright.measurement import ResponseSet
from roomwright.model import Finding, Job
from roomwright.store import JobFolder
from roomwright.tuning import design, predict


@dataclass(frozen=True, slots=True)
class Tuned:
    """The job with its tuning, the response predicted at every station, and what was found."""

    job: Job
    predicted: ResponseSet
    findings: tuple[Finding, ...]


def tune(folder: JobFolder, progress: Progress = silent) -> Tuned:
    """Compute the tuning from the survey and save it; an earlier tuning can be undone to.

    Raises
    ------
    InputError
        If nothing was measured, or a recording cannot be used.
    """
    survey = responses(folder, "survey", part(progress, 0.0, 0.3))
    tuning, findings = design(folder.job, survey, part(progress, 0.3, 0.95))
    folder.save(folder.job.model_copy(update={"tuning": tuning}))
    progress(0.95, "predicting every seat")
    return Tuned(folder.job, predict(folder.job, tuning, survey), findings)
