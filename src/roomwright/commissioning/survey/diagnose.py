"""What is wrong with a survey: the single takes' diagnoses and the comparisons, put together."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping
from dataclasses import replace
from typing import Final

import numpy as np

from roomwright.acoustics import speed_of_sound_m_s
from roomwright.analysis.wiring import HeardSystem, PlannedUnit, band_levels_db, compare
from roomwright.commissioning.survey.drawn_bass import drawn_bass
from roomwright.measurement import ResponseSet
from roomwright.measurement.quality import (
    DISTORTED_DB,
    KINKED_DB,
    distorted,
    falls_with_order,
    total_distortion_db,
)
from roomwright.model import Diagnosis, Finding, Job, Loudspeaker, Subwoofer

#: A pair of source and station.
Pair = tuple[str, str]

#: What was found of each take.
Takes = Mapping[Pair, tuple[Diagnosis, ...]]

#: What every take of a unit shows, if it is the unit's.
_OF_UNITS: Final = ("dead_output", "low_level", "rattle", "distortion")

#: Of those, what is the worse the more there is of it.
_WORSE_IF_LOUDER: Final = ("rattle", "distortion")

#: A noise from elsewhere comes again within the same octave of the sweep's ten or so only by
#: chance: at three stations in one of a hundred surveys that have a noise in each take.
_SAME_PLACE_OCTAVES, _AGREEING_STATIONS = 1.0, 3

#: Takes that cannot be compared with others: what disturbs a take may hide its first front.
_NOT_COMPARED: Final = ("dead_output", "moved", "noise_event")

#: What takes are said to have that show what would be of the unit, but not at its other stations.
_NOISE_HERE: Final = {
    "kind": "noise_event",
    "sentence": "holds what sounds like a rattle or distortion, but not at the other stations: a "
    "noise in the room",
    "remedy": "record it again when it is quiet",
}
_HERE_ONLY: Final = {
    "dead_output": {
        "kind": "noisy",
        "sentence": "is not heard over the noise here, but at the other stations",
        "remedy": "stop what makes the noise, or play it louder; if it was quiet, look for a "
        "loose contact",
    },
    "rattle": _NOISE_HERE,
    "distortion": _NOISE_HERE,
    "low_level": {},
}

#: What the first front of a unit's sound tells, which drowns in noise where the unit is too soft.
_BY_FRONTS: Final = ("far_from_plan", "noise_event")

#: What is heard at some stations is not dead.
_HARDLY_HEARD: Final = {
    "kind": "low_level",
    "sentence": "is not heard over the noise at half of the stations or more, but at others",
    "remedy": "check the amplifier's gain, the output's trim and the cable",
}

#: What low levels over the noise follow from.
_EXPLAINS_NOISE: Final = (
    "swapped",
    "ways_swapped",
    "tweeter_missing",
    "woofer_missing",
    "low_level",
    "dead_output",
    "rattle",
    "distortion",
)


def diagnosed(job: Job, survey: ResponseSet, takes: Iterable[Diagnosis]) -> ResponseSet:
    """A survey with what is wrong with it.

    Parameters
    ----------
    job
        Its units and stations are the plan.
    survey
        The responses.
    takes
        What is wrong with single takes, each with its source and station.
    """
    by_pair: dict[Pair, list[Diagnosis]] = {
        (survey.sources[row], survey.stations[column]): []
        for row, column in np.argwhere(survey.present)
    }
    kept = tuple(takes)
    for found in kept:
        by_pair.setdefault((found.sources[0], found.stations[0]), []).append(found)
    whole = diagnose(job, survey, {pair: tuple(found) for pair, found in by_pair.items()})
    return replace(survey, take_diagnoses=kept, diagnoses=whole)


def survey_findings(survey: ResponseSet) -> tuple[Finding, ...]:
    """Everything to be said of a survey: what is wrong with it, then the notes of its takes."""
    return (
        *(found.finding(_where(found)) for found in survey.diagnoses),
        *survey.findings,
    )


def placed(found: Diagnosis, pair: Pair) -> Diagnosis:
    """A take's diagnosis with its source and station."""
    return found.model_copy(update={"sources": pair[:1], "stations": pair[1:]})


def _where(found: Diagnosis) -> str:
    if found.sources and len(found.stations) == 1:
        return f"{found.sources[0]} at {found.stations[0]}"
    return " and ".join(found.sources) or " and ".join(found.stations) or "the survey"


def diagnose(job: Job, survey: ResponseSet | None, takes: Takes) -> tuple[Diagnosis, ...]:
    """Everything found wrong, each with its sources and stations, the gravest first.

    Parameters
    ----------
    job
        Its units and stations are the plan.
    survey
        The usable takes' responses, None if there are none.
    takes
        What `judge_take` found of each take.
    """
    unheard = {p for p, found in takes.items() if any(d.kind == "dead_output" for d in found)}
    takes = _repeating(takes, survey)
    of_units = _of_units(takes, survey)
    named = {(found.kind, source) for found in of_units for source in found.sources}
    takes = _once_only(takes, named)
    dead = {d.sources[0] for d in of_units if d.kind == "dead_output"}
    heard = None if survey is None else _heard(job, survey, takes, dead, unheard)
    # Without the places of stations, as in recordings that came without, there is no comparison.
    compared = () if heard is None or not heard.stations or not heard.units else compare(heard)
    explained = {
        source
        for found in (*of_units, *compared)
        if found.kind in _EXPLAINS_NOISE
        for source in found.sources
    }
    single = [
        placed(found, pair)
        for pair, all_found in takes.items()
        for found in all_found
        if (found.kind, pair[0]) not in named
        and not (found.kind == "noisy" and (pair[0] in explained or _happened(all_found)))
    ]
    soft = {s for d in (*of_units, *compared) if d.kind == "low_level" for s in d.sources}
    compared = tuple(
        found
        for found in compared
        if not any((found.kind, source) in named for source in found.sources)
        and not (found.kind in _BY_FRONTS and soft & set(found.sources))
    )
    refused = [found for found in single if found.refuses]
    doubts = [found for found in single if not found.refuses]
    return (*refused, *of_units, *compared, *doubts)


def _repeating(takes: Takes, survey: ResponseSet | None) -> Takes:
    """The takes with noises that come at the same place of the sweep called the unit's.

    A noise in the room does not wait for the sweep; a loose part sounds whenever the cone moves
    far.
    """
    changed = dict(takes)
    for source in dict.fromkeys(pair[0] for pair in takes):
        own = [pair for pair in takes if pair[0] == source]
        heard = {
            pair: found
            for pair in own
            for found in takes[pair]
            if found.kind in ("noise_event", "rattle") and found.at_hz is not None
        }
        octaves = {pair: float(np.log2(found.at_hz or 1.0)) for pair, found in heard.items()}
        middle = float(np.median(list(octaves.values()))) if octaves else 0.0
        same = [pair for pair in octaves if abs(octaves[pair] - middle) <= _SAME_PLACE_OCTAVES / 2]
        if len(same) >= max(_AGREEING_STATIONS, (2 * len(own) + 2) // 3):
            for pair in same:
                rest = tuple(found for found in takes[pair] if found is not heard[pair])
                total_db = _harmonics_db(survey, pair)
                of_unit = (
                    distorted(total_db)
                    if total_db > DISTORTED_DB
                    else _rattling(heard[pair], len(same))
                )
                changed[pair] = (*rest, of_unit)
    return changed


def _harmonics_db(survey: ResponseSet | None, pair: Pair) -> float:
    """Distortion of a take that falls with its order as a loudspeaker's, dB; minus infinity."""
    if survey is None or pair[0] not in survey.sources or pair[1] not in survey.stations:
        return float("-inf")
    at = survey.sources.index(pair[0]), survey.stations.index(pair[1])
    orders_db = np.asarray(survey.distortion_db[at], dtype=np.float64)
    return total_distortion_db(orders_db) if falls_with_order(orders_db) else float("-inf")


def _rattling(found: Diagnosis, stations: int) -> Diagnosis:
    return found.model_copy(
        update={
            "kind": "rattle",
            "sentence": f"makes a noise of its own when the sweep passes {found.at_hz:.0f} Hz or "
            f"so, {found.evidence:.0f} dB over the steady noise, the same at {stations} stations",
            "remedy": "find the loose part (grille, screw, something in the room) or the rubbing "
            "coil",
        }
    )


def _of_units(takes: Takes, survey: ResponseSet | None) -> tuple[Diagnosis, ...]:
    """What shows at half of a unit's stations or more, once for each unit.

    High harmonics drown in noise where the unit is softer; the low ones show the same there.
    """
    result = []
    for source in dict.fromkeys(pair[0] for pair in takes):
        own = [(pair[1], found) for pair, found in takes.items() if pair[0] == source]
        for kind in _OF_UNITS:
            at = [d for _, found in own for d in found if d.kind == kind]
            stations = tuple(
                station
                for station, found in own
                if any(d.kind == kind for d in found)
                or (kind == "distortion" and _harmonics_db(survey, (source, station)) > KINKED_DB)
            )
            if at and len(stations) >= (len(own) + 1) // 2:
                pick = max if kind in _WORSE_IF_LOUDER else min
                worst = pick(at, key=lambda d: d.evidence)
                if kind == "dead_output" and len(at) < len(own):
                    worst = worst.model_copy(update=_HARDLY_HEARD)
                result.append(worst.model_copy(update={"sources": (source,), "stations": stations}))
    return tuple(result)


def _once_only(takes: Takes, gathered: Collection[tuple[str, str]]) -> Takes:
    """The takes with what would be of a unit, but shows at few of its stations, called a noise."""
    changed = {}
    for pair, all_found in takes.items():
        soft = ("low_level", pair[0]) in gathered
        kept = [
            found
            if found.kind not in _OF_UNITS or (found.kind, pair[0]) in gathered
            else found.model_copy(update=_HERE_ONLY[found.kind])
            for found in all_found
            if not (found.kind == "dead_output" and soft)
        ]
        changed[pair] = tuple(kept)
    return changed


def _happened(all_found: tuple[Diagnosis, ...]) -> bool:
    return any(found.kind == "noise_event" for found in all_found)


def _heard(
    job: Job, survey: ResponseSet, takes: Takes, dead: set[str], unheard: set[Pair]
) -> HeardSystem:
    places = {station.id: station.position_m for station in job.stations}
    columns = [c for c, name in enumerate(survey.stations) if places.get(name) is not None]
    known = {unit.id for unit in job.units}
    rows = [r for r, name in enumerate(survey.sources) if name in known]
    usable = survey.present.copy()
    usable[[row for row, name in enumerate(survey.sources) if name in dead]] = False
    for (source, station), all_found in takes.items():
        spoilt = any(found.refuses or found.kind in _NOT_COMPARED for found in all_found)
        if (spoilt or (source, station) in unheard) and (
            source in survey.sources and station in survey.stations
        ):
            usable[survey.sources.index(source), survey.stations.index(station)] = False
    samples = survey.samples[np.ix_(rows, columns)]
    station_m = np.array([places[survey.stations[column]] for column in columns], dtype=float)
    units = [job.unit(survey.sources[row]) for row in rows]
    return HeardSystem(
        units=tuple(_planned(job, unit) for unit in units),
        stations=tuple(survey.stations[column] for column in columns),
        station_m=station_m,
        samples=samples,
        usable=usable[np.ix_(rows, columns)],
        sampling_rate_hz=survey.sampling_rate_hz,
        band_db=band_levels_db(samples, survey.sampling_rate_hz),
        top_hz=survey.trusted_hz[np.ix_(rows, columns)][..., 1],
        timed=survey.timed,
        speed_m_s=speed_of_sound_m_s(job.room.temperature_c),
        drawn=drawn_bass(job, units, station_m),
    )


def _planned(job: Job, unit: Loudspeaker | Subwoofer) -> PlannedUnit:
    model = job.model_of(unit)
    channel = next((c for c in job.channels if unit.id in c.loudspeakers), None)
    return PlannedUnit(
        id=unit.id,
        like=unit.model,
        position_m=unit.position_m,
        low_hz=model.low_hz,
        high_hz=model.high_hz,
        low_slope_db=model.low_slope_db,
        high_slope_db=model.high_slope_db,
        level_db=model.sensitivity_db,
        subwoofer=isinstance(unit, Subwoofer),
        group=channel.id if channel is not None and len(channel.loudspeakers) > 1 else None,
    )
