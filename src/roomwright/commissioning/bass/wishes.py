"""Changes of what is wanted of the bass: each takes a job and returns another."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any, Literal

from pydantic import ValidationError

from roomwright._errors import InputError
from roomwright.acoustics import speed_of_sound_m_s
from roomwright.commissioning.settle import settled
from roomwright.layout import CandidateRules, Exclusion, bass_candidates, bass_grid
from roomwright.model import BassWishes, Job, KeepClear, Point

#: What a subwoofer does in an array; "" for nothing.
ArrayMark = Literal["", "launches", "absorbs"]


def with_bass(job: Job, **changes: Any) -> Job:  # noqa: ANN401  # fields of any type
    """The job with fields of its wishes for the bass changed, `BassWishes` says which.

    Fields of `places` may be given by their own names, such as `spacing_m`.

    Raises
    ------
    InputError
        If there is no such field or a value is not allowed.
    """
    given = job.bass.model_dump()
    for name, value in changes.items():
        if name in given["places"]:
            given["places"][name] = value
        else:
            given[name] = value
    try:
        wishes = BassWishes.model_validate(given)
    except ValidationError as error:
        detail = error.errors()[0]
        field = " ".join(str(step) for step in detail["loc"])
        what = detail["msg"].removeprefix("Value error, ")
        raise InputError(f"bass {field}: {what[0].lower()}{what[1:]}".replace("  ", " ")) from None
    return job.model_copy(update={"bass": wishes})


def with_keep_clear(
    job: Job,
    name: str,
    from_m: tuple[float, float],
    to_m: tuple[float, float],
    low_m: float = 0.0,
    high_m: float | None = None,
) -> Job:
    """The job with a box where no subwoofer may stand, in the place of one of the same name.

    Raises
    ------
    InputError
        If the box is not allowed.
    """
    box = {"name": name, "from_m": from_m, "to_m": to_m, "low_m": low_m, "high_m": high_m}
    others = [one.model_dump() for one in job.bass.keep_clear if one.name != name]
    return with_bass(job, keep_clear=[*others, box])


def without_keep_clear(job: Job, name: str) -> Job:
    """The job without the box to keep clear of that name; unchanged if there is none."""
    kept = [one.model_dump() for one in job.bass.keep_clear if one.name != name]
    return with_bass(job, keep_clear=kept)


def with_bass_grid(job: Job, spacing_m: float | None = None) -> Job:
    """The job with stations between its seats, above and below ears, close enough for the bass.

    `spacing_m` is a third of the wavelength at the top of the job's band by default. Stations
    there are stay; nothing is added where they are close enough.

    Raises
    ------
    InputError
        If the spacing is not above 0.
    """
    speed = speed_of_sound_m_s(job.room.temperature_c)
    spacing = speed / (3.0 * job.bass.band_hz[1]) if spacing_m is None else spacing_m
    added = bass_grid(job.room, job.seats, job.stations, spacing)
    return job.model_copy(update={"stations": (*job.stations, *added)})


def parse_box(text: str) -> tuple[str, tuple[float, float], tuple[float, float]]:
    """Read ``name:x1,y1,x2,y2`` in metres, such as ``door:0,2,0.9,3``.

    Raises
    ------
    InputError
        If the text is not a name and four numbers.
    """
    name, _, numbers = text.rpartition(":")
    try:
        x1, y1, x2, y2 = (float(number) for number in numbers.split(","))
    except ValueError:
        raise InputError(
            f"the box {text!r} is not a name and two corners in metres, such as door:0,2,0.9,3"
        ) from None
    return name, (x1, y1), (x2, y2)


def mark_array(job: Job, launching: Sequence[str], absorbing: Sequence[str]) -> Job:
    """The job with subwoofers marked as launching a plane wave and as absorbing it.

    Whether they make an array is said when it is designed or compared.

    Raises
    ------
    InputError
        If one is no subwoofer, or is in both groups.
    """
    known = {subwoofer.id for subwoofer in job.subwoofers}
    for name in (*launching, *absorbing):
        if name not in known:
            raise InputError(
                f"there is no subwoofer {name}; there are {', '.join(sorted(known)) or 'none'}"
            )
    return settled(with_bass(job, launching=tuple(launching), absorbing=tuple(absorbing)))


def with_mark(job: Job, name: str, mark: ArrayMark) -> Job:
    """The job with one subwoofer marked as launching or absorbing, or with "" as neither.

    Raises
    ------
    InputError
        If there is no such subwoofer.
    """
    launching = [one for one in job.bass.launching if one != name]
    absorbing = [one for one in job.bass.absorbing if one != name]
    if mark:
        (launching if mark == "launches" else absorbing).append(name)
    order = [subwoofer.id for subwoofer in job.subwoofers]
    if name not in order:
        raise InputError(f"there is no subwoofer {name}")
    return mark_array(job, sorted(launching, key=order.index), sorted(absorbing, key=order.index))


def mark_of(job: Job, name: str) -> ArrayMark:
    """Whether a subwoofer launches or absorbs the wave; "" for neither."""
    if name in job.bass.launching:
        return "launches"
    return "absorbs" if name in job.bass.absorbing else ""


def candidate_places(job: Job) -> tuple[Point, ...]:
    """Where a subwoofer could stand by the job's wishes, clear of seats, stations, loudspeakers.

    Raises
    ------
    InputError
        If no place is left.
    """
    places = job.bass.places
    rules = CandidateRules(
        spacing_m=places.spacing_m,
        from_wall_m=places.from_wall_m,
        wall_heights_m=places.wall_heights_m,
        strip_m=places.strip_m,
        on_ceiling=places.on_ceiling,
        from_ceiling_m=places.from_ceiling_m,
    )
    taken = [seat.position_m for seat in job.seats]
    taken += [station.position_m for station in job.stations if station.position_m is not None]
    taken += [loudspeaker.position_m for loudspeaker in job.loudspeakers]
    return bass_candidates(
        job.room,
        rules,
        [_exclusion(box) for box in job.bass.keep_clear],
        away_from=taken,
        mirrored=places.mirrored,
    )


def _exclusion(box: KeepClear) -> Exclusion:
    if box.high_m is None:
        return Exclusion(box.from_m, box.to_m, box.low_m)
    return Exclusion(box.from_m, box.to_m, box.low_m, box.high_m)
