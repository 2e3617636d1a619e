"""The stations of a survey on a plan of the room, dimensioned and to a printed scale."""

from __future__ import annotations

import itertools
import math
from collections.abc import Callable, Iterator, Sequence
from typing import Final

from shapely.geometry.polygon import orient

from roomwright.handover import svg
from roomwright.handover.labels_beside import LABEL_PT, Box, Flat, Label, along, around, beside
from roomwright.handover.plan_marks import loudspeaker_mark, station_mark, subwoofer_mark
from roomwright.handover.svg import Drawing, Stroke
from roomwright.model import Job

_METRE_PT: Final = 72.0 / 0.0254

#: Around the room: dimension lines this far from the walls, a second row beyond, and the paper
#: they need; points.
_OUT_PT, _FURTHER_PT, _MARGIN_PT = 15.0, 33.0, 30.0
_FURTHER_MARGIN_PT, _FOOT_PT = 48.0, 22.0

_OUTLINE = Stroke(svg.BLACK, 1.8)
_DIMENSION = Stroke(svg.BLACK, 0.5)
_WALK = Stroke(svg.VERMILLION, 0.5, "3 2")
_FAINT = Stroke(svg.GREY, 0.5)
_SEAT_M: Final = 0.5
_SEAT_PT: Final = 6.0
#: Walls and planes this close are one, metres.
_ONE_PLANE_M: Final = 0.005


def plan_size_pt(job: Job, scale: float) -> Flat:
    """Width and height of the drawing at a scale of 1 : `scale`, points."""
    x0, y0, x1, y1 = job.room.polygon.bounds
    per_m, margin = _METRE_PT / scale, _margin_pt(job)
    return (x1 - x0) * per_m + 2 * margin, (y1 - y0) * per_m + 2 * margin + _FOOT_PT


def station_drawing(
    job: Job, scale: float, length: Callable[[float], str], rule_m: float, title: str = ""
) -> Drawing:
    """The room from above, the front wall at the top, with stations numbered as they are walked.

    Parameters
    ----------
    job
        Its stations are numbered in their order; those without a place are not drawn.
    scale
        1 : `scale`, if it is printed at full size.
    length
        Writes a length in metres for people.
    rule_m
        Length of the rule to check the print by.
    title
        What stands below the plan.
    """
    width, height = plan_size_pt(job, scale)
    x0, y0, x1, y1 = job.room.polygon.bounds
    per_m, margin = _METRE_PT / scale, _margin_pt(job)

    def at(point: Sequence[float]) -> Flat:
        return margin + (point[0] - x0) * per_m, margin + (point[1] - y0) * per_m

    corners = [at(corner) for corner in job.room.outline_m]
    centre = at(((x0 + x1) / 2, (y0 + y1) / 2))
    parts = [svg.path(corners, _OUTLINE, fill="#FFFFFF", closed=True)]
    parts += _walls(job, at, length)
    half = _SEAT_M / 2 * per_m
    for seat in job.seats:
        parts += _seat(at(seat.position_m), half, seat.id, is_main=seat.id == job.main_seat)
    for loudspeaker in job.loudspeakers:
        where = at(loudspeaker.position_m)
        parts.append(loudspeaker_mark(where, at(loudspeaker.aim_m), is_open=True))
    parts += [subwoofer_mark(at(subwoofer.position_m)) for subwoofer in job.subwoofers]
    places = [at(s.position_m) for s in job.stations if s.position_m is not None]
    parts.append(svg.path(places, _WALK))
    parts += [station_mark(place) for place in places]
    names = [_below(at(seat.position_m), half) for seat in job.seats]
    labels = [Label(words, at(place), 3.0) for place, words in _numbers(job).items()]
    parts += beside(labels, centre, [*names, *_taken(corners, job, at)], (width, height), bold=True)
    parts += _foot(margin, height - 8, rule_m * per_m, f"{length(rule_m)} · {title}")
    alt = (
        f"Plan of the room at 1:{scale:g} with {len(job.stations)} stations, "
        f"{len(job.seats)} seats and the lengths of all walls."
    )
    return svg.drawing(width, height, parts, alt, unit="pt")


def wall_names(job: Job) -> tuple[str, ...]:
    """What each wall is called: by the side of the room that it closes, else by its number."""
    x0, y0, x1, y1 = job.room.polygon.bounds
    outline = job.room.outline_m
    names = []
    for number, (a, b) in enumerate(itertools.pairwise((*outline, outline[0])), start=1):
        sides = {
            "left wall": (a[0], b[0], x0),
            "front wall": (a[1], b[1], y0),
            "right wall": (a[0], b[0], x1),
            "back wall": (a[1], b[1], y1),
        }
        named = (name for name, plane in sides.items() if max(plane) - min(plane) < _ONE_PLANE_M)
        names.append(next(named, f"wall {number}"))
    return tuple(names)


def _numbers(job: Job) -> dict[Flat, str]:
    """By place on the floor, the numbers of the stations there: "3", "3, 4" or "3–5"."""
    found: dict[Flat, list[int]] = {}
    for number, station in enumerate(job.stations, start=1):
        if station.position_m is not None:
            x, y, _ = station.position_m
            found.setdefault((round(x, 2), round(y, 2)), []).append(number)
    return {place: _listed(numbers) for place, numbers in found.items()}


def _listed(numbers: Sequence[int]) -> str:
    if len(numbers) > 2 and numbers[-1] - numbers[0] == len(numbers) - 1:
        return f"{numbers[0]}–{numbers[-1]}"
    return ", ".join(map(str, numbers))


def _taken(corners: Sequence[Flat], job: Job, at: Callable[[Sequence[float]], Flat]) -> list[Box]:
    boxes = along(list(corners))
    boxes += [around(at(unit.position_m), 5.0) for unit in job.units]
    return boxes + [around(at(s.position_m), 3.0) for s in job.stations if s.position_m is not None]


def _below(at: Flat, half: float) -> Box:
    """Where the name of a seat stands."""
    top = at[1] + half + 1
    return at[0] - half / 2, top, at[0] + half / 2, top + _SEAT_PT


def _margin_pt(job: Job) -> float:
    return _MARGIN_PT if len(job.room.outline_m) == 4 else _FURTHER_MARGIN_PT


def _walls(
    job: Job, at: Callable[[Sequence[float]], Flat], length: Callable[[float], str]
) -> Iterator[str]:
    """A dimension line outside each wall, and the overall size of a room of more than four."""
    outline = job.room.outline_m
    is_turned = orient(job.room.polygon).exterior.coords[:] != job.room.polygon.exterior.coords[:]
    side = -1.0 if is_turned else 1.0
    edges = list(itertools.pairwise((*outline, outline[0])))
    inward = _inward(edges, side)
    for number, (name, (a, b)) in enumerate(zip(wall_names(job), edges, strict=True)):
        run = math.dist(a, b)
        to = -side if number in inward else side
        out = (to * (b[1] - a[1]) / run, to * (a[0] - b[0]) / run)
        yield from _dimension(at(a), at(b), out, _OUT_PT, f"{name} · {length(run)}")
    if len(outline) > 4:
        x0, y0, x1, y1 = job.room.polygon.bounds
        yield from _dimension(at((x0, y0)), at((x1, y0)), (0, -1), _FURTHER_PT, length(x1 - x0))
        yield from _dimension(at((x0, y0)), at((x0, y1)), (-1, 0), _FURTHER_PT, length(y1 - y0))


def _inward(edges: Sequence[tuple[Flat, Flat]], side: float) -> set[int]:
    """The shorter wall at each corner that juts in, whose dimension would meet the other's."""
    found = set()
    for number, (a, b) in enumerate(edges):
        following = (number + 1) % len(edges)
        c = edges[following][1]
        turn = (b[0] - a[0]) * (c[1] - b[1]) - (b[1] - a[1]) * (c[0] - b[0])
        if side * turn < 0:
            found.add(number if math.dist(a, b) < math.dist(b, c) else following)
    return found


def _dimension(a: Flat, b: Flat, out: Flat, off_pt: float, words: str) -> Iterator[str]:
    """A line beside the stretch from `a` to `b`, off it by `off_pt`, with words along it."""
    ends = [(x + out[0] * off_pt, y + out[1] * off_pt) for x, y in (a, b)]
    yield svg.path(ends, _DIMENSION)
    slant = ((b[0] - a[0]), (b[1] - a[1]))
    run = math.hypot(*slant)
    tick = (2.5 * (slant[0] / run + out[0]), 2.5 * (slant[1] / run + out[1]))
    for (x, y), wall in zip(ends, (a, b), strict=True):
        near = (wall[0] + 3 * out[0], wall[1] + 3 * out[1])
        yield svg.line(*near, x + 3 * out[0], y + 3 * out[1], _DIMENSION)
        yield svg.line(x - tick[0], y - tick[1], x + tick[0], y + tick[1], Stroke(svg.BLACK, 1.0))
    angle = math.degrees(math.atan2(slant[1], slant[0]))
    # Words are read from below or from the right.
    angle = angle - 180.0 if angle > 89.9 else angle + 180.0 if angle <= -90.1 else angle
    up = (math.sin(math.radians(angle)), -math.cos(math.radians(angle)))
    is_above = up[0] * out[0] + up[1] * out[1] > 0
    lift = 3.0 if is_above else -(3.0 + 0.7 * LABEL_PT)
    size = LABEL_PT + 0.5
    while size > 4.5 and svg.text_width(words, size) > run + 2 * off_pt:
        size -= 0.5
    middle = ((ends[0][0] + ends[1][0]) / 2, (ends[0][1] + ends[1][1]) / 2)
    yield svg.text(
        middle[0] + up[0] * lift,
        middle[1] + up[1] * lift,
        words,
        size,
        anchor="middle",
        turn_deg=round(angle, 2),
    )


def _seat(at: Flat, half: float, name: str, *, is_main: bool) -> Iterator[str]:
    fill = "#E4F1F9" if is_main else "#F7F7F7"
    outline = Stroke(svg.BLACK, 1.1) if is_main else _FAINT
    yield svg.rectangle(
        at[0] - half, at[1] - half, 2 * half, 2 * half, outline, fill=fill, radius=3
    )
    yield svg.text(at[0], at[1] + half + _SEAT_PT, name, _SEAT_PT, anchor="middle", bold=is_main)


def _foot(left: float, y: float, rule_pt: float, words: str) -> Iterator[str]:
    yield svg.line(left, y, left + rule_pt, y, Stroke(svg.BLACK, 0.9))
    for x in (left, left + rule_pt):
        yield svg.line(x, y - 3, x, y + 3, Stroke(svg.BLACK, 0.9))
    yield svg.text(left + rule_pt + 5, y + 2.5, words, LABEL_PT)
