"""The Survey stage by file exchange: a folder to play, and what a recorder made of it."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from math import isnan
from pathlib import Path
from statistics import median
from typing import Final

import numpy as np
from numpy.typing import NDArray

from roomwright._errors import InputError, JobError
from roomwright._progress import Progress, silent
from roomwright.commissioning.survey.diagnose import survey_findings
from roomwright.commissioning.survey.rehearse import Surveyed
from roomwright.commissioning.survey.responses import Bench, keep, responses, takes_of, with_takes
from roomwright.devices import FoundSweep, Playback, find_sweeps, passage_signals, runs
from roomwright.measurement import LOOP_BACK
from roomwright.model import Finding, Job, Take
from roomwright.signals import resample
from roomwright.store import JobFolder, read_wav

F32 = NDArray[np.float32]

#: Under `outputs/`.
_FOLDER: Final = "playback"

#: Chirps that a subwoofer plays for itself last this long: it answers to a small part of them.
_OWN_CHIRP_S: Final = 0.5

#: Stands for a run that is left out, where stations are given run by run.
LEFT_OUT: Final = "-"

_SHEET = """\
{name}: what to play, and how to record it

{files}

1. Sweeps are loud and sudden. Start at a low level with nobody near the loudspeakers and with
   hearing protection at hand; raise it until a sweep is clearly above the noise of the room.
   Every output plays the whole sweep, also lower than a tweeter or a small loudspeaker bears: keep
   their crossovers in the way, or leave such outputs unplugged.
2. Switch off everything in the recorder that changes the level by itself (automatic gain,
   limiter, noise reduction). Record as WAV, 24 bit, at {rate} Hz; another rate is converted.
3. Put the microphone at a station, start the recorder, then play {what}.
   Stations, in this order unless the file's name holds the station's:
{stations}
4. One long recording or several do alike. Leave the level as it is from the first to the last.
5. Bring the recordings back:  roomwright playback JOB FILE [FILE ...]{apart}
"""


@dataclass(frozen=True, slots=True)
class _Run:
    """The sweeps of one run of the playback in one recording."""

    file: Path
    sweeps: tuple[FoundSweep, ...]

    @property
    def words(self) -> str:
        """Where it is, for a sentence."""
        return f"{self.file.name} at {self.sweeps[0].at_s:.0f} s"


def write_playback(folder: JobFolder, *, apart: bool = False) -> tuple[Path, ...]:
    """Write what a media player is to play under `outputs/playback/`, and a sheet that says how.

    Parameters
    ----------
    folder
        A job folder open for writing; an earlier playback is removed.
    apart
        One mono file for each output, to be played one after another in any order, instead of
        one file with a channel for each output and one for a loop-back.

    Returns
    -------
    The sheet, then the WAV files (24 bit).

    Raises
    ------
    InputError
        If the job has no outputs, or the disk refuses.
    """
    job = folder.job
    playback = _playback(job, apart=apart)
    folder.discard_outputs(_FOLDER)
    rate = playback.sampling_rate_hz
    drives = {output.number: output.drives for output in job.outputs}
    files, lines = [], []
    if apart:
        for output in playback.outputs:
            alone = Playback(playback.sweep, rate, (output,))
            name = f"{_FOLDER}/output-{output:02}-{drives[output]}.wav"
            blocks = (signals[output][None] for signals in passage_signals(alone))
            files.append(folder.write_output_wav(name, blocks, 1, alone.passages[-1].stop, rate))
            lines.append(f"  {files[-1].name}   on output {output} ({drives[output]}) alone")
    else:
        count = max(playback.outputs) + 1
        total = playback.passages[-1].stop
        name = f"{_FOLDER}/all-outputs.wav"
        files.append(folder.write_output_wav(name, _blocks(playback, count), count, total, rate))
        lines = [
            f"  channel {output:2}   on output {output} ({drives[output]})"
            for output in playback.outputs
        ]
        lines.append(
            f"  channel {count:2}   into the recorder's second input by cable, if it has one"
        )
        lines.insert(0, f"{files[0].name}, {playback.duration_s / 60:.1f} minutes:")
    sheet = _SHEET.format(
        name=job.name,
        files="\n".join(lines),
        rate=rate,
        what="every file once, in any order" if apart else "the file once",
        stations="\n".join(f"   {station.id}" for station in job.stations),
        apart=" --apart" if apart else "",
    )
    return (folder.write_output(f"{_FOLDER}/what-to-play.txt", sheet), *files)


def read_playback(
    folder: JobFolder,
    files: Sequence[Path],
    progress: Progress = silent,
    *,
    apart: bool = False,
    stations: Sequence[str] = (),
    microphone_channel: int = 1,
    reference_channel: int | None = None,
) -> Surveyed:
    """Find the sweeps in what a recorder made, store each as a take, and save the job.

    Parameters
    ----------
    folder
        A job folder open for writing, with the sweep and outputs of when the playback was written.
    files
        WAV files at any rate, in the order in which they were recorded.
    progress
        Told before each file.
    apart
        As when it was written.
    stations
        The station of each run found, in order, `-` for one that is left out. Without them a file
        whose name holds a station's is of that station, the others follow the job's order.
    microphone_channel, reference_channel
        Channels of the files, from 1; None if the loop-back was not recorded.

    Returns
    -------
    With a refusal for each sweep that is missing, cut off, clipped or there twice.

    Raises
    ------
    InputError
        If a file cannot be read, nothing is found, or runs and stations do not match.
    JobError
        If no sweep can be used; `problems` says why for each.
    """
    job = folder.job
    playback = _playback(job, apart=apart)
    found: list[_Run] = []
    for done, file in enumerate(files):
        progress(done / len(files), f"listening to {file.name}")
        samples = _samples(file, playback.sampling_rate_hz, microphone_channel, reference_channel)
        sweeps = find_sweeps(samples, playback, reference=reference_channel is not None)
        if not sweeps:
            raise InputError(
                f"{file} holds no sweep of this job's playback; was it written with another sweep, "
                "or is the recording too soft?"
            )
        found += [_Run(file, run) for run in runs(sweeps, playback)]
    drives = {output.number: output.drives for output in job.outputs}
    chosen, findings = _chosen(playback, drives, _assigned(job, found, stations))
    bench = Bench(folder, job)
    takes = _kept(folder, playback, bench, chosen, findings)
    if not takes:
        sentences = [f"{finding.where} {finding.text}" for finding in findings]
        raise JobError(f"no sweep can be used: {sentences[0]}", sentences)
    folder.save(with_takes(job, "survey", takes))
    kept = takes_of(folder.job, "survey")
    if len(kept) > len(takes):
        measured = responses(folder, "survey", progress)
    else:
        measured = bench.together(takes)
        keep(folder, folder.job, kept, measured)
    return Surveyed(folder.job, measured, (*findings, *survey_findings(measured)))


def _playback(job: Job, *, apart: bool) -> Playback:
    """What the job's outputs play; together, a loudspeaker plays the chirps."""
    outputs = tuple(sorted(output.number for output in job.outputs))
    if not outputs:
        raise InputError("the job has no outputs; there is nothing to play")
    if apart:
        longer = job.sweep.model_copy(update={"pilot_s": max(job.sweep.pilot_s, _OWN_CHIRP_S)})
        return Playback(longer, job.sampling_rate_hz, outputs)
    loudspeakers = {loudspeaker.id for loudspeaker in job.loudspeakers}
    first = next((o.number for o in job.outputs if o.drives in loudspeakers), outputs[0])
    chirps_on = job.interface.reference_output or first
    return Playback(job.sweep, job.sampling_rate_hz, outputs, chirps_on)


def _blocks(playback: Playback, channels: int) -> Iterator[F32]:
    """The programme, (channels, n) a passage: output n on channel n, the loop-back on the last."""
    for signals in passage_signals(playback):
        block = np.zeros((channels, signals[LOOP_BACK].size), dtype=np.float32)
        for output, samples in signals.items():
            block[output - 1] = samples
        yield block


def _samples(file: Path, rate: int, microphone: int, reference: int | None) -> F32:
    """The microphone's channel, and the loop-back's if there is one, at the job's rate."""
    samples, recorded_rate = read_wav(file)
    wanted = [microphone, *([] if reference is None else [reference])]
    for channel in wanted:
        if not 1 <= channel <= len(samples):
            raise InputError(f"{file} has {len(samples)} channels; channel {channel} is not there")
    chosen = samples[[channel - 1 for channel in wanted]]
    if recorded_rate == rate:
        return chosen
    return resample(chosen, rate / recorded_rate).astype(np.float32)


def _assigned(job: Job, found: Sequence[_Run], names: Sequence[str]) -> list[tuple[str, _Run]]:
    """The station of each run that is not left out."""
    known = [station.id for station in job.stations]
    for name in names:
        if name not in (*known, LEFT_OUT):
            raise InputError(f"station {name} is not one of {', '.join(known)}")
    if not names:
        named = [_named(run.file, known) for run in found]
        left = [name for name in known if name not in named]
        if named.count("") in (0, len(left)):
            names = [name or left.pop(0) for name in named]
    if len(names) != len(found):
        where = ", ".join(run.words for run in found)
        raise InputError(
            f"the playback was run {len(found)} times ({where}), which does not fit the "
            f"{len(names) or len(known)} stations; name the station of each run in order, with "
            f"{LEFT_OUT} for one to leave out"
        )
    return [(name, run) for name, run in zip(names, found, strict=True) if name != LEFT_OUT]


def _named(file: Path, known: Sequence[str]) -> str:
    """The station whose name the file's holds, the longest if several do; empty if none does."""
    inside = [name for name in known if name.lower() in file.stem.lower()]
    return max(inside, key=len, default="")


def _chosen(
    playback: Playback, drives: Mapping[int, str], by_station: Sequence[tuple[str, _Run]]
) -> tuple[dict[tuple[str, str], FoundSweep], list[Finding]]:
    """The one usable sweep of each source and station, and why others have none."""
    chosen: dict[tuple[str, str], FoundSweep] = {}
    findings = []
    for station in dict.fromkeys(name for name, _ in by_station):
        mine = [run for name, run in by_station if name == station]
        for output in playback.outputs:
            there = [(run, s) for run in mine for s in run.sweeps if s.output == output]
            usable = [sweep for _, sweep in there if not sweep.fault]
            if len(usable) == 1:
                chosen[drives[output], station] = usable[0]
            else:
                findings.append(_unusable(drives[output], output, station, there, mine))
    return chosen, findings


def _kept(
    folder: JobFolder,
    playback: Playback,
    bench: Bench,
    chosen: Mapping[tuple[str, str], FoundSweep],
    findings: list[Finding],
) -> list[Take]:
    """Store and measure sweeps; those that cannot be used add to `findings`."""
    chirps_on = playback.chirps_on
    drives = {output.number: output.drives for output in folder.job.outputs}
    takes, errors_ppm = [], []
    for (source, station), sweep in chosen.items():
        file, sha256 = folder.write_take(
            f"survey-{source}-{station}", sweep.samples, playback.sampling_rate_hz
        )
        take = Take(
            stage="survey",
            source=source,
            station=station,
            kind="take",
            file=file,
            sha256=sha256,
            reference_channel=2 if len(sweep.samples) > 1 else None,
            sweep=playback.sweep,
            origin="device",
            chirps_from=None if chirps_on is None else drives[chirps_on],
        )
        try:
            measured = bench.measure(take, sweep.samples)
        except InputError as error:
            findings.append(Finding(severity="refusal", where=file, text=str(error)))
            continue
        takes.append(take)
        if measured is not None and not isnan(measured.clock_error_ppm):
            errors_ppm.append(measured.clock_error_ppm)
    if errors_ppm:
        text = f"ran {median(errors_ppm):+.1f} ppm against the player's; it was taken out"
        findings.append(Finding(severity="note", where="the recorder's clock", text=text))
    return takes


def _unusable(
    source: str,
    output: int,
    station: str,
    there: Sequence[tuple[_Run, FoundSweep]],
    mine: Sequence[_Run],
) -> Finding:
    """Why a source has no take at a station: not found, cut off, not heard, or there twice."""
    usable = [(run, sweep) for run, sweep in there if not sweep.fault]
    if len(usable) > 1:
        places = " and ".join(f"in {run.file.name} at {s.at_s:.1f} s" for run, s in usable)
        text = (
            f"output {output} was found {len(usable)} times, {places}; leave all runs but one out"
        )
    elif there:
        run, sweep = there[0]
        text = f"output {output} in {run.file.name} at {sweep.at_s:.1f} s {sweep.fault}"
    else:
        files = ", ".join(dict.fromkeys(run.file.name for run in mine))
        text = f"output {output} was not found in {files}; play it again"
    return Finding(severity="refusal", where=f"{source} at {station}", text=text)
