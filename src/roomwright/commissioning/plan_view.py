"""What plan and section show of a job: things, their marks, and the angles at one seat."""

from __future__ import annotations

import math
from collections.abc import Callable, Collection
from dataclasses import dataclass
from typing import Literal

from roomwright.layout import PlacementRow, audit, direction
from roomwright.model import Job, Point, Subwoofer
from roomwright.standards import bs2051

#: `clear` is the middle of a box to keep clear of subwoofers, `corner` one of its corners.
ItemKind = Literal["loudspeaker", "height", "subwoofer", "seat", "station", "clear", "corner"]

#: Shape drawn beside an item: `out` out of range; `done`, `missing` and `doubt` for stations;
#: `launches` and `absorbs` for the subwoofers of an array; `further` for a suggested station.
Mark = Literal["", "out", "done", "missing", "doubt", "launches", "absorbs", "further"]


@dataclass(frozen=True, slots=True)
class PlanItem:
    """One thing in the room.

    `note` says in words what a mark means; screen readers speak it. `twin` names the item on the
    other side, if there is one; `badge` is a short text beneath the label. A station that is
    `held` back from the design of the bass stands in a square.
    """

    id: str
    kind: ItemKind
    label: str
    position_m: Point
    aim_m: Point | None = None
    movable: bool = True
    main: bool = False
    mark: Mark = ""
    note: str = ""
    badge: str = ""
    twin: str = ""
    held: bool = False


@dataclass(frozen=True, slots=True)
class PlanBox:
    """A box to keep clear of subwoofers, between two opposite corners and two heights.

    The items "clear NAME", "corner 1 NAME" and "corner 2 NAME" move it.
    """

    name: str
    from_m: tuple[float, float]
    to_m: tuple[float, float]
    low_m: float
    high_m: float


@dataclass(frozen=True, slots=True)
class PlanSpot:
    """A place where a subwoofer could stand; one of those looked at now if `chosen`."""

    position_m: Point
    chosen: bool = False


@dataclass(frozen=True, slots=True)
class Sector:
    """The angles allowed to one loudspeaker at the chosen seat, and the angle it has.

    `ring` is 0 for the middle layer, 1 for the upper and 2 for the lower. `heights_m` are the
    lowest and highest place allowed at the loudspeaker's distance across the floor. Angles are in
    degrees, positive to the left, as `layout.direction` gives them.
    """

    id: str
    label: str
    ring: int
    azimuth_range_deg: tuple[float, float]
    azimuth_deg: float
    heights_m: tuple[float, float]
    within: bool


@dataclass(frozen=True, slots=True)
class PlanView:
    """All that plan and section draw; lengths in metres."""

    outline_m: tuple[tuple[float, float], ...]
    height_m: float
    items: tuple[PlanItem, ...]
    seat_m: Point | None = None
    sectors: tuple[Sector, ...] = ()
    boxes: tuple[PlanBox, ...] = ()
    spots: tuple[PlanSpot, ...] = ()


def plan_view(
    job: Job,
    *,
    seat: str | None = None,
    label: Callable[[str], str] = str,
    show: Collection[str] = ("loudspeakers", "seats"),
    movable: Collection[str] = ("loudspeakers", "seats"),
) -> PlanView:
    """The job as plan and section draw it.

    Parameters
    ----------
    job
        The job.
    seat
        The seat whose angles are drawn and judged; by default the main seat.
    label
        Gives a channel's name in the engineer's naming scheme.
    show
        Which of "loudspeakers" (subwoofers among them), "seats" and "stations" are in it.
    movable
        Which of them can be moved.
    """
    chosen = seat if seat in {one.id for one in job.seats} else job.main_seat
    rows = tuple(row for row in audit(job) if row.seat == chosen)
    items: list[PlanItem] = []
    if "seats" in show:
        items += _seats(job, movable="seats" in movable)
    if "stations" in show:
        items += _stations(job, movable="stations" in movable)
    if "loudspeakers" in show:
        items += _units(job, rows, label, movable="loudspeakers" in movable)
    return PlanView(
        outline_m=job.room.outline_m,
        height_m=job.room.height_m,
        items=tuple(items),
        seat_m=job.seat(chosen).position_m,
        sectors=tuple(_sector(job, row, label) for row in rows),
    )


def angle_words(row: PlacementRow) -> str:
    """In words, how far a loudspeaker is outside its range; "in range" where it is not."""
    if row.within:
        return "in range"
    words = []
    turn = _beyond_turn(row.azimuth_deg, row.azimuth_range_deg)
    if turn:
        words.append(f"{abs(turn):.0f}° too far {_turned(turn, row.azimuth_range_deg)}")
    low, high = row.elevation_range_deg
    if row.elevation_deg > high:
        words.append(f"{row.elevation_deg - high:.0f}° too high")
    elif row.elevation_deg < low:
        words.append(f"{low - row.elevation_deg:.0f}° too low")
    return ", ".join(words)


def place_says(
    job: Job, kind: ItemKind, name: str, seat: str, length: Callable[[float], str]
) -> str:
    """In one line, where something stands, and how a loudspeaker is seen from a seat.

    `length` writes a length in the engineer's units.
    """
    place = job.seat(name).position_m if kind == "seat" else None
    if kind == "station":
        place = job.station(name).position_m
    if place is None:
        place = job.unit(name).position_m
    x, y, z = (length(value) for value in place)
    says = f"{x} across, {y} back, {z} up"
    if kind in {"seat", "station"}:
        return says
    seen = direction(job.seat(seat).position_m, place)
    return (
        f"{round(seen.azimuth_deg)}° azimuth, {round(seen.elevation_deg)}° elevation, "
        f"{length(seen.distance_m)} from {seat}; {says}"
    )


def unit_label(job: Job, unit_id: str, label: Callable[[str], str] = str) -> str:
    """A loudspeaker's name by its channel's; further ones on a channel are numbered."""
    for channel in job.channels:
        if unit_id in channel.loudspeakers:
            number = channel.loudspeakers.index(unit_id)
            return label(channel.id) + (f" ({number + 1})" if number else "")
    return label(unit_id)


def twin_of(job: Job, item_id: str) -> str:
    """The loudspeaker on the other side, or the seat mirrored in its row; "" without one."""
    swapped = item_id.translate(str.maketrans("+-", "-+"))
    if swapped != item_id and swapped in {unit.id for unit in job.loudspeakers}:
        return swapped
    row = next((seat.row for seat in job.seats if seat.id == item_id), None)
    if row is None:
        return ""
    across = sorted((s for s in job.seats if s.row == row), key=lambda one: one.position_m[0])
    names = [one.id for one in across]
    twin = names[-1 - names.index(item_id)]
    return "" if twin == item_id else twin


def _beyond_turn(azimuth_deg: float, allowed_deg: tuple[float, float]) -> float:
    """Degrees by which an azimuth is beyond its range, positive to the left; 0 within it."""
    low, high = allowed_deg
    turns = []
    for whole in (-360.0, 0.0, 360.0):
        azimuth = azimuth_deg + whole
        turns.append(max(azimuth - high, 0.0) + min(azimuth - low, 0.0))
    return min(turns, key=abs)


def _turned(turn_deg: float, allowed_deg: tuple[float, float]) -> str:
    middle = sum(allowed_deg) / 2
    if not 45 < abs(middle) < 135:
        return "left" if turn_deg > 0 else "right"
    return "back" if turn_deg * middle > 0 else "forward"


def _seats(job: Job, *, movable: bool) -> list[PlanItem]:
    return [
        PlanItem(
            id=seat.id,
            kind="seat",
            label=seat.id,
            position_m=seat.position_m,
            movable=movable,
            main=seat.id == job.main_seat,
            note="main seat" if seat.id == job.main_seat else "",
            twin=twin_of(job, seat.id),
        )
        for seat in job.seats
    ]


def _stations(job: Job, *, movable: bool) -> list[PlanItem]:
    return [
        PlanItem(
            id=station.id,
            kind="station",
            label=station.id,
            position_m=station.position_m,
            movable=movable,
        )
        for station in job.stations
        if station.position_m is not None
    ]


def _units(
    job: Job, rows: tuple[PlacementRow, ...], label: Callable[[str], str], *, movable: bool
) -> list[PlanItem]:
    judged = {row.loudspeaker: row for row in rows}
    above = {name for c in job.channels if c.role == "height" for name in c.loudspeakers}
    items = []
    for loudspeaker in job.loudspeakers:
        row = judged.get(loudspeaker.id)
        items.append(
            PlanItem(
                id=loudspeaker.id,
                kind="height" if loudspeaker.id in above else "loudspeaker",
                label=unit_label(job, loudspeaker.id, label),
                position_m=loudspeaker.position_m,
                aim_m=loudspeaker.aim_m,
                movable=movable,
                mark="" if row is None or row.within else "out",
                note="" if row is None else angle_words(row),
                twin=twin_of(job, loudspeaker.id),
            )
        )
    items += [_subwoofer(job, one, label, movable=movable) for one in job.subwoofers]
    return items


def _subwoofer(
    job: Job, subwoofer: Subwoofer, label: Callable[[str], str], *, movable: bool
) -> PlanItem:
    mark: Mark = ""
    if subwoofer.id in job.bass.launching:
        mark = "launches"
    elif subwoofer.id in job.bass.absorbing:
        mark = "absorbs"
    return PlanItem(
        id=subwoofer.id,
        kind="subwoofer",
        label=label(subwoofer.id),
        position_m=subwoofer.position_m,
        aim_m=_opposite(job, subwoofer.id) if mark else None,
        movable=movable,
        mark=mark,
        note=f"{mark} the wave" if mark else "",
        badge=mark,
    )


def _opposite(job: Job, name: str) -> Point | None:
    """Straight across from a subwoofer of an array, towards those of the other part."""
    launches = name in job.bass.launching
    others = job.bass.absorbing if launches else job.bass.launching
    places = [one.position_m for one in job.subwoofers if one.id in others]
    if not places:
        return None
    x, y, z = job.unit(name).position_m
    across = sum(place[0] for place in places) / len(places) - x
    back = sum(place[1] for place in places) / len(places) - y
    return (x, y + back, z) if abs(back) >= abs(across) else (x + across, y, z)


def _sector(job: Job, row: PlacementRow, label: Callable[[str], str]) -> Sector:
    ears = job.seat(row.seat).position_m
    across_m = math.dist(ears[:2], job.unit(row.loudspeaker).position_m[:2])
    low, high = (
        min(max(ears[2] + across_m * math.tan(math.radians(angle)), 0.0), job.room.height_m)
        for angle in row.elevation_range_deg
    )
    return Sector(
        id=row.loudspeaker,
        label=unit_label(job, row.loudspeaker, label),
        ring={"middle": 0, "upper": 1, "lower": 2, "lfe": 2}[bs2051.layer(row.label)],
        azimuth_range_deg=row.azimuth_range_deg,
        azimuth_deg=row.azimuth_deg,
        heights_m=(low, high),
        within=row.within,
    )
