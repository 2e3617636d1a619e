"""The tunings that a job had before its present one."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

from roomwright.commissioning.tuning.changes import changes_between
from roomwright.model import Job, Tuning, digest
from roomwright.store import JobFolder
from roomwright.tuning import tuning_basis

#: So many are told of.
MOST = 12


@dataclass(frozen=True, slots=True)
class EarlierTuning:
    """A tuning that was replaced: until when it stood, and what changed for the next one.

    `id` is its digest; `changed` is empty where nothing that is kept explains the next one.
    """

    id: str
    until: datetime
    tuning: Tuning
    changed: tuple[str, ...]

    @property
    def when(self) -> str:
        """Until when it stood, as in "24 Nov 14:32"."""
        return f"{self.until.day} {self.until:%b %H:%M}"

    @property
    def says(self) -> str:
        """One line, as in "24 Nov 14:32, before the target changed"."""
        if not self.changed:
            return f"{self.when}, before it was computed anew"
        more = f" and {len(self.changed) - 2} more" if len(self.changed) > 2 else ""
        return f"{self.when}, before {', '.join(self.changed[:2])}{more} changed"


@dataclass(slots=True)
class _Kept:
    """A tuning among the revisions: when it was replaced, and the job it was computed from."""

    until: datetime | None
    job: Job
    tuning: Tuning


def earlier_tunings(folder: JobFolder, most: int = MOST) -> tuple[EarlierTuning, ...]:
    """The tunings among the kept revisions other than the present one, newest first.

    A job that was changed after its tuning was computed still has it, so several revisions may
    have the same one; it is told of once.

    Parameters
    ----------
    folder
        The job's folder.
    most
        So many at most.

    Raises
    ------
    JobError
        If a revision cannot be read.
    """
    found: dict[str, _Kept] = {}
    if folder.job.tuning is not None:
        found[digest(folder.job.tuning)] = _Kept(None, folder.job, folder.job.tuning)
    for until, job in folder.earlier():
        if job.tuning is None:
            continue
        name = digest(job.tuning)
        if name not in found:
            if len(found) > most:
                break
            found[name] = _Kept(until, job, job.tuning)
        elif tuning_basis(job) == job.tuning.based_on:
            found[name].job = job
    names = list(found)
    return tuple(
        EarlierTuning(
            name,
            kept.until,
            kept.tuning,
            changes_between(kept.job, found[names[place - 1]].job) if place else (),
        )
        for place, (name, kept) in enumerate(found.items())
        if kept.until is not None
    )[:most]
