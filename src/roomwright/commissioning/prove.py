"""The Proof stage: re-measure with the tuning loaded, and judge what was reached."""

from __future__ import annotations

from dataclasses import dataclass

from roomwright._errors import InputError
from roomwright._progress import Progress, part, silent
from roomwright.commissioning.kept_verdicts import verdicts_on
from roomwright.commissioning.survey.passes import PlannedTake
from roomwright.commissioning.survey.rehearse import record
from roomwright.commissioning.survey.responses import responses, takes_of
from roomwright.measurement import LOOP_BACK, ResponseSet
from roomwright.model import Finding, Job, Proof, Tuning, digest
from roomwright.proof import RoomDecay, Verdict
from roomwright.rehearsal import render
from roomwright.signals import excitation
from roomwright.store import JobFolder
from roomwright.tuning import predict, tuning_basis


@dataclass(frozen=True, slots=True)
class Proved:
    """The verdicts on the predicted and, where there is one, the re-measured result.

    `decay` is the room's, as the re-measured responses show it, else the predicted ones.
    """

    job: Job
    survey: ResponseSet
    predicted: ResponseSet
    measured: ResponseSet | None
    verdicts_predicted: tuple[Verdict, ...]
    verdicts_measured: tuple[Verdict, ...]
    findings: tuple[Finding, ...]
    decay: RoomDecay


def prove(folder: JobFolder, progress: Progress = silent) -> Proved:
    """Re-measure every channel in the rehearsal room with the tuning loaded, and judge it.

    A job whose survey was imported is judged by the proof recordings imported for it, or by the
    prediction alone where there are none.

    Raises
    ------
    InputError
        If there is no tuning, or it is out of date.
    """
    job, tuning = _tuned_job(folder)
    if all(take.origin == "rehearsal" for take in takes_of(job, "survey")):
        signal = excitation(job.sweep, job.sampling_rate_hz)
        # The loop-back hears the channel before the processor, so arrivals count from there.
        plan = [
            PlannedTake(
                (channel.id,),
                (job.sweep,),
                ready={LOOP_BACK: signal, **render(job, channel.id, signal)},
            )
            for channel in job.channels
        ]
        job = record(folder, job, "proof", plan, part(progress, 0.0, 0.8)).job
    folder.save(job.model_copy(update={"proof": Proof(tuning=digest(tuning))}))
    return judged(folder, part(progress, 0.8, 1.0))


def judged(folder: JobFolder, progress: Progress = silent) -> Proved:
    """Judge the job as it stands, measuring nothing.

    Raises
    ------
    InputError
        If there is no tuning, or it is out of date.
    """
    job, tuning = _tuned_job(folder)
    survey = responses(folder, "survey", part(progress, 0.0, 0.5))
    predicted = predict(job, tuning, survey)
    measured = None
    findings = (*survey.findings, *tuning.findings)
    if takes_of(job, "proof"):
        if job.proof is not None and job.proof.tuning == digest(tuning):
            measured = responses(folder, "proof", part(progress, 0.5, 0.9))
            findings += measured.findings
        else:
            findings += (
                Finding(
                    severity="doubt",
                    where="proof",
                    text="the proof was measured with another tuning and is not used; prove again",
                ),
            )
    progress(0.9, "judging")
    kept = verdicts_on(folder, job, predicted, measured)
    return Proved(
        job=job,
        survey=survey,
        predicted=predicted,
        measured=measured,
        verdicts_predicted=kept.predicted,
        verdicts_measured=kept.measured,
        findings=tuple(dict.fromkeys(findings)),
        decay=kept.decay,
    )


def _tuned_job(folder: JobFolder) -> tuple[Job, Tuning]:
    job = folder.job
    if job.tuning is None:
        raise InputError(f"{folder.path}: there is no tuning yet; tune first")
    if job.tuning.based_on != tuning_basis(job):
        raise InputError(
            f"{folder.path}: the tuning is out of date, because measurements, channels, target or "
            "limits changed after it; tune again"
        )
    return job, job.tuning
