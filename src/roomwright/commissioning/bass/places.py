"""Where the subwoofers should stand: searched over the drawing, shown, and taken over."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from functools import partial

import numpy as np
from numpy.typing import NDArray
from pydantic import TypeAdapter

from roomwright._errors import InputError
from roomwright._progress import Progress, part, silent
from roomwright.commissioning.bass.drawn import (
    drawn_places,
    search_hz,
    search_limits,
    search_target,
    searched_stations,
    subwoofer_model,
)
from roomwright.commissioning.bass.wishes import candidate_places
from roomwright.commissioning.edits.layout import with_subwoofers
from roomwright.commissioning.settle import settled
from roomwright.model import BassWishes, Job, Point, digest
from roomwright.store import JobFolder
from roomwright.tuning.bass_design import (
    BassField,
    Choice,
    Each,
    SearchEffort,
    Settings,
    Variants,
    Weights,
    best_places,
    here,
)

F = NDArray[np.float64]
C = NDArray[np.complex128]

_MOVED_M = 0.1
_WARMER_K = 3.0
#: Sources stay this far within the room when they are moved.
_FROM_WALL_M = 0.02

#: One search looks this long: some seconds for four of forty places.
EFFORT = SearchEffort(designed=500, shown=20, others=20)


@dataclass(frozen=True, slots=True)
class PlaceChoice:
    """Places for the subwoofers and the gain, delay and polarity of each that suit them best.

    `spread_db2` is the mean over frequency of the variance of the level over the stations,
    `level_db` the level re the free field of one subwoofer at 1 m with the hardest driven at full
    gain, `level_per_drive_db` that less what the number of subwoofers brings. `alike_spread_db2`
    is with all fed alike, `free_spread_db2` with the best filters there can be. `moved_db2`,
    `gain_off_db2` and `air_off_db2` are the largest spread with one subwoofer 10 cm off, one 1 dB
    off, and 3 K warmer or colder. `stands_for` counts the choice and its mirror twins. `remark`
    says where processing is useless.
    """

    positions_m: tuple[Point, ...]
    gain_db: tuple[float, ...]
    delay_s: tuple[float, ...]
    inverted: tuple[bool, ...]
    spread_db2: float
    range_db: float
    level_db: float
    level_per_drive_db: float
    alike_spread_db2: float
    free_spread_db2: float
    moved_db2: float | None
    gain_off_db2: float
    air_off_db2: float | None
    stands_for: int
    remark: str


@dataclass(frozen=True, slots=True)
class PlacesFound:
    """What a search found.

    `choices` are the best, the best first; `front` those that none beats in both spread and
    level, by rising spread; `now` the subwoofers where they stand, None if there are none.
    `candidates` are all places looked at. Of `sets` in all, `looked_at` were judged roughly and
    `designed` with gains and delays; `gap` is the share by which the rough figure may be above
    the least there is, None where every set was looked at.
    """

    choices: tuple[PlaceChoice, ...]
    front: tuple[PlaceChoice, ...]
    now: PlaceChoice | None
    candidates: tuple[Point, ...]
    stations: tuple[str, ...]
    sets: int
    looked_at: int
    designed: int
    gap: float | None
    certainty: str = ""


@dataclass(frozen=True, slots=True, eq=False)
class PlaceLevels:
    """Level (P, F) over frequency at every station with a choice's settings, dB re their mean."""

    frequency_hz: F
    stations: tuple[str, ...]
    level_db: F


def search_places(
    job: Job,
    progress: Progress = silent,
    *,
    effort: SearchEffort = EFFORT,
    each: Each = here,
) -> PlacesFound:
    """Places for as many subwoofers as the job wishes, each set judged with its best settings.

    Parameters
    ----------
    job
        Its room, stations and wishes for the bass.
    progress
        Told how far it is; may raise `Cancelled`.
    effort
        How long to look.
    each
        Who designs: this process, or by `cluster_each` the workers of a cluster.

    Raises
    ------
    InputError
        If the room is no box, no place is left, there are too few, or pairs are asked of an odd
        number.
    """
    progress(0.0, "computing the field of every place")
    places, groups = _groups(job)
    field, variants = _fields(job, places, groups)
    target = search_target(job)
    wishes = job.bass
    found = best_places(
        field,
        wishes.count if not wishes.places.mirrored else wishes.count // 2,
        target,
        weights=Weights(wishes.level_weight),
        limits=search_limits(job),
        variants=variants,
        effort=effort,
        each=each,
        progress=part(progress, 0.2, 1.0),
    )
    return PlacesFound(
        choices=tuple(_choice(one, places, groups) for one in found.choices),
        front=tuple(_choice(one, places, groups) for one in found.front),
        now=_now(job, target),
        candidates=tuple(places),
        stations=searched_stations(job)[0],
        sets=found.sets,
        looked_at=found.looked_at,
        designed=found.designed,
        gap=found.gap,
        certainty=str(found.certainty),
    )


def place_levels(job: Job, choice: PlaceChoice) -> PlaceLevels:
    """Levels that a choice of a search will give at every station it was judged at.

    Raises
    ------
    InputError
        If the room is no box.
    """
    stations, points = searched_stations(job)
    frequency = search_hz(job)
    field = drawn_places(job, choice.positions_m, points, frequency, 0.0)
    settings = Settings(
        np.array(choice.gain_db), np.array(choice.delay_s), np.array(choice.inverted)
    )
    pressure = np.einsum("sf,spf->pf", settings.gains(frequency), field)
    level = 20.0 * np.log10(np.maximum(np.abs(pressure), 1e-9))
    return PlaceLevels(frequency, stations, level - level.mean())


def use_places(job: Job, choice: PlaceChoice) -> Job:
    """The job with its subwoofers at the places of a choice; as many as it has.

    Those that stay keep their names and types, the nearest to each place moves there; marks of an
    array are taken off.

    Raises
    ------
    InputError
        If there are more than a job can have.
    """
    job = with_subwoofers(job, len(choice.positions_m)) if _differs(job, choice) else job
    left = list(choice.positions_m)
    placed = []
    for subwoofer in job.subwoofers:
        nearest = min(left, key=partial(math.dist, subwoofer.position_m))
        left.remove(nearest)
        placed.append(subwoofer.model_copy(update={"position_m": nearest}))
    wishes = job.bass.model_copy(update={"launching": (), "absorbing": ()})
    return settled(job.model_copy(update={"subwoofers": tuple(placed), "bass": wishes}))


def keep_places(folder: JobFolder, found: PlacesFound) -> None:
    """Keep what a search found in the job's cache, until what it rests on changes."""
    text = TypeAdapter(PlacesFound).dump_json(found).decode()
    folder.cache_put(_cache_key(folder.job), {"found": np.array(text)})


def kept_places(folder: JobFolder) -> PlacesFound | None:
    """What the last search found; None if there was none or the job has changed since."""
    kept = folder.cache_get(_cache_key(folder.job))
    if kept is None:
        return None
    return TypeAdapter(PlacesFound).validate_json(str(kept["found"]))


def kept_choice(folder: JobFolder, number: int) -> PlaceChoice:
    """The choice of the last search with a number, from 1.

    Raises
    ------
    InputError
        If nothing was searched for the job as it is, or there is no such choice.
    """
    found = kept_places(folder)
    if found is None:
        raise InputError(
            f"{folder.path}: no places were searched for the job as it is now; search first"
        )
    if not 1 <= number <= len(found.choices):
        raise InputError(f"there is no choice {number}; the search found 1 to {len(found.choices)}")
    return found.choices[number - 1]


def _cache_key(job: Job) -> str:
    wishes = BassWishes(
        count=job.bass.count,
        places=job.bass.places,
        keep_clear=job.bass.keep_clear,
        band_hz=job.bass.band_hz,
        level_weight=job.bass.level_weight,
    )
    return "places-" + digest(
        job.room,
        job.seats,
        job.stations,
        job.loudspeakers,
        job.processor,
        wishes,
        subwoofer_model(job),
    )


def _differs(job: Job, choice: PlaceChoice) -> bool:
    return len(job.subwoofers) != len(choice.positions_m)


def _groups(job: Job) -> tuple[list[Point], Sequence[tuple[int, ...]]]:
    """All places, and which of them make one source: each alone, or mirror twins together."""
    places = list(candidate_places(job))
    if not job.bass.places.mirrored:
        return places, [(n,) for n in range(len(places))]
    if job.bass.count % 2:
        raise InputError(
            f"{job.bass.count} subwoofers cannot stand in mirrored pairs; ask for an even number, "
            "or let them stand anywhere"
        )
    x_min, _, x_max, _ = job.room.polygon.bounds
    mirrored = np.array(places) * (-1.0, 1.0, 1.0) + (x_min + x_max, 0.0, 0.0)
    apart = np.linalg.norm(mirrored[:, None] - np.array(places), axis=-1)
    twins = apart.argmin(axis=1).tolist()
    pairs = [(n, twin) for n, twin in enumerate(twins) if n < twin]
    if not pairs:
        raise InputError("no two free places mirror each other; allow more places, or no pairs")
    return places, pairs


def _fields(
    job: Job, places: list[Point], groups: Sequence[tuple[int, ...]]
) -> tuple[BassField, Variants]:
    frequency, (_, points) = search_hz(job), searched_stations(job)

    def field(at: F, warmer_k: float = 0.0) -> C:
        each = drawn_places(job, at, points, frequency, warmer_k)
        return np.stack([each[list(group)].sum(axis=0) for group in groups])

    here = np.array(places)
    moved = [field(_moved(job, here, axis, by)) for axis in (0, 1) for by in (-_MOVED_M, _MOVED_M)]
    air = [field(here, warmer) for warmer in (-_WARMER_K, _WARMER_K)]
    return BassField(frequency, field(here)), Variants(np.stack(moved), np.stack(air))


def _moved(job: Job, places: F, axis: int, by_m: float) -> F:
    """Places moved along the floor, kept within the room."""
    bounds = job.room.polygon.bounds
    moved = places.copy()
    low, high = bounds[axis] + _FROM_WALL_M, bounds[axis + 2] - _FROM_WALL_M
    moved[:, axis] = np.clip(moved[:, axis] + by_m, low, high)
    return moved


def _now(job: Job, target: C) -> PlaceChoice | None:
    """The subwoofers where they stand, with their best settings."""
    if not job.subwoofers:
        return None
    places = [subwoofer.position_m for subwoofer in job.subwoofers]
    groups = [(n,) for n in range(len(places))]
    field, variants = _fields(job, places, groups)
    found = best_places(
        field,
        len(places),
        target,
        weights=Weights(job.bass.level_weight),
        limits=search_limits(job),
        variants=variants,
        effort=SearchEffort(designed=1, shown=1, others=0),
    )
    return _choice(found.choices[0], places, groups)


def _choice(found: Choice, places: list[Point], groups: Sequence[tuple[int, ...]]) -> PlaceChoice:
    settings, own = found.settings, [groups[source] for source in found.sources]
    each = [(n, place) for n, group in enumerate(own) for place in group]
    return PlaceChoice(
        positions_m=tuple(places[place] for _, place in each),
        gain_db=tuple(float(settings.gain_db[n]) for n, _ in each),
        delay_s=tuple(float(settings.delay_s[n]) for n, _ in each),
        inverted=tuple(bool(settings.inverted[n]) for n, _ in each),
        spread_db2=found.spread_db2,
        range_db=found.range_db,
        level_db=found.level_db,
        level_per_drive_db=found.level_db - float(20.0 * np.log10(len(each))),
        alike_spread_db2=found.alike_spread_db2,
        free_spread_db2=found.free_spread_db2,
        moved_db2=found.sensitivity.moved_db2,
        gain_off_db2=found.sensitivity.gain_db2,
        air_off_db2=found.sensitivity.air_db2,
        stands_for=found.stands_for,
        remark=found.remark,
    )
