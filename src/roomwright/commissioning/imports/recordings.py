"""The Survey stage from files: takes recorded elsewhere and impulse responses, by an index."""

from __future__ import annotations

import csv
import io
import re
from dataclasses import dataclass
from pathlib import Path
from typing import Final

from pydantic import ValidationError

from roomwright._errors import InputError, JobError
from roomwright._progress import Progress, silent
from roomwright.commissioning.survey.diagnose import survey_findings
from roomwright.commissioning.survey.microphone import with_microphone
from roomwright.commissioning.survey.rehearse import Surveyed
from roomwright.commissioning.survey.responses import (
    Bench,
    Stage,
    keep,
    responses,
    takes_of,
    with_takes,
)
from roomwright.model import Job, Point, Station, Take
from roomwright.store import JobFolder, read_text, read_wav

_COLUMNS: Final = ("file", "wav_channel", "channel", "station", "kind")
_PLACE_COLUMNS: Final = ("x_m", "y_m", "z_m")

#: An index row may give this channel to the recording of the electrical signal: the time
#: reference of the other rows of the same file.
REFERENCE: Final = "reference"


@dataclass(frozen=True, slots=True)
class _Row:
    line: int
    path: Path
    wav_channel: int
    channel: str
    station: str
    kind: str
    position_m: Point | None


def import_recordings(
    folder: JobFolder,
    index: Path,
    stage: Stage = "survey",
    progress: Progress = silent,
    *,
    common_start: bool = False,
    calibration: Path | None = None,
    full_scale_db: float | None = None,
    only_within: Path | None = None,
) -> Surveyed:
    """Import the recordings that an index lists, check every one, and save the job.

    Parameters
    ----------
    folder
        A job folder open for writing.
    index
        CSV with the columns ``file, wav_channel, channel, station, kind`` and optionally
        ``x_m, y_m, z_m``; relative paths are from the index. ``kind`` is ``take`` for a recording
        of the job's own sweep or ``response`` for an impulse response. ``channel`` names a
        loudspeaker, a subwoofer or (in the proof stage) a channel; ``reference`` marks the WAV
        channel that recorded the electrical signal in the same file.
    stage
        ``survey`` for single loudspeakers without a tuning, ``proof`` for channels with it.
    progress
        Told how far it is; may raise `Cancelled`, which leaves the job as it was.
    common_start
        Whether the responses' first samples are the moments their signals left the outputs.
    calibration
        The calibration file of the microphone that the job's recordings were made with.
    full_scale_db
        Level of the sine that reaches digital full scale with that microphone, dB re 20 uPa;
        without it levels are relative.
    only_within
        A folder that no file of the index may lie outside of; None allows any.

    Raises
    ------
    InputError
        If the index or the calibration file cannot be read.
    JobError
        If any row cannot be used; `problems` lists them all, and the job is as it was.
    """
    rows, problems = _read_index(index)
    job = with_microphone(folder, calibration, full_scale_db)
    job = job.model_copy(update={"stations": _stations(job, rows)})
    bench = Bench(folder, job)
    takes: list[Take] = []
    problems += _doubled(index, rows)
    by_file: dict[Path, list[_Row]] = {}
    for row in rows:
        if only_within is None or row.path.resolve().is_relative_to(only_within.resolve()):
            by_file.setdefault(row.path, []).append(row)
        else:
            problems.append(f"{index} line {row.line}: the file lies outside {only_within}")
    try:
        for done, (path, rows_of_file) in enumerate(by_file.items()):
            progress(done / len(by_file), f"reading {path.name}")
            found = _import_file(
                folder, job, stage, rows_of_file, bench, takes, common_start=common_start
            )
            problems += [f"{index} line {line}: {text}" for line, text in found]
        _raise_all(problems)
        folder.save(with_takes(job, stage, takes))
    except BaseException:
        folder.discard_takes(take.file for take in takes)
        raise
    job = folder.job
    takes_now = takes_of(job, stage)
    if len(takes_now) > len(takes):
        measured = responses(folder, stage, progress)
    else:
        measured = bench.together(takes)
        keep(folder, job, takes_now, measured)
    return Surveyed(job, measured, survey_findings(measured))


def _import_file(
    folder: JobFolder,
    job: Job,
    stage: Stage,
    rows: list[_Row],
    bench: Bench,
    takes: list[Take],
    *,
    common_start: bool,
) -> list[tuple[int, str]]:
    """Measure and store what `rows` say of one WAV file, adding to `takes`.

    Returns the problems found, each with the index's line.
    """
    path = rows[0].path
    try:
        samples, rate = read_wav(path)
    except InputError as error:
        return [(rows[0].line, str(error))]
    known = importable_sources(job, stage)
    problems = []
    for row in rows:
        try:
            _check_row(row, known, len(samples), rate, job)
        except InputError as error:
            problems.append((row.line, str(error)))
    if problems:
        return problems
    file, sha256 = folder.write_take(f"import-{path.stem}", samples, rate)
    reference = next((row.wav_channel for row in rows if row.channel == REFERENCE), None)
    for row in rows:
        if row.channel == REFERENCE:
            continue
        take = Take.model_validate(
            {
                "stage": stage,
                "source": known[row.channel],
                "station": row.station,
                "kind": row.kind,
                "file": file,
                "sha256": sha256,
                "wav_channel": row.wav_channel,
                "reference_channel": reference if row.kind == "take" else None,
                "common_start": common_start and row.kind == "response",
                "sweep": job.sweep if row.kind == "take" else None,
            }
        )
        takes.append(take)
        try:
            bench.measure(take, samples)
        except InputError as error:
            problems.append((row.line, str(error).replace(file, str(path))))
    return problems


def importable_sources(job: Job, stage: Stage) -> dict[str, str]:
    """What an index may name, and the source it stands for."""
    if stage == "proof":
        return {channel.id: channel.id for channel in job.channels}
    sources = {unit.id: unit.id for unit in job.units}
    for channel in job.channels:
        if len(channel.loudspeakers) == 1:
            sources.setdefault(channel.id, channel.loudspeakers[0])
    return sources


def problems_by_line(error: InputError, index: Path) -> dict[int, list[str]]:
    """Sort what an import found wrong by the line of the index; what is of no line is under 0."""
    found: dict[int, list[str]] = {}
    start = re.compile(re.escape(str(index)) + r" line (\d+): ")
    folder = f"{index.parent}/"
    for sentence in (error.problems if isinstance(error, JobError) else ()) or (str(error),):
        match = start.match(sentence)
        line = int(match[1]) if match else 0
        text = sentence[match.end() :] if match else sentence
        found.setdefault(line, []).append(text.replace(str(index), index.name).replace(folder, ""))
    return found


def _read_index(index: Path) -> tuple[list[_Row], list[str]]:
    reader = csv.DictReader(io.StringIO(read_text(index)), skipinitialspace=True)
    missing = [name for name in _COLUMNS if name not in (reader.fieldnames or ())]
    if missing:
        raise InputError(
            f"the index {index} lacks the column {missing[0]}; needed are {', '.join(_COLUMNS)}"
        )
    rows, problems = [], []
    for cells in reader:
        try:
            rows.append(_row(index, reader.line_num, cells))
        except InputError as error:
            problems.append(f"{index} line {reader.line_num}: {error}")
    if not rows:
        _raise_all(problems)
        raise InputError(f"the index {index} lists no recordings")
    return rows, problems


def _row(index: Path, line: int, cells: dict[str, str | None]) -> _Row:
    values = {name: (cells.get(name) or "").strip() for name in (*_COLUMNS, *_PLACE_COLUMNS)}
    for name in _COLUMNS:
        if not values[name]:
            raise InputError(f"the column {name} is empty")
    if not values["wav_channel"].isdigit() or int(values["wav_channel"]) < 1:
        raise InputError(f"wav_channel is {values['wav_channel']!r}; it counts from 1")
    if values["kind"] not in ("take", "response"):
        raise InputError(f"kind is {values['kind']!r}; allowed are take and response")
    try:
        Station(id=values["station"])
    except ValidationError:
        raise InputError(
            f"station is {values['station']!r}; a name has up to 40 letters, digits and + - _ ."
        ) from None
    return _Row(
        line=line,
        path=index.parent / values["file"],
        wav_channel=int(values["wav_channel"]),
        channel=values["channel"],
        station=values["station"],
        kind=values["kind"],
        position_m=_position([values[name] for name in _PLACE_COLUMNS]),
    )


def _position(texts: list[str]) -> Point | None:
    if not any(texts):
        return None
    try:
        x, y, z = (float(text) for text in texts)
    except ValueError:
        raise InputError("x_m, y_m and z_m must be three numbers in metres, or all empty") from None
    return (x, y, z)


def _check_row(row: _Row, known: dict[str, str], wav_channels: int, rate: int, job: Job) -> None:
    if row.channel not in known and row.channel != REFERENCE:
        raise InputError(f"channel {row.channel} is not one of {', '.join(sorted(known))}")
    if row.wav_channel > wav_channels:
        raise InputError(
            f"{row.path} has {wav_channels} channels; wav_channel {row.wav_channel} does not exist"
        )
    if rate != job.sampling_rate_hz:
        raise InputError(
            f"{row.path} is sampled at {rate} Hz; this job works at {job.sampling_rate_hz} Hz "
            "(a new job takes another rate)"
        )


def _doubled(index: Path, rows: list[_Row]) -> list[str]:
    first: dict[tuple[str, str], int] = {}
    problems = []
    for row in rows:
        if row.channel == REFERENCE:
            continue
        key = (row.channel, row.station)
        if key in first:
            problems.append(
                f"{index} line {row.line}: {row.channel} at {row.station} stands on line "
                f"{first[key]} already; each pair is listed once"
            )
        first.setdefault(key, row.line)
    return problems


def _stations(job: Job, rows: list[_Row]) -> tuple[Station, ...]:
    """The job's stations with those of the index: new ones added, positions brought up to date.

    A station that has the name of a seat stands for that seat.
    """
    stations = {station.id: station for station in job.stations}
    seats = {seat.id for seat in job.seats}
    for row in rows:
        station = stations.get(row.station)
        if station is None:
            station = Station(id=row.station, seat=row.station if row.station in seats else None)
        if row.position_m is not None:
            station = station.model_copy(update={"position_m": row.position_m})
        stations[row.station] = station
    return tuple(stations.values())


def _raise_all(problems: list[str]) -> None:
    if problems:
        more = f" (and {len(problems) - 1} more)" if len(problems) > 1 else ""
        raise JobError(f"{problems[0]}{more}", problems)
