"""The Survey stage with nothing plugged in: every unit at every station of the rehearsal room."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from roomwright._errors import Cancelled, InputError
from roomwright._progress import Progress, silent
from roomwright.commissioning.compose import rehearsal_device
from roomwright.commissioning.responses import (
    BACKGROUND,
    Bench,
    Stage,
    keep,
    takes_of,
    with_takes,
)
from roomwright.measurement import Recording, ResponseSet, survey
from roomwright.model import Finding, Job, Microphone, RehearsalSetup, Station, Take
from roomwright.rehearsal import microphone_curve as simulated_microphone
from roomwright.store import JobFolder

#: Background noise is recorded once at the main seat's station, this long.
_NOISE_TAKE_S: Final = 4.0

#: The simulated microphone's calibration file, and the pressure that reaches full scale.
_MICROPHONE_FILE: Final = "rehearsal-microphone.txt"
_MICROPHONE_FULL_SCALE_PA: Final = 20.0


@dataclass(frozen=True, slots=True)
class Surveyed:
    """What a survey gave: the job with its takes, the responses, and what was found."""

    job: Job
    responses: ResponseSet
    findings: tuple[Finding, ...]


def rehearse(
    folder: JobFolder, setup: RehearsalSetup | None = None, progress: Progress = silent
) -> Surveyed:
    """Survey the rehearsal room and save the takes; an earlier survey's takes leave the job.

    Parameters
    ----------
    folder
        A job folder open for writing.
    setup
        How the simulated cinema departs from an ideal one; by default the job's own.
    progress
        Told how far it is; may raise `Cancelled`: the takes made until then are kept.

    Raises
    ------
    InputError
        If the room cannot be simulated or there is nothing to measure.
    """
    job = folder.job
    if setup is not None:
        job = job.model_copy(update={"rehearsal": setup})
    job = _with_simulated_microphone(folder, job)
    plan = {output.drives: output.number for output in job.outputs}
    if not plan or not job.stations:
        raise InputError(f"{folder.path}: the job has no outputs or no stations to measure")
    return record(folder, job, "survey", plan, progress)


def record(
    folder: JobFolder,
    job: Job,
    stage: Stage,
    plan: Mapping[str, int | Mapping[int, NDArray[np.float32]]],
    progress: Progress,
) -> Surveyed:
    """Play `plan` at every station of the rehearsal room, store the takes, save the job.

    `plan` maps each source to the output that plays the sweep, or to ready signals by output.
    """
    device = rehearsal_device(job)
    bench = Bench(folder, job)
    takes: list[Take] = []
    findings: list[Finding] = []

    def store(source: str, station: str, recording: Recording, *, sweep: bool = True) -> None:
        file, sha256 = folder.write_take(
            f"{stage}-{source}-{station}", recording.samples, recording.sampling_rate_hz
        )
        take = Take(
            stage=stage,
            source=source,
            station=station,
            kind="take" if sweep else "noise",
            file=file,
            sha256=sha256,
            reference_channel=2 if sweep and device.input_count > 1 else None,
            sweep=job.sweep if sweep else None,
            origin="rehearsal",
        )
        findings.extend(recording.findings)
        try:
            bench.measure(take, recording.samples)
        except InputError as error:
            findings.append(Finding(severity="refusal", where=file, text=str(error)))
        else:
            takes.append(take)

    def place(station: Station) -> None:
        if station.position_m is None:
            raise InputError(f"station {station.id} has no position; it cannot be rehearsed")
        device.place_microphone(station.position_m)

    quiet = noise_station(job)
    try:
        place(quiet)
        store(BACKGROUND, quiet.id, device.record(_NOISE_TAKE_S), sweep=False)
        survey(device, job.stations, plan, job.sweep, place=place, on_take=store, progress=progress)
    except (Cancelled, KeyboardInterrupt):
        folder.save(with_takes(job, stage, takes))
        raise
    job = job.model_copy(update={"takes": tuple(t for t in job.takes if t.stage != stage)})
    folder.save(with_takes(job, stage, takes))
    measured = bench.together(takes)
    keep(folder, folder.job, takes_of(folder.job, stage), measured)
    return Surveyed(folder.job, measured, (*findings, *measured.findings))


def noise_station(job: Job) -> Station:
    """The station where background noise is recorded: the main seat's, else the first."""
    at_main_seat = (s for s in job.stations if s.seat == job.main_seat)
    return next(at_main_seat, job.stations[0])


def _with_simulated_microphone(folder: JobFolder, job: Job) -> Job:
    """Give the job the simulated microphone, with a calibration file as a maker would supply it."""
    curve = simulated_microphone(job)
    lines = [
        f"{frequency:.2f}\t{level:.3f}"
        for frequency, level in zip(curve.frequency_hz, curve.level_db, strict=True)
    ]
    text = "* rehearsal microphone: frequency in hertz, level in dB\n" + "\n".join(lines) + "\n"
    microphone = Microphone(
        name="rehearsal microphone",
        sensitivity_pa=_MICROPHONE_FULL_SCALE_PA,
        calibration_file=folder.add_microphone_file(_MICROPHONE_FILE, text.encode()),
    )
    return job.model_copy(update={"microphone": microphone})
