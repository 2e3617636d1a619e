"""Single recordings of the Survey stage, made again or made up for."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import replace
from typing import Final, Literal

import numpy as np
from numpy.typing import NDArray

from roomwright._errors import InputError
from roomwright._progress import Progress, part, silent
from roomwright.commissioning.survey.diagnose import diagnosed, survey_findings
from roomwright.commissioning.survey.passes import own_take
from roomwright.commissioning.survey.recorder import Recorder, noise_station
from roomwright.commissioning.survey.rehearse import Surveyed
from roomwright.commissioning.survey.responses import (
    BACKGROUND,
    keep,
    responses,
    takes_of,
)
from roomwright.commissioning.survey.rigs import RehearsalRig
from roomwright.measurement import ResponseSet
from roomwright.model import Job, Take
from roomwright.store import JobFolder

#: A source, or `background`, and a station.
Pair = tuple[str, str]

#: Why takes of one origin are not mixed with those of another.
_OTHERWISE: Final = {
    "import": "this survey was imported; record again where it was recorded, and import that",
    "rehearsal": "this survey was rehearsed; measure all of it with the interface, not parts",
    "device": "this survey was measured with a device; it cannot be mixed with rehearsed takes",
}

#: Arrays of a response set with one entry for each source and station.
_BY_PAIR: Final = (
    "samples",
    "present",
    "trusted_hz",
    "noise_rms",
    "signal_to_noise_db",
    "distortion_db",
    "clock_error_ppm",
)


def missing_pairs(job: Job) -> tuple[Pair, ...]:
    """What the survey lacks of every driven unit at every station, in the order of the work."""
    made = {(take.source, take.station) for take in takes_of(job, "survey")}
    driven = [output.drives for output in job.outputs]
    pairs = [(unit, station.id) for station in job.stations for unit in driven]
    if job.stations and not any(source == BACKGROUND for source, _ in made):
        pairs.insert(0, (BACKGROUND, noise_station(job).id))
    return tuple(pair for pair in pairs if pair not in made)


def redo(
    folder: JobFolder,
    pairs: Sequence[Pair],
    progress: Progress = silent,
    *,
    on_take: Callable[[Take], None] = lambda _take: None,
) -> Surveyed:
    """Record `pairs` in the rehearsal room; each replaces its earlier take, all others stay.

    Parameters
    ----------
    folder
        A job folder open for writing.
    pairs
        Loudspeaker or subwoofer, or `background`, and station.
    progress
        Told before each; may raise `Cancelled`: the takes made until then are kept.
    on_take
        Told each usable take when it is made.

    Raises
    ------
    InputError
        If a pair cannot be recorded, or the survey was imported.
    """
    job = folder.job
    check_pairs(job, pairs, "rehearsal")
    before = kept_responses(folder, part(progress, 0.0, 0.2))
    recorder = Recorder(folder, job, "survey", RehearsalRig(job), on_take)
    _record(recorder, job, pairs, part(progress, 0.2, 1.0))
    return put_together(folder, job, recorder, before, progress)


def put_together(
    folder: JobFolder, job: Job, recorder: Recorder, before: ResponseSet | None, progress: Progress
) -> Surveyed:
    """The survey as it stands after some takes were made, measuring no others anew.

    Parameters
    ----------
    folder
        Holds the job with the new takes.
    job
        As it was before.
    recorder
        What the new takes were made with.
    before
        The responses of before, from `kept_responses`.
    progress
        Told how far it is, where all takes must be read.
    """
    takes = takes_of(folder.job, "survey")
    stay = {take.file for take in takes}
    replaced = {take.file for take in takes_of(job, "survey") if take.file not in stay}
    if any(take.kind == "take" for take in recorder.takes) and before is not None:
        # The background is not measured here unless it was among the pairs.
        after = recorder.bench.together(recorder.takes)
        again = {(take.source, take.station) for take in recorder.takes}
        stays = (d for d in before.take_diagnoses if (d.sources[0], d.stations[0]) not in again)
        measured = diagnosed(
            folder.job,
            _merged(takes, before, after, replaced),
            (*stays, *after.take_diagnoses),
        )
        keep(folder, folder.job, takes, measured)
    else:
        measured = responses(folder, "survey", progress)
    return Surveyed(folder.job, measured, (*recorder.findings, *survey_findings(measured)))


def check_pairs(job: Job, pairs: Sequence[Pair], origin: Literal["rehearsal", "device"]) -> None:
    """Raise an `InputError` if pairs cannot be measured along with the takes that are there."""
    if not pairs:
        raise InputError("nothing is chosen; choose at least one loudspeaker at one station")
    others = {take.origin for take in takes_of(job, "survey")} - {origin}
    if others:
        raise InputError(_OTHERWISE[others.pop()])
    driven = {output.drives for output in job.outputs} | {BACKGROUND}
    stations = {station.id for station in job.stations}
    for source, station in pairs:
        if source not in driven:
            raise InputError(f"no output drives {source}; it cannot be measured")
        if station not in stations:
            raise InputError(f"{station} is not a station of this job")


def kept_responses(folder: JobFolder, progress: Progress) -> ResponseSet | None:
    """The responses of the survey so far, None if there are none."""
    if not any(take.kind == "take" for take in takes_of(folder.job, "survey")):
        return None
    return responses(folder, "survey", progress)


def _record(recorder: Recorder, job: Job, pairs: Sequence[Pair], progress: Progress) -> None:
    for done, (source, station) in enumerate(pairs):
        progress(done / len(pairs), f"{source} at {station}")
        recorder.rig.move(job.station(station))
        if source == BACKGROUND:
            recorder.record_noise(station)
        else:
            planned = own_take(job, source)
            recorder.keep(planned, station, recorder.rig.play(planned.signals(job)))


def _merged(
    takes: Iterable[Take], before: ResponseSet, after: ResponseSet, replaced: set[str]
) -> ResponseSet:
    """`before` with the pairs of `after` in their places, as if all takes were measured anew.

    `replaced` names the files that no longer count: what was found in them goes.
    """
    swept = [take for take in takes if take.kind != "noise"]
    sources = tuple(dict.fromkeys(take.source for take in swept))
    stations = tuple(dict.fromkeys(take.station for take in swept))
    length = max(before.samples.shape[-1], after.samples.shape[-1])
    arrays: dict[str, NDArray[np.generic]] = {}
    for name in _BY_PAIR:
        old: NDArray[np.generic] = getattr(before, name)
        tail = (length,) if name == "samples" else old.shape[2:]
        arrays[name] = np.zeros((len(sources), len(stations), *tail), dtype=old.dtype)
    arrays["noise_rms"][:] = arrays["signal_to_noise_db"][:] = np.nan
    arrays["distortion_db"][:] = arrays["clock_error_ppm"][:] = np.nan
    background_db = np.full((len(stations), before.octave_hz.size), np.nan)
    for measured in (before, after):
        columns = [stations.index(station) for station in measured.stations]
        known = np.isfinite(measured.background_db).any(axis=1)
        background_db[np.array(columns)[known]] = measured.background_db[known]
        for row, column in np.argwhere(measured.present):
            at = sources.index(measured.sources[row]), columns[column]
            for name in _BY_PAIR:
                value = getattr(measured, name)[row, column]
                if name == "samples":
                    arrays[name][at][:] = 0.0
                    arrays[name][at][: value.size] = value
                else:
                    arrays[name][at] = value
    return replace(
        before,
        sources=sources,
        stations=stations,
        background_db=background_db,
        absolute=before.absolute and after.absolute,
        timed=before.timed and after.timed,
        findings=(
            *(finding for finding in before.findings if finding.where not in replaced),
            *after.findings,
        ),
        **arrays,  # type: ignore[arg-type]
    )
