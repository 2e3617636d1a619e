"""The only place that chooses real devices."""

from __future__ import annotations

from roomwright.model import Job
from roomwright.rehearsal import RehearsalRoom


def rehearsal_device(job: Job) -> RehearsalRoom:
    """The simulated cinema of a job, as an audio device."""
    return RehearsalRoom(job)
