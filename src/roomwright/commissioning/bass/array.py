"""A plane-wave array proposed for the room, and placed."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from roomwright._errors import InputError
from roomwright.acoustics import speed_of_sound_m_s
from roomwright.commissioning.bass.wishes import mark_array
from roomwright.commissioning.edits.layout import with_subwoofers
from roomwright.layout import MOST_SUBWOOFERS, Exclusion
from roomwright.model import Job, KeepClear, Point
from roomwright.tuning.arrays import NEAR_FIELD_HARMLESS, Proposal, proposed_array
from roomwright.tuning.bass_ways import marked_emitters, wall_admittances


@dataclass(frozen=True, slots=True)
class ArrayProposal:
    """`across` x `up` subwoofers on the front wall that launch, as many at the back that absorb.

    The wave is plane up to `plane_up_to_hz`, None where that is above 500 Hz, and with errors of
    place and gain up to `robust_up_to_hz`. The absorbing ones are inverted, later by `delay_s`
    and lower by `gain_db`. `says` is one sentence, `blocked` names places that are to be kept
    clear.
    """

    launching_m: tuple[Point, ...]
    absorbing_m: tuple[Point, ...]
    across: int
    up: int
    plane_up_to_hz: float | None
    robust_up_to_hz: float | None
    delay_s: float
    gain_db: float
    blocked: tuple[str, ...]
    says: str


def propose_array(
    job: Job, *, highest_hz: float | None = None, robust: bool = False
) -> ArrayProposal:
    """How many subwoofers a plane wave takes in this room, where, with what delay and gain.

    Parameters
    ----------
    job
        Its room, seats and wishes.
    highest_hz
        Up to where the wave shall be plane; by default the top of the job's band.
    robust
        Whether it shall be with errors of place and gain.

    Raises
    ------
    InputError
        If the room is no box, or seats are not between front and back wall.
    """
    size = job.room.box_size_m
    if size is None:
        raise InputError(
            "an array can be proposed for a box-shaped room only; in another one, place and mark "
            "the subwoofers by hand"
        )
    highest = highest_hz or job.bass.band_hz[1]
    found = proposed_array(
        size,
        wall_admittances(job),
        highest,
        robust=robust,
        seats_m=[seat.position_m for seat in job.seats],
        c=speed_of_sound_m_s(job.room.temperature_c),
    )
    places = [(float(x), float(y), float(z)) for x, y, z in found.array.position_m]
    marked = list(zip(places, found.array.launches, strict=True))
    number = 2 * found.across * found.up
    upto = "500 Hz" if found.plane_up_to_hz is None else f"{found.plane_up_to_hz:.0f} Hz"
    return ArrayProposal(
        launching_m=tuple(place for place, launches in marked if launches),
        absorbing_m=tuple(place for place, launches in marked if not launches),
        across=found.across,
        up=found.up,
        plane_up_to_hz=found.plane_up_to_hz,
        robust_up_to_hz=found.robust_up_to_hz,
        delay_s=found.delay_s,
        gain_db=float(20.0 * np.log10(found.gain)),
        blocked=_blocked(job, places),
        says=f"{number} subwoofers, {found.across} across and {found.up} up on either wall, carry "
        f"a plane wave up to {upto}{_unevenness(found, highest, robust=robust)}",
    )


def _unevenness(found: Proposal, highest_hz: float, *, robust: bool) -> str:
    """That a seat hears single subwoofers, and what helps; "" if none does."""
    if found.near_field <= NEAR_FIELD_HARMLESS:
        return ""
    more = "" if robust else ", or more subwoofers, as many as errors of place and gain ask for"
    return (
        f"; at {highest_hz:.0f} Hz the seat nearest to them hears single ones, "
        f"{20.0 * np.log10(found.near_field):+.0f} dB re the wave; a place farther from them "
        f"helps{more}"
    )


def use_array(job: Job, proposal: ArrayProposal) -> Job:
    """The job with its subwoofers at the places of a proposal, marked; as many as that takes.

    Raises
    ------
    InputError
        If it takes more than a job can have.
    """
    places = (*proposal.launching_m, *proposal.absorbing_m)
    if len(places) > MOST_SUBWOOFERS:
        raise InputError(
            f"the array takes {len(places)} subwoofers and a job can have {MOST_SUBWOOFERS}; ask "
            "for a lower highest frequency"
        )
    job = with_subwoofers(job, len(places)) if len(places) != len(job.subwoofers) else job
    placed = tuple(
        subwoofer.model_copy(update={"position_m": place})
        for subwoofer, place in zip(job.subwoofers, places, strict=True)
    )
    job = job.model_copy(update={"subwoofers": placed})
    names = [subwoofer.id for subwoofer in placed]
    count = len(proposal.launching_m)
    return mark_array(job, names[:count], names[count:])


def array_trouble(job: Job) -> str:
    """Why the marks make no array, in one sentence; "" if they do, or nothing is marked."""
    if not job.bass.launching and not job.bass.absorbing:
        return ""
    try:
        marked_emitters(job, [subwoofer.id for subwoofer in job.subwoofers])
    except InputError as error:
        return str(error)
    return ""


def _blocked(job: Job, places: list[Point]) -> tuple[str, ...]:
    """The boxes to keep clear that hold a place."""
    return tuple(
        box.name for box in job.bass.keep_clear if any(_holds(box, place) for place in places)
    )


def _holds(box: KeepClear, place: Point) -> bool:
    high = np.inf if box.high_m is None else box.high_m
    return bool(Exclusion(box.from_m, box.to_m, box.low_m, high).holds(np.array([place]))[0])
