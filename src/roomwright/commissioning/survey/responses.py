"""From the takes of a job to its measured responses, computed once and kept in the cache."""

from __future__ import annotations

import json
from collections.abc import Iterable, Sequence
from dataclasses import replace
from math import dist
from typing import Final, Literal

import numpy as np
from numpy.typing import NDArray

from roomwright import __version__
from roomwright._errors import InputError
from roomwright._progress import Progress, silent
from roomwright.acoustics import speed_of_sound_m_s
from roomwright.commissioning.survey.circumstances import circumstances
from roomwright.commissioning.survey.diagnose import diagnosed, placed
from roomwright.commissioning.survey.microphone import Calibration, calibration_file
from roomwright.measurement import (
    AcousticReference,
    Divided,
    MeasuredResponse,
    ResponseSet,
    background_levels,
    collect,
    divided,
    response_from_impulse,
    response_of,
    whole_pass,
)
from roomwright.measurement.quality import (
    JudgedPass,
    JudgedTake,
    judge_pass,
    judge_source,
    judge_take,
)
from roomwright.model import Diagnosis, Finding, Job, Overlap, Sweep, Take, digest
from roomwright.store import JobFolder

Stage = Literal["survey", "proof"]

#: Length kept of every response; room decays of a cinema are well over by then.
RESPONSE_LENGTH_S: Final = 1.0

#: What noise takes name as their source.
BACKGROUND: Final = "background"

_ARRAYS: Final = (
    "samples",
    "present",
    "trusted_hz",
    "noise_rms",
    "octave_hz",
    "signal_to_noise_db",
    "distortion_db",
    "background_db",
    "clock_error_ppm",
)


class Bench:
    """Measures the takes of one stage one by one, then puts them together.

    Holds what the single measurements share (the microphone's correction) and what they gave.
    """

    def __init__(self, folder: JobFolder, job: Job) -> None:
        self._job = job
        self._calibration = Calibration(folder, job)
        self._measured: dict[tuple[str, str], MeasuredResponse] = {}
        self._background: dict[str, NDArray[np.float64]] = {}
        self._wrong: dict[tuple[str, str], tuple[Diagnosis, ...]] = {}
        self._quiet_rms: float | None = None
        self._divided: Divided | None = None
        self._pass: tuple[str, JudgedPass] | None = None

    def measure(self, take: Take, samples: NDArray[np.float32]) -> MeasuredResponse | None:
        """Measure one recording, (channels, n); None for background noise.

        Raises
        ------
        InputError
            If the recording cannot be used; the sentence names the take's file.
        """
        job, rate = self._job, self._job.sampling_rate_hz
        microphone = samples[take.wav_channel - 1]
        sensitivity_pa = job.microphone.sensitivity_pa
        if take.kind == "noise":
            self._quiet_rms = float(np.std(microphone))
            if sensitivity_pa is not None:
                self._background[take.station] = background_levels(
                    microphone, rate, sensitivity_pa, self._calibration.of(take)
                )
            return None
        if take.sweep is None:
            measured = response_from_impulse(
                microphone,
                rate,
                curve=self._calibration.of(take),
                sensitivity_pa=sensitivity_pa,
                length_s=RESPONSE_LENGTH_S,
                timed=take.common_start,
                where=take.file,
            )
        else:
            measured = self._judged(take, take.sweep, microphone, samples)
        if take.overlap is not None and self._divided is not None:
            shared = self._divided.findings
            own = (f for f in measured.findings if f not in shared)
            named = (f.model_copy(update={"where": name_in(take)}) for f in own)
            measured = replace(measured, findings=(*shared, *named))
        self._measured[take.source, take.station] = measured
        return measured

    def wrong(self, source: str, station: str) -> tuple[Diagnosis, ...]:
        """Faults found in the last take of a source at a station."""
        return self._wrong.get((source, station), ())

    def whole(self, take: Take, samples: NDArray[np.float32]) -> Divided:
        """A recorded take, (channels, n), divided by its sweep: all responses that are in it.

        Raises
        ------
        InputError
            If it is no recorded sweep, or cannot be used.
        """
        if take.sweep is None:
            raise InputError(f"{take.file} is no recording of a sweep")
        return self._whole(take, take.sweep, samples)

    def _judged(
        self,
        take: Take,
        sweep: Sweep,
        microphone: NDArray[np.float32],
        samples: NDArray[np.float32],
    ) -> MeasuredResponse:
        """Measure a take and, in the survey, keep what is wrong with it.

        In the proof the processor's crossovers are in it, which a unit's range says nothing of.
        """
        if take.stage != "survey":
            whole = self._whole(take, sweep, samples)
            return response_of(whole, take.overlap, length_s=RESPONSE_LENGTH_S)
        if take.overlap is not None:
            judged = self._judged_source(take, take.overlap, sweep, samples)
        else:
            judged = self._judged_alone(take, sweep, microphone, samples)
        if judged.measured is None:
            refused = judged.diagnoses[0]
            raise InputError(f"{take.file} {refused.sentence}; {refused.remedy}")
        pair = (take.source, take.station)
        self._wrong[pair] = tuple(placed(found, pair) for found in judged.diagnoses)
        return judged.measured

    def _judged_source(
        self, take: Take, overlap: Overlap, sweep: Sweep, samples: NDArray[np.float32]
    ) -> JudgedTake:
        """One source of a recording of several; what concerns all of them is judged once."""
        whole = self._whole(take, sweep, samples)
        microphone, channel = samples[take.wav_channel - 1], take.reference_channel
        if self._pass is None or self._pass[0] != take.file:
            reference = None if channel is None else samples[channel - 1]
            everything = self._divide(take, whole_pass(sweep, overlap), samples)
            together = judge_pass(everything, microphone, reference, self._quiet_rms)
            self._pass = take.file, together
        return judge_source(
            whole,
            self._pass[1],
            microphone,
            overlap,
            band_hz=self._band_hz(take.source),
            background_rms=self._quiet_rms,
            length_s=RESPONSE_LENGTH_S,
        )

    def _judged_alone(
        self,
        take: Take,
        sweep: Sweep,
        microphone: NDArray[np.float32],
        samples: NDArray[np.float32],
    ) -> JudgedTake:
        job, channel = self._job, take.reference_channel
        return judge_take(
            microphone,
            None if channel is None else samples[channel - 1],
            sweep,
            job.sampling_rate_hz,
            band_hz=self._band_hz(take.source),
            background_rms=self._quiet_rms,
            acoustic=_acoustic_reference(job, take),
            curve=self._calibration.of(take),
            sensitivity_pa=job.microphone.sensitivity_pa,
            length_s=RESPONSE_LENGTH_S,
            where=take.file,
        )

    def _band_hz(self, source: str) -> tuple[float, float]:
        model = self._job.model_of(self._job.unit(source))
        return model.low_hz, model.high_hz

    def _whole(self, take: Take, sweep: Sweep, samples: NDArray[np.float32]) -> Divided:
        """The take's recording divided by its sweep; kept for others in it of the same sweep."""
        kept = self._divided
        if kept is not None and take.overlap and (kept.where, kept.sweep) == (take.file, sweep):
            return kept
        self._divided = self._divide(take, sweep, samples)
        return self._divided

    def _divide(self, take: Take, sweep: Sweep, samples: NDArray[np.float32]) -> Divided:
        reference = take.reference_channel
        return divided(
            samples[take.wav_channel - 1],
            None if reference is None else samples[reference - 1],
            sweep,
            self._job.sampling_rate_hz,
            curve=self._calibration.of(take),
            sensitivity_pa=self._job.microphone.sensitivity_pa,
            acoustic=_acoustic_reference(self._job, take),
            overlapped=take.overlap is not None,
            where=take.file,
        )

    def measured(self, source: str, station: str) -> MeasuredResponse | None:
        """What `measure` gave for a source at a station, None if nothing."""
        return self._measured.get((source, station))

    def together(self, takes: Iterable[Take]) -> ResponseSet:
        """Everything measured of `takes`, as one set in the order of the takes."""
        takes = [take for take in takes if take.kind != "noise"]
        measured = collect(
            self._measured,
            sources=tuple(dict.fromkeys(take.source for take in takes)),
            stations=tuple(dict.fromkeys(take.station for take in takes)),
            background=self._background,
            findings=_uncalibrated(self._job),
        )
        if all(take.stage != "survey" for take in takes):
            return measured
        wrong = (found for all_found in self._wrong.values() for found in all_found)
        return diagnosed(self._job, measured, wrong)


def _acoustic_reference(job: Job, take: Take) -> AcousticReference | None:
    """The loudspeaker whose chirps a take holds, with its flight where the places are known."""
    if take.chirps_from is None:
        return None
    place = job.station(take.station).position_m
    if place is None:
        return AcousticReference()
    distance_m = dist(place, job.unit(take.chirps_from).position_m)
    return AcousticReference(distance_m / speed_of_sound_m_s(job.room.temperature_c))


def _uncalibrated(job: Job) -> tuple[Finding, ...]:
    """What every result of an uncalibrated microphone holds besides the room."""
    if job.microphone.calibration_file or job.microphone.side_calibration_file:
        return ()
    text = "has no calibration file; its own response is part of every level and curve"
    return (Finding(severity="note", where=f"the {job.microphone.name}", text=text),)


def name_in(take: Take) -> str:
    """What findings about one source in a recording of several call it."""
    return take.file if take.overlap is None else f"{take.file} ({take.source})"


def takes_of(job: Job, stage: Stage) -> tuple[Take, ...]:
    """The takes of one stage."""
    return tuple(take for take in job.takes if take.stage == stage)


def with_takes(job: Job, stage: Stage, takes: Sequence[Take]) -> Job:
    """The job with new takes, each in the place of the one of the same source and station.

    What they are of is written down with them: the room, the source and the station as they are
    in the job.
    """
    new = {
        (take.source, take.station): take.model_copy(update={"made_with": circumstances(job, take)})
        for take in takes
    }
    kept = [
        new.pop((take.source, take.station), take) if take.stage == stage else take
        for take in job.takes
    ]
    return job.model_copy(update={"takes": (*kept, *new.values())})


def responses(folder: JobFolder, stage: Stage, progress: Progress = silent) -> ResponseSet:
    """Return the measured responses of one stage.

    Raises
    ------
    InputError
        If there are none, or a recording is missing, was changed, or cannot be used.
    """
    job = folder.job
    takes = takes_of(job, stage)
    if not any(take.kind != "noise" for take in takes):
        raise InputError(
            f"{folder.path}: nothing is measured yet; rehearse, or import recordings, first"
        )
    kept = folder.cache_get(cache_key(folder, job, takes))
    if kept is not None:
        measured, plan = _unpack(kept)
        if stage == "survey" and plan != _plan(job):
            measured = diagnosed(job, measured, measured.take_diagnoses)
            keep(folder, job, takes, measured)
        return measured
    bench = Bench(folder, job)
    opened: tuple[str, NDArray[np.float32]] | None = None
    for done, take in enumerate(takes):
        progress(done / len(takes), f"reading {take.source} at {take.station}")
        if opened is None or opened[0] != take.file:
            opened = (take.file, folder.read_take(take.file, take.sha256)[0])
        bench.measure(take, opened[1])
    measured = bench.together(takes)
    keep(folder, job, takes, measured)
    return measured


def keep(folder: JobFolder, job: Job, takes: tuple[Take, ...], measured: ResponseSet) -> None:
    """Keep the responses of `takes` in the job's cache."""
    folder.cache_put(cache_key(folder, job, takes), _pack(measured, _plan(job)))


def cache_key(folder: JobFolder, job: Job, takes: tuple[Take, ...]) -> str:
    """Name the responses of `takes` by everything they are computed from."""
    files = " ".join(calibration_file(job, take) or "-" for take in takes)
    text = f"{Calibration(folder, job).texts}\f{files}"
    version = Finding(severity="note", where=__version__, text=text)
    return digest(takes, job.microphone, version)


def _plan(job: Job) -> str:
    """Name what diagnoses compare the takes with."""
    return digest(job.units, job.loudspeaker_models, job.channels, job.stations)


def _pack(responses: ResponseSet, plan: str) -> dict[str, NDArray[np.generic]]:
    words = {
        "plan": plan,
        "sources": responses.sources,
        "stations": responses.stations,
        "sampling_rate_hz": responses.sampling_rate_hz,
        "absolute": responses.absolute,
        "timed": responses.timed,
        "findings": [finding.model_dump() for finding in responses.findings],
        "take_diagnoses": [found.model_dump() for found in responses.take_diagnoses],
        "diagnoses": [found.model_dump() for found in responses.diagnoses],
    }
    arrays = {name: getattr(responses, name) for name in _ARRAYS}
    return {**arrays, "words": np.array(json.dumps(words))}


def _unpack(kept: dict[str, NDArray[np.generic]]) -> tuple[ResponseSet, str]:
    """The responses, and the plan that they were compared with."""
    words = json.loads(str(kept["words"]))
    measured = ResponseSet(
        sources=tuple(words["sources"]),
        stations=tuple(words["stations"]),
        sampling_rate_hz=words["sampling_rate_hz"],
        absolute=words["absolute"],
        timed=words["timed"],
        findings=tuple(Finding(**finding) for finding in words["findings"]),
        take_diagnoses=tuple(Diagnosis(**found) for found in words["take_diagnoses"]),
        diagnoses=tuple(Diagnosis(**found) for found in words["diagnoses"]),
        **{name: kept[name] for name in _ARRAYS},  # type: ignore[arg-type]
    )
    return measured, words["plan"]
