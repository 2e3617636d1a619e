"""The only place that chooses real devices."""

from __future__ import annotations

from roomwright.devices import AudioInterface
from roomwright.model import Job
from roomwright.rehearsal import RehearsalRoom


def rehearsal_device(job: Job) -> RehearsalRoom:
    """The simulated cinema of a job, as an audio device."""
    return RehearsalRoom(job)


def interface_device(job: Job) -> AudioInterface:
    """The audio interface that a job names, not yet open."""
    outputs = max((output.number for output in job.outputs), default=1)
    return AudioInterface(job.interface, job.sampling_rate_hz, outputs, capsule_count(job))


def capsule_count(job: Job) -> int:
    """How many capsules the job's microphone has: one, or four."""
    return 1 if job.microphone.capsule_radius_m is None else 4
