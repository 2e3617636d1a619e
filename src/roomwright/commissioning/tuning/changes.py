"""What changed between two states of a job, of all that a tuning is computed from."""

from __future__ import annotations

from roomwright.commissioning.survey.responses import takes_of
from roomwright.model import Job
from roomwright.store import JobFolder
from roomwright.tuning import tuning_basis


def changes_between(before: Job, after: Job) -> tuple[str, ...]:
    """Names of what differs, of all that a tuning is computed from; empty if nothing does."""
    parts = (
        ("the survey", takes_of(before, "survey"), takes_of(after, "survey")),
        ("the stations", before.stations, after.stations),
        ("the main seat", before.seat(before.main_seat), after.seat(after.main_seat)),
        ("the loudspeakers", before.loudspeakers, after.loudspeakers),
        ("the subwoofers", before.subwoofers, after.subwoofers),
        ("loudspeaker data", before.loudspeaker_models, after.loudspeaker_models),
        ("the channels", before.channels, after.channels),
        ("the outputs", before.outputs, after.outputs),
        ("the processor", before.processor, after.processor),
        ("the target", before.target, after.target),
        ("targets of single channels", before.own_targets, after.own_targets),
        ("the crossover", _crossover(before), _crossover(after)),
        ("crossovers of single channels", before.own_crossovers, after.own_crossovers),
        ("the solver's limits", _limits(before), _limits(after)),
        ("what is set by hand", before.by_hand, after.by_hand),
    )
    return tuple(name for name, was, now in parts if was != now)


def tuned_job(folder: JobFolder) -> Job | None:
    """The job as its present tuning was computed from it, if that is still kept.

    Raises
    ------
    JobError
        If a revision cannot be read.
    """
    job = folder.job
    if job.tuning is None:
        return None
    basis = job.tuning.based_on
    if tuning_basis(job) == basis:
        return job
    return next((kept for _, kept in folder.earlier() if tuning_basis(kept) == basis), None)


def says_changed(was: Job | None, job: Job) -> str:
    """One line on why the tuning of a job is out of date; `was` is the job it was computed from."""
    if was is None:
        return "measurements, channels, targets or limits changed since"
    names = changes_between(was, job)
    listed = " and ".join([", ".join(names[:-1]), names[-1]] if len(names) > 1 else names)
    return f"{listed} changed since"


def _crossover(job: Job) -> object:
    return job.limits.crossover_hz, job.limits.crossover_order, job.limits.full_range


def _limits(job: Job) -> object:
    return job.limits.model_dump(exclude={"crossover_hz", "crossover_order", "full_range"})
