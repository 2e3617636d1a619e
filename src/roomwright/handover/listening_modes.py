"""The tuning of a job, and what each listening mode makes of it."""

from __future__ import annotations

import re
from typing import Any

from roomwright._errors import InputError
from roomwright.model import Job, ListeningMode, Tuning
from roomwright.tuning import in_mode


def tuning_of(job: Job) -> Tuning:
    """Return the job's tuning.

    Raises
    ------
    InputError
        If it has none.
    """
    if job.tuning is None:
        raise InputError(f"{job.name}: there is no tuning to hand over; tune first")
    return job.tuning


def job_in_mode(job: Job, mode: ListeningMode) -> Job:
    """The job with the tuning that a listening mode makes of its own.

    Raises
    ------
    InputError
        If the job has no tuning.
    """
    return job.model_copy(update={"tuning": in_mode(job, tuning_of(job), mode)[0]})


def mode_folder(job: Job, mode: ListeningMode) -> str:
    """Folder of a listening mode's files: its number and what of its name is safe in one."""
    safe = re.sub(r"[^a-z0-9]+", "-", mode.name.lower()).strip("-")
    number = [other.name for other in job.modes].index(mode.name) + 1
    return f"modes/{number}-{safe}" if safe else f"modes/{number}"


def mode_object(job: Job, mode: ListeningMode) -> dict[str, Any]:
    """A listening mode for the settings: tone controls, what they add, where its files stand."""
    before, after = tuning_of(job).outputs, tuning_of(job_in_mode(job, mode)).outputs
    shelves = after[0].biquads[len(before[0].biquads) :] if before else ()
    return {
        **mode.model_dump(),
        "biquads_added": [section.model_dump() for section in shelves],
        "trim_change_db": round(after[0].trim_db - before[0].trim_db, 6) + 0.0 if before else 0.0,
        "folder": mode_folder(job, mode),
    }
