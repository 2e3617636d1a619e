"""The sheet to print for a survey: the plan of the stations, and where each is taped."""

from __future__ import annotations

import json
from collections.abc import Callable
from dataclasses import asdict, dataclass
from importlib.resources import files
from typing import Final, Literal

import typst

from roomwright._errors import InputError
from roomwright.handover.station_drawing import plan_size_pt, station_drawing, wall_names
from roomwright.handover.svg import Drawing
from roomwright.model import Job

#: Papers by the typesetter's names, their sides in points.
_PAPERS_PT: Final = {
    "a4": (595.28, 841.89),
    "a3": (841.89, 1190.55),
    "us-letter": (612.0, 792.0),
    "us-tabloid": (792.0, 1224.0),
}
#: Scales of builders' rules, largest first: metric, and half, quarter, eighth ... of an inch to
#: the foot.
_SCALES: Final = {"m": (25, 50, 100, 200, 500), "ft": (24, 48, 96, 192, 384)}
_OF_UNITS: Final = {"m": ("a4", "a3"), "ft": ("us-letter", "us-tabloid")}
_RULE_M: Final = {"m": 1.0, "ft": 3 * 0.3048}
#: The page's margins, and its header and notes; points.
_EDGE_PT: Final = 34.0
_WORDS_PT: Final = 100.0
#: A table longer than this is set in two columns.
_LONG: Final = 24


@dataclass(frozen=True, slots=True)
class StationSheet:
    """A printed plan: its `paper` by the typesetter's name, 1 : `scale`, and the drawing."""

    paper: str
    flipped: bool
    scale: int
    drawing: Drawing
    pdf: bytes


def build_station_sheet(
    job: Job, length: Callable[[float], str], units: Literal["m", "ft"], made_on: str, says: str
) -> StationSheet:
    """Draw and typeset the plan of the stations.

    Parameters
    ----------
    job
        With at least one station whose place is known.
    length
        Writes a length in metres for people.
    units
        Whose scales and papers to take: A4 and A3 at 1:25, 1:50 ..., or letter and tabloid at
        1:24, 1:48 ...: the smallest paper on which one of the first two fits.
    made_on
        The date.
    says
        A sentence below the title: how many stations, how long they take.

    Raises
    ------
    InputError
        If no station has a place, or the room is too large for any scale.
    """
    if all(station.position_m is None for station in job.stations):
        raise InputError("no station has a place yet; a plan of them cannot be drawn")
    paper, flipped, scale = _fitting(job, units)
    title = f"1:{scale} if printed at 100 %"
    drawn = station_drawing(job, scale, length, _RULE_M[units], title)
    head, rows = station_table(job, length)
    content = {
        "title": job.name,
        "made_on": made_on,
        "says": says,
        "paper": paper,
        "flipped": flipped,
        "drawing": asdict(drawn),
        "notes": _notes(job),
        "head": head,
        "rows": rows,
        "columns": 2 if len(job.stations) > _LONG else 1,
    }
    template = files("roomwright.handover").joinpath("station_sheet.typ").read_bytes()
    given = json.dumps(content, ensure_ascii=False, allow_nan=False)
    pdf = typst.compile(template, format="pdf", sys_inputs={"content": given})
    return StationSheet(paper, flipped, scale, drawn, pdf)


def _fitting(job: Job, units: Literal["m", "ft"]) -> tuple[str, bool, int]:
    """Smallest paper for one of the two largest scales, upright before across; else smaller."""
    scales = _SCALES[units]
    wanted = [(p, scale) for p in _OF_UNITS[units] for scale in scales[:2]]
    wanted += [(p, scale) for scale in scales[2:] for p in _OF_UNITS[units]]
    for paper, scale in wanted:
        for flipped in (False, True):
            short, long = _PAPERS_PT[paper]
            across, down = (long, short) if flipped else (short, long)
            width, height = plan_size_pt(job, scale)
            if width <= across - 2 * _EDGE_PT and height <= down - 2 * _EDGE_PT - _WORDS_PT:
                return paper, flipped, scale
    x0, y0, x1, y1 = job.room.polygon.bounds
    raise InputError(
        f"a room of {x1 - x0:.1f} x {y1 - y0:.1f} m does not fit on {_OF_UNITS[units][1]} paper "
        f"at 1:{scales[-1]}"
    )


def _planes(job: Job) -> tuple[str, str]:
    """The two walls from which places are taped; in a crooked room, its outermost points."""
    names = wall_names(job)
    left = "left wall" if "left wall" in names else "leftmost point"
    front = "front wall" if "front wall" in names else "foremost point"
    return f"from the {left}", f"from the {front}"


def station_table(
    job: Job, length: Callable[[float], str]
) -> tuple[tuple[str, ...], list[tuple[str, ...]]]:
    """Heading and rows: where each station is taped from two walls and the floor."""
    x0, y0, _, _ = job.room.polygon.bounds
    rows: list[tuple[str, ...]] = []
    for number, station in enumerate(job.stations, start=1):
        named = (str(number), station.id, station.seat or "")
        if station.position_m is None:
            rows.append((*named, "not known", "", ""))
            continue
        x, y, z = station.position_m
        rows.append((*named, length(x - x0), length(y - y0), length(z)))
    return ("no.", "station", "seat", *_planes(job), "above the floor"), rows


def _notes(job: Job) -> str:
    unknown = sum(station.position_m is None for station in job.stations)
    text = (
        "Red crosses are stations, numbered in the order in which they are walked along the "
        "dashed line; several numbers at one cross are heights. Squares are seats, the main seat "
        "in bold lines; orange squares are subwoofers, blue outlines loudspeakers. Print at full "
        "size and check the rule with a tape."
    )
    if unknown:
        text += f" {unknown} of the stations have no place yet and are not drawn."
    return text
