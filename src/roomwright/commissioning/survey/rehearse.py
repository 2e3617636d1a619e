"""The Survey stage with nothing plugged in: every unit at every station of the rehearsal room."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Final

from roomwright._errors import InputError
from roomwright._progress import Progress, silent
from roomwright.commissioning.survey.diagnose import survey_findings
from roomwright.commissioning.survey.passes import PlannedTake, own_take
from roomwright.commissioning.survey.recorder import Recorder, noise_station
from roomwright.commissioning.survey.responses import Stage, keep, takes_of, with_takes
from roomwright.commissioning.survey.rigs import RehearsalRig
from roomwright.measurement import ResponseSet
from roomwright.model import Finding, Job, Microphone, RehearsalSetup, Take
from roomwright.rehearsal import microphone_curve as simulated_microphone
from roomwright.store import JobFolder

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

    Every output is swept within its declared band, as a real one is: what is not known on site is
    not known here.

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
    if not job.outputs or not job.stations:
        raise InputError(f"{folder.path}: the job has no outputs or no stations to measure")
    plan = [own_take(job, output.drives) for output in job.outputs]
    return record(folder, job, "survey", plan, progress, on_take=on_take)


def record(
    folder: JobFolder,
    job: Job,
    stage: Stage,
    plan: Sequence[PlannedTake],
    progress: Progress,
    *,
    on_take: Callable[[Take], None] = lambda _take: None,
) -> Surveyed:
    """Play `plan` at every station of the rehearsal room; earlier takes of the stage leave the job.

    Each take is stored and saved with the job at once, beside the earlier ones until all are made.
    """
    recorder = Recorder(folder, job, stage, RehearsalRig(job), on_take)
    quiet = noise_station(job)
    recorder.rig.move(quiet)
    recorder.record_noise(quiet.id)
    pairs = [(planned, station) for station in job.stations for planned in plan]
    for done, (planned, station) in enumerate(pairs):
        progress(done / len(pairs), f"{planned.sources[0]} at {station.id}")
        recorder.rig.move(station)
        recorder.keep(planned, station.id, recorder.rig.play(planned.signals(job)))
    progress(1.0, "survey done")
    if all(take.kind == "noise" for take in recorder.takes):
        recorder.take_back()
        refused = [f.text for f in recorder.findings if f.severity == "refusal"]
        raise InputError(f"no take could be used; the first was refused because {refused[0]}")
    others = tuple(take for take in job.takes if take.stage != stage)
    recorder.save(with_takes(job.model_copy(update={"takes": others}), stage, recorder.takes))
    measured = recorder.bench.together(recorder.takes)
    keep(folder, folder.job, takes_of(folder.job, stage), measured)
    return Surveyed(folder.job, measured, (*recorder.findings, *survey_findings(measured)))


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
