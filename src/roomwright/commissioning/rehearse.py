"""The Survey stage with nothing plugged in: every unit at every station of the rehearsal room."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from roomwright._errors import Cancelled, DeviceError, InputError
from roomwright._progress import Progress, silent
from roomwright.commissioning.compose import rehearsal_device
from roomwright.commissioning.diagnose import survey_findings
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
NOISE_TAKE_S: Final = 4.0

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
    folder: JobFolder,
    setup: RehearsalSetup | None = None,
    progress: Progress = silent,
    *,
    on_take: Callable[[Take], None] = lambda _take: None,
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
    on_take
        Told each usable take when it is made.

    Raises
    ------
    InputError
        If the room cannot be simulated, there is nothing to measure, or no take can be used.
    """
    job = folder.job
    if setup is not None:
        job = job.model_copy(update={"rehearsal": setup})
    job = with_simulated_microphone(folder, job)
    plan = {output.drives: output.number for output in job.outputs}
    if not plan or not job.stations:
        raise InputError(f"{folder.path}: the job has no outputs or no stations to measure")
    return record(folder, job, "survey", plan, progress, on_take=on_take)


def record(
    folder: JobFolder,
    job: Job,
    stage: Stage,
    plan: Mapping[str, int | Mapping[int, NDArray[np.float32]]],
    progress: Progress,
    *,
    on_take: Callable[[Take], None] = lambda _take: None,
) -> Surveyed:
    """Play `plan` at every station of the rehearsal room, store the takes, save the job.

    `plan` maps each source to the output that plays the sweep, or to ready signals by output.
    """
    recorder = Recorder(folder, job, stage, on_take)
    quiet = noise_station(job)
    try:
        recorder.place(quiet)
        recorder.record_noise(quiet.id)
        survey(
            recorder.device,
            job.stations,
            plan,
            job.sweep,
            place=recorder.place,
            on_take=recorder.keep,
            progress=progress,
        )
    except (Cancelled, DeviceError, KeyboardInterrupt):
        folder.save(with_takes(job, stage, recorder.takes))
        raise
    if all(take.kind == "noise" for take in recorder.takes):
        refused = [f.text for f in recorder.findings if f.severity == "refusal"]
        raise InputError(f"no take could be used; the first was refused because {refused[0]}")
    job = job.model_copy(update={"takes": tuple(t for t in job.takes if t.stage != stage)})
    folder.save(with_takes(job, stage, recorder.takes))
    measured = recorder.bench.together(recorder.takes)
    keep(folder, folder.job, takes_of(folder.job, stage), measured)
    return Surveyed(folder.job, measured, (*recorder.findings, *survey_findings(measured)))


class Recorder:
    """The rehearsal room of a job, with what becomes of its recordings.

    Each recording is stored and measured at once: `takes` holds those that can be used,
    `findings` what was found, refusals among them. `on_take` is told each usable take.
    """

    def __init__(
        self,
        folder: JobFolder,
        job: Job,
        stage: Stage,
        on_take: Callable[[Take], None] = lambda _take: None,
    ) -> None:
        self.device = rehearsal_device(job)
        self.bench = Bench(folder, job)
        self.takes: list[Take] = []
        self.findings: list[Finding] = []
        self._folder, self._job, self._stage = folder, job, stage
        self._on_take = on_take

    def place(self, station: Station) -> None:
        """Put the microphone at a station.

        Raises
        ------
        InputError
            If the station has no position, or stands outside the room.
        """
        if station.position_m is None:
            raise InputError(f"station {station.id} has no position; it cannot be rehearsed")
        self.device.place_microphone(station.position_m)

    def record_noise(self, station: str) -> None:
        """Record the background noise where the microphone stands."""
        self.keep(BACKGROUND, station, self.device.record(NOISE_TAKE_S))

    def keep(self, source: str, station: str, recording: Recording) -> None:
        """Store and measure one recording of `source` at `station`."""
        file, sha256 = self._folder.write_take(
            f"{self._stage}-{source}-{station}", recording.samples, recording.sampling_rate_hz
        )
        is_noise = source == BACKGROUND
        take = Take(
            stage=self._stage,
            source=source,
            station=station,
            kind="noise" if is_noise else "take",
            file=file,
            sha256=sha256,
            reference_channel=None if is_noise or self.device.input_count == 1 else 2,
            sweep=None if is_noise else self._job.sweep,
            origin="rehearsal",
        )
        self.findings.extend(recording.findings)
        if any(finding.severity == "refusal" for finding in recording.findings):
            return
        try:
            self.bench.measure(take, recording.samples)
        except InputError as error:
            self.findings.append(Finding(severity="refusal", where=file, text=str(error)))
        else:
            self.takes.append(take)
            self._on_take(take)


def noise_station(job: Job) -> Station:
    """The station where background noise is recorded: the main seat's, else the first."""
    at_main_seat = (s for s in job.stations if s.seat == job.main_seat)
    return next(at_main_seat, job.stations[0])


def with_simulated_microphone(folder: JobFolder, job: Job) -> Job:
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
