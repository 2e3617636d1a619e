"""What the Survey stage shows: what was measured where, what each take is worth, and why."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from typing import Final, Literal

import numpy as np

from roomwright.commissioning.bass.stations import held_back_names
from roomwright.commissioning.edits.outputs import output_rows
from roomwright.commissioning.plan_view import Mark, PlanItem, PlanView, plan_view
from roomwright.commissioning.survey.responses import BACKGROUND, name_in, takes_of
from roomwright.measurement import ResponseSet
from roomwright.measurement.quality import HIGHEST_JUDGED_HZ, USABLE_DB
from roomwright.model import Diagnosis, Finding, Job, Point, Take
from roomwright.signals.bands import nominal_label

Worth = Literal["good", "usable", "doubtful", "missing"]

#: Signal over noise that every octave of a unit's own range needs to be good, dB. Common practice,
#: no source: 30 dB keep noise out of a tuning, `USABLE_DB` out of its level.
_GOOD_DB: Final = 30.0

_ORDERS: Final = ("2nd", "3rd", "4th", "5th")


@dataclass(frozen=True, slots=True)
class TakeView:
    """One source at one station.

    `says` are short sentences, the gravest first. `signal_to_noise_db` is by octave,
    `distortion_db` by harmonic re the fundamental; only what is known is listed.
    """

    source: str
    station: str
    worth: Worth
    says: tuple[str, ...]
    file: str = ""
    origin: str = ""
    trusted_hz: tuple[float, float] | None = None
    signal_to_noise_db: tuple[tuple[str, float], ...] = ()
    distortion_db: tuple[tuple[str, float], ...] = ()


@dataclass(frozen=True, slots=True)
class SourceView:
    """One row: a unit, or the background, and how far it is measured.

    `made` and `wanted` count stations. `worst` is the least worth of those made.
    """

    source: str
    takes: tuple[TakeView, ...]
    made: int
    wanted: int
    worst: Worth


@dataclass(frozen=True, slots=True)
class SurveyView:
    """The table of sources and stations; `missing` pairs are what `redo` would make up for.

    `imported` and `rehearsed` say where takes come from; neither, if a device made them.
    """

    stations: tuple[str, ...]
    rows: tuple[SourceView, ...]
    made: int
    wanted: int
    imported: bool
    rehearsed: bool
    background: str

    def take(self, source: str, station: str) -> TakeView | None:
        """The view of one pair, None if the table does not have it."""
        takes = (take for row in self.rows for take in row.takes)
        return next((t for t in takes if (t.source, t.station) == (source, station)), None)


def survey_view(
    job: Job, survey: ResponseSet | None, findings: tuple[Finding, ...] = ()
) -> SurveyView:
    """Describe the survey of a job.

    Parameters
    ----------
    job
        Its units and stations make the table.
    survey
        The measured responses, None where there are none.
    findings
        What the last measuring found beside them: refused recordings are in no response set.
    """
    takes = {(t.source, t.station): t for t in takes_of(job, "survey")}
    origins = {take.origin for take in takes.values()}
    stations = tuple(station.id for station in job.stations)
    rows = []
    for unit in (row.drives for row in output_rows(job)):
        seen = tuple(
            _take_view(job, survey, takes.get((unit, station)), unit, station, findings)
            for station in stations
        )
        made = [take for take in seen if take.worth != "missing"]
        worst: Worth = max((take.worth for take in made), key=_gravity, default="missing")
        rows.append(SourceView(unit, seen, len(made), len(stations), worst))
    return SurveyView(
        stations=stations,
        rows=tuple(rows),
        made=sum(row.made for row in rows),
        wanted=sum(row.wanted for row in rows),
        imported="import" in origins,
        rehearsed="rehearsal" in origins,
        background=_background(job, survey),
    )


def survey_plan(
    job: Job,
    view: SurveyView,
    label: Callable[[str], str] = str,
    *,
    length: Callable[[float], str] | None = None,
    further: Sequence[Point] = (),
) -> PlanView:
    """The plan of the room with the stations marked by what was measured at them.

    Parameters
    ----------
    job, view
        The job and the table of what was measured.
    label
        Gives a channel's name in the engineer's naming scheme.
    length
        Writes a length; with it, heights and stations held back are written too, and of the
        loudspeakers only the subwoofers are drawn.
    further
        Places suggested for further stations.
    """
    drawn = plan_view(
        job,
        label=label,
        show=("loudspeakers", "stations"),
        movable=("stations",),
    )
    items = tuple(_marked(item, view) if item.kind == "station" else item for item in drawn.items)
    if length is not None:
        held = held_back_names(job)
        items = tuple(
            _with_height(item, length, held=item.id in held) if item.kind == "station" else item
            for item in items
            if item.kind in {"station", "subwoofer"}
        )
    suggested = tuple(
        PlanItem(
            id=f"further {number}",
            kind="station",
            label=f"+{number}",
            position_m=place,
            movable=False,
            mark="further",
            note="suggested",
            badge="" if length is None else length(place[2]),
        )
        for number, place in enumerate(further, start=1)
    )
    return replace(drawn, items=(*items, *suggested), sectors=())


def _with_height(item: PlanItem, length: Callable[[float], str], *, held: bool) -> PlanItem:
    height = length(item.position_m[2])
    return replace(item, held=held, badge=f"held back {height}" if held else height)


def _marked(item: PlanItem, view: SurveyView) -> PlanItem:
    takes = [take for row in view.rows for take in row.takes if take.station == item.id]
    made = [take for take in takes if take.worth != "missing"]
    doubtful = [take.source for take in made if take.worth == "doubtful"]
    mark: Mark = "missing" if len(made) < len(takes) else "done"
    if doubtful:
        mark = "doubt"
    note = f"{len(made)} of {len(takes)} measured"
    if doubtful:
        note += f"; doubtful: {', '.join(doubtful[:4])}{' ...' if len(doubtful) > 4 else ''}"
    return replace(item, mark=mark, note=note)


def _gravity(worth: Worth) -> int:
    return ("missing", "good", "usable", "doubtful").index(worth)


def _take_view(
    job: Job,
    survey: ResponseSet | None,
    take: Take | None,
    unit: str,
    station: str,
    findings: tuple[Finding, ...],
) -> TakeView:
    at = None if take is None else _pair_of(survey, unit, station)
    if take is None or survey is None or at is None:
        refused = tuple(
            f"refused: {finding.text}"
            for finding in findings
            if finding.severity == "refusal" and _is_of(finding.where, unit, station)
        )
        return TakeView(unit, station, "missing", refused or ("not measured yet",))
    row, column = at
    low_hz, high_hz = own_range_hz(job, unit)
    trusted = survey.trusted_hz[row, column]
    octaves = survey.octave_hz
    signal_to_noise = survey.signal_to_noise_db[row, column]
    own = (octaves >= low_hz) & (octaves <= high_hz) & np.isfinite(signal_to_noise)
    wrong = [found for found in survey.diagnoses if _concerns(found, unit, station)]
    doubts = [f"{found.sentence}; {found.remedy}" for found in wrong]
    mine = [f for f in survey.findings if f.where in (take.file, name_in(take))]
    doubts += [f.text for f in mine if f.severity != "note"]
    notes = [f.text for f in mine if f.severity == "note"]
    says = list(doubts)
    lowest = float("nan")
    if own.any():
        octave = np.flatnonzero(own)[int(np.argmin(signal_to_noise[own]))]
        lowest = float(signal_to_noise[octave])
        label = nominal_label(octaves[octave], 1)
        says.append(f"at least {lowest:.0f} dB over the noise ({label} Hz)")
    says.append(_trusted_words((float(trusted[0]), float(trusted[1])), low_hz, high_hz))
    clock = float(survey.clock_error_ppm[row, column])
    if np.isfinite(clock):
        says.append(f"recorder's clock off by {clock:+.1f} ppm, corrected")
    distortion = survey.distortion_db[row, column]
    return TakeView(
        source=unit,
        station=station,
        worth=worth_of(lowest, doubts),
        says=(*says, *notes),
        file=take.file,
        origin=take.origin,
        trusted_hz=(float(trusted[0]), float(trusted[1])),
        signal_to_noise_db=tuple(
            (nominal_label(mid, 1), float(level))
            for mid, level in zip(octaves, signal_to_noise, strict=True)
            if np.isfinite(level)
        ),
        distortion_db=tuple(
            (order, float(level))
            for order, level in zip(_ORDERS, distortion, strict=True)
            if np.isfinite(level)
        ),
    )


def _concerns(found: Diagnosis, unit: str, station: str) -> bool:
    return unit in (found.sources or (unit,)) and station in (found.stations or (station,))


def worth_of(lowest_db: float, doubts: Sequence[str]) -> Literal["good", "usable", "doubtful"]:
    """What a take is worth by its lowest octave over the noise, dB, and what is doubtful of it."""
    if doubts or not lowest_db >= USABLE_DB:
        return "doubtful"
    return "good" if lowest_db >= _GOOD_DB else "usable"


def _pair_of(survey: ResponseSet | None, unit: str, station: str) -> tuple[int, int] | None:
    if survey is None or unit not in survey.sources or station not in survey.stations:
        return None
    at = survey.sources.index(unit), survey.stations.index(station)
    return at if survey.present[at] else None


def own_range_hz(job: Job, unit: str) -> tuple[float, float]:
    """The range a unit is made for, as far as takes are judged."""
    model = job.model_of(job.unit(unit))
    return model.low_hz, min(model.high_hz, HIGHEST_JUDGED_HZ)


def _trusted_words(trusted_hz: tuple[float, float], low_hz: float, high_hz: float) -> str:
    low, high = trusted_hz
    if high <= 0:
        return "in no band clear of the noise"
    words = f"trusted from {_hertz(low)} to {_hertz(high)}"
    if low > low_hz or high < high_hz:
        words += f"; its own range is {_hertz(low_hz)} to {_hertz(high_hz)}"
    return words


def _hertz(frequency_hz: float) -> str:
    if frequency_hz < 1000:
        return f"{frequency_hz:.0f} Hz"
    return f"{frequency_hz / 1000:.3g} kHz"


def _is_of(where: str, unit: str, station: str) -> bool:
    """Whether a refused recording's file name is that of a pair."""
    return f"-{unit}-{station}.wav" in where or f"-{unit}-{station}-" in where


def _background(job: Job, survey: ResponseSet | None) -> str:
    noise = next((t for t in takes_of(job, "survey") if t.source == BACKGROUND), None)
    if noise is None:
        return "no background noise was recorded; noise criteria cannot be judged"
    known = survey is not None and np.isfinite(survey.background_db).any()
    level = "" if known else "; the microphone's sensitivity is unknown, so it has no level"
    return f"background noise recorded at {noise.station}{level}"
