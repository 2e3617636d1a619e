"""The room from above and from the side, to scale."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from roomwright.handover import svg
from roomwright.handover.labels_beside import LABEL_PT as _LABEL_PT
from roomwright.handover.labels_beside import Flat, Label, along, around, beside
from roomwright.handover.plan_marks import loudspeaker_mark, station_mark, subwoofer_mark
from roomwright.handover.svg import Drawing, Stroke
from roomwright.handover.wording import paired
from roomwright.model import Job

_OUTLINE = Stroke(svg.BLACK, 1.6)
_LINE = Stroke(svg.BLACK, 0.8)
_FAINT = Stroke(svg.GREY, 0.5)
_MARGIN_PT = 34.0
_SEAT_M = 0.55


@dataclass(frozen=True, slots=True)
class _Scale:
    """From metres to points."""

    points_per_m: float
    left: float
    top: float
    width_pt: float
    height_pt: float

    @property
    def size(self) -> Flat:
        return self.width_pt, self.height_pt

    def at(self, across_m: float, down_m: float) -> Flat:
        return self.left + across_m * self.points_per_m, self.top + down_m * self.points_per_m


def plan(job: Job, width_pt: float, height_pt: float) -> Drawing:
    """The room from above, the front wall at the top."""
    x_min, y_min, x_max, y_max = job.room.polygon.bounds
    scale = _scale(x_max - x_min, y_max - y_min, width_pt, height_pt)
    corners = [scale.at(x - x_min, y - y_min) for x, y in job.room.outline_m]

    def at(point: Sequence[float]) -> Flat:
        return scale.at(point[0] - x_min, point[1] - y_min)

    parts = [svg.path(corners, _OUTLINE, fill="#FFFFFF", closed=True)]
    half = _SEAT_M / 2 * scale.points_per_m
    for seat in job.seats:
        parts += _seat(at(seat.position_m), half, seat.id, is_main=seat.id == job.main_seat)
    parts += [station_mark(at(s.position_m)) for s in job.stations if s.position_m is not None]
    heights = _height_loudspeakers(job)
    items = []
    for loudspeaker in job.loudspeakers:
        where, aim = at(loudspeaker.position_m), at(loudspeaker.aim_m)
        parts.append(loudspeaker_mark(where, aim, is_open=loudspeaker.id in heights))
        items.append(Label(loudspeaker.id, where, 5.0))
    for subwoofer in job.subwoofers:
        where = at(subwoofer.position_m)
        parts.append(subwoofer_mark(where))
        items.append(Label(subwoofer.id, where, 5.0))
    taken = [around(at(seat.position_m), half + 3) for seat in job.seats] + along(corners)
    centre = scale.at((x_max - x_min) / 2, (y_max - y_min) / 2)
    parts += beside(items, centre, taken, scale.size)
    parts += _rule(scale)
    parts.append(svg.text(centre[0], 9, "front", _LABEL_PT, anchor="middle", colour=svg.GREY))
    alt = (
        f"Plan of the room, {x_max - x_min:.2f} m wide and {y_max - y_min:.2f} m long, with "
        f"{len(job.seats)} seats, {len(job.loudspeakers)} loudspeakers and "
        f"{len(job.subwoofers)} subwoofers."
    )
    return svg.drawing(scale.width_pt, scale.height_pt, parts, alt)


def section(job: Job, width_pt: float, height_pt: float) -> Drawing:
    """The room from its left side, the front wall on the left."""
    _, y_min, _, y_max = job.room.polygon.bounds
    length, height = y_max - y_min, job.room.height_m
    scale = _scale(length, height, width_pt, height_pt)

    def at(point: Sequence[float]) -> Flat:
        return scale.at(point[1] - y_min, height - point[2])

    corners = [scale.at(*c) for c in ((0, 0), (length, 0), (length, height), (0, height))]
    parts = [svg.path(corners, _OUTLINE, fill="#FFFFFF", closed=True)]
    taken = along(corners)
    floor = scale.at(0, height)[1]
    for row in dict.fromkeys(seat.row for seat in job.seats):
        seats = [seat for seat in job.seats if seat.row == row]
        ear = at(seats[0].position_m)
        is_main = any(seat.id == job.main_seat for seat in seats)
        parts += _listener(ear, floor, scale, f"row {row}", is_main=is_main)
        taken += [around(ear, 5), around((ear[0], floor + 7), 12)]
        taken += along([ear, (ear[0], floor)])
    heights = _height_loudspeakers(job)
    hidden: dict[tuple[int, int], list[str]] = {}
    marks: dict[tuple[int, int], Flat] = {}
    for unit in job.units:
        where = at(unit.position_m)
        spot = (round(where[0] / 3), round(where[1] / 3))
        hidden.setdefault(spot, []).append(unit.id)
        marks.setdefault(spot, where)
    for loudspeaker in job.loudspeakers:
        where = at(loudspeaker.position_m)
        aim = at(loudspeaker.aim_m)
        parts.append(loudspeaker_mark(where, aim, is_open=loudspeaker.id in heights))
    parts += [subwoofer_mark(at(subwoofer.position_m)) for subwoofer in job.subwoofers]
    items = [Label(paired(names), marks[spot], 5.0) for spot, names in hidden.items()]
    parts += beside(items, scale.at(length / 2, height / 2), taken, scale.size)
    parts += _rule(scale)
    alt = f"Section of the room, {length:.2f} m long and {height:.2f} m high, seen from the left."
    return svg.drawing(scale.width_pt, scale.height_pt, parts, alt)


def _scale(across_m: float, down_m: float, width_pt: float, height_pt: float) -> _Scale:
    points_per_m = min(
        (width_pt - 2 * _MARGIN_PT) / across_m, (height_pt - 1.2 * _MARGIN_PT - 2) / down_m
    )
    top = 0.6 * _MARGIN_PT
    left = (width_pt - across_m * points_per_m) / 2
    return _Scale(points_per_m, left, top, width_pt, down_m * points_per_m + 1.2 * _MARGIN_PT + 2)


def _height_loudspeakers(job: Job) -> set[str]:
    return {name for c in job.channels if c.role == "height" for name in c.loudspeakers}


def _seat(at: Flat, half: float, name: str, *, is_main: bool) -> Iterator[str]:
    fill = "#C9E3F3" if is_main else "#F4F4F4"
    outline = Stroke(svg.BLACK, 1.3) if is_main else _FAINT
    yield svg.rectangle(
        at[0] - half, at[1] - half, 2 * half, 2 * half, outline, fill=fill, radius=3
    )
    yield svg.text(at[0], at[1] + half + 7, name, _LABEL_PT, anchor="middle", bold=is_main)


def _listener(ear: Flat, floor: float, scale: _Scale, name: str, *, is_main: bool) -> Iterator[str]:
    head = 0.12 * scale.points_per_m
    fill = "#C9E3F3" if is_main else "#F4F4F4"
    yield svg.line(ear[0], ear[1], ear[0], floor, _FAINT)
    yield svg.rectangle(
        ear[0] - head, ear[1] - head, 2 * head, 2 * head, _LINE, fill=fill, radius=head
    )
    yield svg.text(ear[0], floor + 9, name, _LABEL_PT, anchor="middle", bold=is_main)


def _rule(scale: _Scale) -> Iterator[str]:
    """A metre to measure by."""
    y = scale.height_pt - 5
    x0 = scale.left
    x1 = x0 + scale.points_per_m
    yield svg.line(x0, y, x1, y, _LINE)
    for x in (x0, x1):
        yield svg.line(x, y - 2.5, x, y + 2.5, _LINE)
    yield svg.text(x1 + 4, y + 2.5, "1 m", _LABEL_PT)
