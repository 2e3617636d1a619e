"""An index for recordings that came without one, proposed from their names and lengths."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

from roomwright._errors import InputError
from roomwright.commissioning.imports.index_cells import IndexCells
from roomwright.commissioning.imports.recordings import REFERENCE, importable_sources
from roomwright.commissioning.survey.recorder import noise_station
from roomwright.commissioning.survey.responses import Stage
from roomwright.model import Job
from roomwright.signals import timeline
from roomwright.standards.bs2051 import is_label
from roomwright.standards.labels import iec_label, label_order
from roomwright.store import WavFacts, wav_facts


@dataclass(frozen=True, slots=True)
class Proposal:
    """Rows to confirm, and what could not be told from the names.

    Attributes
    ----------
    rows
        One for each WAV channel of each file; `channel` is empty where none was recognised.
    wav_channels
        The most channels that any file has.
    labels
        ITU-R BS.2051 labels in the names, in customary order.
    unknown_labels
        Those of them that the job has no channel for.
    unread
        File name to why it cannot be read.
    """

    rows: tuple[IndexCells, ...]
    wav_channels: int
    labels: tuple[str, ...]
    unknown_labels: tuple[str, ...]
    unread: Mapping[str, str]


def propose_index(
    job: Job,
    folder: Path,
    files: Sequence[str],
    *,
    stage: Stage = "survey",
    stations: Mapping[int, str] | None = None,
) -> Proposal:
    """Propose an index for WAV files by the labels and stations in their names.

    A file as long as the job's sweep is proposed as a take of it, a shorter one as an impulse
    response. Labels are those of the job's channels and units, or their IEC 62574 labels.

    Parameters
    ----------
    job
        Its channels and stations are looked for in the names.
    folder, files
        Where the files are, and their names relative to it.
    stage
        As for `import_recordings`.
    stations
        Station of each WAV channel, from 1, for files whose name holds none; what is not given
        follows `proposed_stations`. `reference` says that a WAV channel recorded the signal
        played, "" that it is left out.
    """
    known = _names(job, stage)
    places = {name.lower(): name for name in (*(s.id for s in job.stations), *_seats(job))}
    facts, unread = _read(folder, files)
    most = max((fact.channels for fact in facts.values()), default=0)
    stations = {**proposed_stations(job, most), **(stations or {})}
    rows: list[IndexCells] = []
    labels: set[str] = set()
    unknown: set[str] = set()
    for name, fact in facts.items():
        stem = Path(name).stem
        label = _found(stem, known)
        standard = _standard_label(stem)
        if standard is not None:
            labels.add(standard)
            unknown |= {standard} if label is None else set()
        rows += _rows(name, fact, label or "", _found(stem, places), stations, _kind(job, fact))
    return Proposal(tuple(rows), most, label_order(labels), label_order(unknown), unread)


def _rows(
    name: str,
    fact: WavFacts,
    label: str,
    station: str | None,
    stations: Mapping[int, str],
    kind: str,
) -> list[IndexCells]:
    """A row for each WAV channel that is not left out; `station` is the one in the name."""
    rows = []
    for number in range(1, fact.channels + 1):
        said = stations[number]
        if not said:
            continue
        is_reference = said == REFERENCE
        first = station or stations[1]
        at = first if is_reference else _beside(station, number) if station else said
        rows.append(
            IndexCells(
                file=name,
                wav_channel=str(number),
                channel=REFERENCE if is_reference else label,
                station=at,
                kind=kind,
            )
        )
    return rows


def proposed_stations(job: Job, wav_channels: int) -> dict[int, str]:
    """The main seat's station for the first WAV channel, new stations beside it for the others."""
    main = noise_station(job).id if job.stations else job.main_seat
    return {number: _beside(main, number) for number in range(1, wav_channels + 1)}


def _beside(station: str, number: int) -> str:
    return station if number == 1 else f"{station[:36]}-{number}"


def _names(job: Job, stage: Stage) -> dict[str, str]:
    """What may stand in a file's name, in lower case, and the channel it means."""
    names = {}
    for name in importable_sources(job, stage):
        iec = iec_label(name, job.layout)
        if iec is not None:
            names[iec.lower()] = name
    return names | {name.lower(): name for name in importable_sources(job, stage)}


def _seats(job: Job) -> tuple[str, ...]:
    """Seats without a station: a station of that name will stand for them."""
    taken = {station.seat for station in job.stations}
    return tuple(seat.id for seat in job.seats if seat.id not in taken)


def _standard_label(stem: str) -> str | None:
    """The first ITU-R BS.2051 label in a name."""
    words = re.findall(r"(?<![A-Z0-9])(?:[A-Z]{1,2}[+-][A-Z0-9]+|LFE\d)(?![A-Z0-9])", stem.upper())
    return next((word for word in words if is_label(word)), None)


def _found(stem: str, names: Mapping[str, str]) -> str | None:
    """The longest of `names` that stands in `stem` by itself, not inside a longer word."""
    for name in sorted(names, key=len, reverse=True):
        if re.search(rf"(?<![a-z0-9]){re.escape(name)}(?![a-z0-9])", stem.lower()):
            return names[name]
    return None


def _read(folder: Path, files: Iterable[str]) -> tuple[dict[str, WavFacts], dict[str, str]]:
    facts, unread = {}, {}
    for name in sorted(files):
        try:
            facts[name] = wav_facts(folder / name)
        except InputError as error:
            unread[name] = str(error).replace(f"{folder}/", "")
    return facts, unread


def _kind(job: Job, fact: WavFacts) -> str:
    needed_s = timeline(job.sweep, job.sampling_rate_hz).sweep_stop / job.sampling_rate_hz
    return "take" if fact.samples >= needed_s * fact.sampling_rate_hz else "response"
