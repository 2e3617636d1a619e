"""The survey of any device: station by station, softly first, every take kept at once."""

from __future__ import annotations

from collections.abc import Callable, Sequence

from roomwright._errors import InputError
from roomwright._progress import Progress, part, silent
from roomwright.commissioning.survey.facing import Facing
from roomwright.commissioning.survey.procedure import Procedure, SurveyState
from roomwright.commissioning.survey.recorder import Recorder, noise_station
from roomwright.commissioning.survey.redo import (
    Pair,
    check_pairs,
    kept_responses,
    missing_pairs,
    put_together,
)
from roomwright.commissioning.survey.rehearse import Surveyed, with_simulated_microphone
from roomwright.commissioning.survey.responses import BACKGROUND, takes_of
from roomwright.commissioning.survey.rigs import Rig
from roomwright.commissioning.verdict import Verdict
from roomwright.measurement.protection import FIRST_DBFS
from roomwright.model import Job, Take
from roomwright.store import JobFolder


def all_pairs(job: Job) -> tuple[Pair, ...]:
    """Everything a survey measures, in the order of the work: background noise, then each output.

    Raises
    ------
    InputError
        If the job has no outputs or no stations.
    """
    if not job.outputs or not job.stations:
        raise InputError("the job has no outputs or no stations to measure")
    pairs = [(output.drives, station.id) for station in job.stations for output in job.outputs]
    return ((BACKGROUND, noise_station(job).id), *pairs)


def chosen_pairs(job: Job, stations: Sequence[str], *, missing: bool) -> tuple[Pair, ...] | None:
    """What to measure where stations are named, or only what is missing is asked for.

    Returns
    -------
    Pairs in the order of `stations`, or of the job where none is named; None for everything, and
    none at all where nothing is missing.

    Raises
    ------
    InputError
        If a station is unknown.
    """
    known = [station.id for station in job.stations]
    for name in stations:
        if name not in known:
            raise InputError(f"{name} is not a station of this job; its are {', '.join(known)}")
    if not stations and not missing:
        return None
    pairs = missing_pairs(job) if missing else all_pairs(job)
    order = list(dict.fromkeys(stations)) or known
    return tuple(pair for name in order for pair in pairs if pair[1] == name)


def measure(
    folder: JobFolder,
    rig: Rig,
    pairs: Sequence[Pair] | None = None,
    progress: Progress = silent,
    *,
    on_take: Callable[[Take], None] = lambda _take: None,
    on_state: Callable[[SurveyState], None] = lambda _state: None,
    on_verdict: Callable[[Verdict], None] = lambda _verdict: None,
    on_facing: Callable[[Facing], None] = lambda _facing: None,
    ceiling_db: float | None = None,
    quiet_dbfs: float = FIRST_DBFS,
) -> Surveyed:
    """Measure outputs at stations; each take is saved before the next is made.

    The first sweep of every output is a soft one; louder ones follow only where that showed the
    declared band. Sweeps never leave that band. Those of all outputs overlap in one recording
    where a time reference is connected and the room dies away quickly enough, which the first
    take of a band tells. A refused take is repeated twice.

    Parameters
    ----------
    folder
        A job folder open for writing.
    rig
        What plays and records, see `rigs`; it stays open.
    pairs
        What to measure: loudspeaker or subwoofer, or `background`, and station, in the order in
        which the stations are visited; `missing_pairs` resumes. None for everything: takes of
        another origin then leave the job, and earlier ones stay until they are replaced.
    progress
        Told before each recording; may raise `Cancelled`.
    on_take
        Told each usable take when it is saved.
    on_state
        Told how far it is, before anything is played or the microphone is moved.
    on_verdict
        Told what each take is worth when it is judged, those that are refused too.
    on_facing
        Told how a microphone of four capsules is turned, after the centre's take at each station.
    ceiling_db
        A C-weighted fast level above this at the microphone (dB SPL) stops the survey; None for
        the job's own. Without the microphone's sensitivity only digital full scale counts.
    quiet_dbfs
        Peak level of the first sweep of an output.

    Returns
    -------
    Surveyed
        With a refusal for each pair that could not be measured, and the exposure.

    Raises
    ------
    InputError
        If nothing can be measured, the input passes the ceiling, or the disk is full.
    DeviceError
        If the device fails; the takes until then are saved, as with all other errors.
    Cancelled
        If it was stopped.
    """
    job = folder.job
    if rig.origin == "rehearsal":
        job = with_simulated_microphone(folder, job)
    if pairs is None:
        pairs = all_pairs(job)
        kept = (t for t in job.takes if t.stage != "survey" or t.origin == rig.origin)
        job = job.model_copy(update={"takes": tuple(kept)})
    check_pairs(job, pairs, rig.origin)
    stays = {(t.source, t.station) for t in takes_of(job, "survey")} - set(pairs)
    before = kept_responses(folder, part(progress, 0.0, 0.1)) if stays else None
    recorder = Recorder(folder, job, "survey", rig, on_take, on_verdict)
    Procedure(
        folder,
        recorder,
        pairs,
        part(progress, 0.1, 1.0),
        on_state,
        on_facing,
        job.levels.ceiling_db if ceiling_db is None else ceiling_db,
        quiet_dbfs,
    ).run()
    if all(take.kind == "noise" for take in takes_of(folder.job, "survey")):
        refused = [f.text for f in recorder.findings if f.severity == "refusal"]
        raise InputError(f"nothing was measured: {refused[0] if refused else 'all was skipped'}")
    return put_together(folder, job, recorder, before, progress)
