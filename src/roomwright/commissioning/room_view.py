"""What a box room will do, before anything is measured: pressure, seats, first reflections."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from roomwright._checks import within
from roomwright._errors import InputError
from roomwright.acoustics import (
    Images,
    box_admittances,
    box_modes,
    directivity_gain,
    green_lattice,
    green_walls,
    images,
    reflection_gain,
    room_reverberation_s,
    schroeder_frequency_hz,
    speed_of_sound_m_s,
)
from roomwright.model import Job, Point
from roomwright.signals import amplitude_db, log_frequencies, power_db
from roomwright.standards import bs1116

F = NDArray[np.float64]

#: Frequencies the field is computed for, hertz.
LOWEST_HZ: Final = 15.0
HIGHEST_HZ: Final = 300.0

_POINTS_ALONG = 48
_PER_OCTAVE = 48
#: No wall is harder than this, 0.8 % absorption: the closed form needs some loss.
_LEAST_ADMITTANCE = 0.001
_NEAREST_M = 0.1
#: The evanescent field beside a source may be off by this much: -80 dB of the direct sound.
_TOLERANCE = 1e-4
#: The map's colours span what is there, but no more and no less than this.
_SPAN_DB, _LEAST_SPAN_DB = 30.0, 12.0
_REFLECTED_OCTAVES_HZ = (1000.0, 2000.0, 4000.0, 8000.0)
_PLANES = ("left wall", "right wall", "front wall", "back wall", "floor", "ceiling")


@dataclass(frozen=True, slots=True)
class PressureMap:
    """Levels over the room at one frequency and height.

    `levels_db` (rows from the front, columns from the left) are re the level of one source at
    1 m in the free field; NaN within 0.1 m of a source. The colours run from `low_db` to
    `high_db`. `seats` holds each seat's level at its own height.
    """

    frequency_hz: float
    height_m: float
    size_m: tuple[float, float]
    levels_db: F
    low_db: float
    high_db: float
    seats: tuple[tuple[str, float], ...]
    spread_db: float


@dataclass(frozen=True, slots=True)
class SeatLevels:
    """Levels (seats, f) re one source at 1 m in the free field, their power mean and spread (f,).

    The spread is that between the loudest and the quietest seat. `modes_hz` are the axial modes
    of the rigid box.
    """

    seats: tuple[str, ...]
    frequency_hz: F
    levels_db: F
    mean_db: F
    spread_db: F
    modes_hz: F


@dataclass(frozen=True, slots=True)
class Reflection:
    """One path from a loudspeaker to a seat by way of one surface.

    `after_s` and `level_db` are re the direct sound, the level over the octaves from 1 to 8 kHz
    with the loudspeaker's directivity and the surface's absorption. `strong` says that it is
    louder than ITU-R BS.1116 allows an early reflection.
    """

    surface: str
    points_m: tuple[Point, ...]
    after_s: float
    level_db: float
    strong: bool


def why_no_field(job: Job) -> str:
    """Why the field cannot be computed, in one sentence; "" if it can."""
    if job.room.box_size_m is None:
        return (
            "the field is computed for box rooms only; this outline is no rectangle with a "
            "corner at (0, 0)"
        )
    return ""


def source_groups(job: Job) -> tuple[tuple[str, tuple[str, ...]], ...]:
    """What can play: all subwoofers together, each alone, and each loudspeaker."""
    subs = tuple(subwoofer.id for subwoofer in job.subwoofers)
    together = (("all subwoofers", subs),) if len(subs) > 1 else ()
    names = (*subs, *(loudspeaker.id for loudspeaker in job.loudspeakers))
    return (*together, *((name, (name,)) for name in names))


def pressure_map(
    job: Job,
    sources: Sequence[str],
    frequency_hz: float,
    *,
    seat: str | None = None,
    points_along: int = _POINTS_ALONG,
    gains: Sequence[complex] = (),
) -> PressureMap:
    """Level over the floor at the height of a seat's ears, all sources playing the same signal.

    Parameters
    ----------
    job
        A job whose room is a box.
    sources
        Loudspeakers and subwoofers by id.
    frequency_hz
        15 to 300 Hz.
    seat
        Whose ears' height; by default the main seat's.
    points_along
        Points along the longer side.
    gains
        What each source is fed; by default 1.

    Raises
    ------
    InputError
        If the room is no box, there is no source, or the frequency is out of range.
    """
    fed = np.array(gains) if len(gains) else np.ones(len(sources))
    frequency = within(frequency_hz, LOWEST_HZ, HIGHEST_HZ, "the frequency in Hz")
    size = _box(job)
    height = min(job.seat(seat or job.main_seat).position_m[2], size[2])
    counts = [max(8, round(points_along * side / max(size[:2]))) for side in size[:2]]
    xs, ys = ((np.arange(n) + 0.5) / n * side for n, side in zip(counts, size[:2], strict=True))
    places = _places(job, sources)
    ears = _ears(job, places)
    levels = amplitude_db(np.abs(_field_over(job, places, (xs, ys, [height]), frequency, fed)))
    at_seats = amplitude_db(np.abs(_field(job, places, ears, np.array([frequency]), fed)))[:, 0]
    low, high = (float(value) for value in np.nanpercentile(levels, (2, 98)))
    high = 3.0 * math.ceil(high / 3.0)
    low = max(min(3.0 * math.floor(low / 3.0), high - _LEAST_SPAN_DB), high - _SPAN_DB)
    return PressureMap(
        frequency_hz=frequency,
        height_m=height,
        size_m=size[:2],
        levels_db=levels,
        low_db=low,
        high_db=high,
        seats=tuple((one.id, float(value)) for one, value in zip(job.seats, at_seats, strict=True)),
        spread_db=float(np.ptp(at_seats)),
    )


def seat_levels(
    job: Job, sources: Sequence[str], low_hz: float = 20.0, high_hz: float = 200.0
) -> SeatLevels:
    """Level over frequency at every seat, all sources playing the same signal.

    Parameters
    ----------
    job
        A job whose room is a box.
    sources
        Loudspeakers and subwoofers by id.
    low_hz, high_hz
        Within 15 to 300 Hz.

    Raises
    ------
    InputError
        If the room is no box, there is no source, or a frequency is out of range.
    """
    low = within(low_hz, LOWEST_HZ, HIGHEST_HZ, "the lowest frequency in Hz")
    high = within(high_hz, low, HIGHEST_HZ, "the highest frequency in Hz")
    frequency = log_frequencies(low, high, _PER_OCTAVE)
    places = _places(job, sources)
    field = _field(job, places, _ears(job, places), frequency, np.ones(len(places)))
    power = np.abs(field) ** 2
    levels = power_db(power)
    modes = box_modes(_box(job), high, speed_of_sound_m_s(job.room.temperature_c))
    axial = modes.frequency_hz[modes.kind == "axial"]
    return SeatLevels(
        seats=tuple(seat.id for seat in job.seats),
        frequency_hz=frequency,
        levels_db=levels,
        mean_db=power_db(power.mean(axis=0)),
        spread_db=np.ptp(levels, axis=0),
        modes_hz=axial[axial >= low],
    )


def first_reflections(job: Job, loudspeaker: str, seat: str) -> tuple[Reflection, ...]:
    """The direct sound and the six first-order reflections, the earliest first.

    Parameters
    ----------
    job
        A job whose room is a box.
    loudspeaker
        A loudspeaker or subwoofer by id.
    seat
        A seat by id.

    Returns
    -------
    tuple of Reflection
        The first is the direct sound, of surface "".

    Raises
    ------
    InputError
        If the room is no box, or the loudspeaker stands at the seat.

    References
    ----------
    ITU-R BS.1116: reflections of the first 15 ms 10 dB below the direct sound, 1 to 8 kHz.
    """
    size = _box(job)
    unit = job.unit(loudspeaker)
    listener = job.seat(seat).position_m
    paths = images(size, unit.position_m, listener, 2.0 * float(np.linalg.norm(size)) + 0.1)
    order = paths.hits.sum(axis=1)
    levels = _levels_db(job, loudspeaker, paths)
    speed = speed_of_sound_m_s(job.room.temperature_c)
    found = []
    for number in np.flatnonzero(order <= 1):
        after = float(paths.distance_m[number] - paths.distance_m[0]) / speed
        level = float(levels[number] - levels[0])
        found.append(
            Reflection(
                surface=_PLANES[int(paths.hits[number].argmax())] if order[number] else "",
                points_m=_path(size, paths, int(number), listener),
                after_s=after,
                level_db=level,
                strong=bool(
                    order[number]
                    and after <= bs1116.EARLY_REFLECTION_S
                    and level > bs1116.EARLY_REFLECTION_DB
                ),
            )
        )
    return tuple(found)


def room_says(job: Job) -> tuple[tuple[str, str], ...]:
    """Figures of the room in words: what it is called, and its value."""
    room = job.room
    octaves = np.array([63.0, 125.0, 500.0, 1000.0])
    decay = room_reverberation_s(room, octaves)
    middle = float(decay[2:].mean())
    figures = [
        ("volume", f"{room.volume_m3:.1f} m³"),
        ("floor", f"{room.floor_area_m2:.1f} m²"),
        ("reverberation 500 Hz and 1 kHz (Eyring)", f"{middle:.2f} s"),
        ("reverberation 63 / 125 Hz (Eyring)", f"{decay[0]:.2f} / {decay[1]:.2f} s"),
        ("modes give way to statistics above", f"{_schroeder(middle, room.volume_m3):.0f} Hz"),
    ]
    if room.box_size_m is not None:
        speed = speed_of_sound_m_s(room.temperature_c)
        lowest = box_modes(room.box_size_m, 200.0, speed).frequency_hz[:3]
        if lowest.size:
            text = ", ".join(f"{frequency:.1f}" for frequency in lowest)
            figures.append(("lowest modes", f"{text} Hz"))
    return tuple(figures)


def _schroeder(reverberation_s: float, volume_m3: float) -> float:
    return schroeder_frequency_hz(reverberation_s, volume_m3)


def _box(job: Job) -> Point:
    size = job.room.box_size_m
    if size is None:
        raise InputError(why_no_field(job))
    return size


def _places(job: Job, sources: Sequence[str]) -> F:
    if not sources:
        raise InputError("nothing plays; choose a subwoofer or a loudspeaker")
    known = {unit.id: unit.position_m for unit in job.units}
    missing = [name for name in sources if name not in known]
    if missing:
        raise InputError(f"there is no loudspeaker or subwoofer {', '.join(missing)}")
    return np.array([known[name] for name in sources])


def _ears(job: Job, places: F) -> F:
    ears = np.array([seat.position_m for seat in job.seats])
    near = np.linalg.norm(ears[:, None] - places, axis=-1).min(axis=1) < _NEAREST_M
    if near.any():
        seat = job.seats[int(near.argmax())].id
        raise InputError(f"a source stands within {_NEAREST_M:g} m of the ears at seat {seat}")
    return ears


def _field(
    job: Job, places: F, points: F, frequency_hz: F, gains: NDArray[Any]
) -> NDArray[np.complex128]:
    """Sum over the sources (S) of the field re the free field at 1 m, (points, f)."""
    size, walls, speed = _box(job), _walls(job, frequency_hz), _speed_m_s(job)
    field = green_walls(size, places, points, frequency_hz, walls, speed, tolerance=_TOLERANCE)
    return np.asarray(4.0 * np.pi * np.tensordot(gains, field, 1))


def _field_over(
    job: Job,
    places: F,
    lattice: tuple[F, F, Sequence[float]],
    frequency_hz: float,
    gains: NDArray[Any],
) -> NDArray[np.complex128]:
    """As `_field`, over the points (y, x) of a lattice of one height; NaN next to a source."""
    walls = _walls(job, np.array([frequency_hz]))[:, 0]
    size, speed = _box(job), _speed_m_s(job)
    field = green_lattice(size, places, lattice, frequency_hz, walls, speed, tolerance=_TOLERANCE)
    return np.asarray(4.0 * np.pi * np.tensordot(gains, field, 1)[:, :, 0].T)


def _walls(job: Job, frequency_hz: F) -> F:
    return np.maximum(box_admittances(job.room, frequency_hz), _LEAST_ADMITTANCE)


def _speed_m_s(job: Job) -> float:
    return speed_of_sound_m_s(job.room.temperature_c)


def _levels_db(job: Job, loudspeaker: str, paths: Images) -> F:
    """Level of each path over the octaves from 1 to 8 kHz, dB re the axis at 1 m."""
    octaves = np.array(_REFLECTED_OCTAVES_HZ)
    unit = job.unit(loudspeaker)
    gain = reflection_gain(paths, box_admittances(job.room, octaves)) / paths.distance_m[:, None]
    aim = getattr(unit, "aim_m", None)
    if aim is not None:
        axis = np.subtract(aim, unit.position_m)
        cosine = paths.departure @ axis / max(float(np.linalg.norm(axis)), 1e-9)
        angle = np.arccos(np.clip(cosine, -1.0, 1.0))
        gain = gain * directivity_gain(job.model_of(unit).directivity, angle, octaves)
    return power_db(np.mean(gain**2, axis=1))


def _path(size: Point, paths: Images, number: int, listener_m: Point) -> tuple[Point, ...]:
    """Corners of a path from the source to the listener: the straight line to the image, folded."""
    start = np.asarray(listener_m)
    line = paths.direction[number] * paths.distance_m[number]
    shares = {0.0, 1.0}
    for axis, length in enumerate(size):
        low, high = sorted((start[axis], start[axis] + line[axis]))
        planes = np.arange(math.ceil(low / length), math.floor(high / length) + 1) * length
        if line[axis]:
            shares.update(((planes - start[axis]) / line[axis]).tolist())
    corners = [_folded(start + share * line, size) for share in sorted(shares, reverse=True)]
    return tuple(corners)


def _folded(point: F, size: Point) -> Point:
    """A point of the mirrored rooms as it lies in the room itself."""
    x, y, z = (
        length - abs(float(value) % (2.0 * length) - length)
        for value, length in zip(point, size, strict=True)
    )
    return (x, y, z)
