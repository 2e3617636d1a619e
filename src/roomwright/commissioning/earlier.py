"""The tuning that a job had before its present one."""

from __future__ import annotations

from roomwright.model import Tuning, digest
from roomwright.store import JobFolder, load_job


def earlier_tuning(folder: JobFolder) -> Tuning | None:
    """The last tuning among the kept revisions that differs from the present one.

    Raises
    ------
    JobError
        If a revision cannot be read.
    """
    present = None if folder.job.tuning is None else digest(folder.job.tuning)
    revisions = sorted((folder.path / "revisions").glob("[0-9]*.json"), reverse=True)
    for revision in revisions:
        tuning = load_job(revision.read_text("utf-8"), str(revision)).tuning
        if tuning is not None and digest(tuning) != present:
            return tuning
    return None
