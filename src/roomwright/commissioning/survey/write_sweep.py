"""The signal to play with another program, as a WAV file."""

from __future__ import annotations

from pathlib import Path

from roomwright.signals import excitation
from roomwright.store import JobFolder, encode_wav


def write_sweep(folder: JobFolder) -> Path:
    """Write the job's sweep, with its pilots, to `outputs/sweep.wav` and return the path."""
    job = folder.job
    samples = excitation(job.sweep, job.sampling_rate_hz)
    return folder.write_output("sweep.wav", encode_wav(samples, job.sampling_rate_hz))
