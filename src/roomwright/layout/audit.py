"""What angles and distances each seat really gets, beside what is allowed."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from roomwright._errors import InputError
from roomwright.layout.geometry import direction, within
from roomwright.layout.layouts import read_layout
from roomwright.model import Job
from roomwright.standards import Position, bs2051, labels


@dataclass(frozen=True, slots=True)
class PlacementRow:
    """One loudspeaker of one channel as one seat has it; angles in degrees.

    The ranges are those of the layout for the main seat; for the other seats they show how far
    off those sit.
    """

    seat: str
    label: str
    iec: str | None
    english: str
    loudspeaker: str
    azimuth_deg: float
    elevation_deg: float
    distance_m: float
    azimuth_range_deg: tuple[float, float]
    elevation_range_deg: tuple[float, float]
    within: bool


def audit(job: Job) -> tuple[PlacementRow, ...]:
    """Angles and distances of every loudspeaker of every channel, from every seat.

    The allowed ranges are those of the job's layout; for a channel outside it, or a layout that
    is not known, the widest that BS.2051 allows its label. Channels that play through no
    loudspeaker of their own (LFE), and those whose name is no BS.2051 label, have no row.
    """
    allowed = _layout_positions(job.layout)
    return tuple(
        row
        for seat in job.seats
        for label in labels.label_order(channel.id for channel in job.channels)
        for row in _rows(job, seat.id, label, allowed)
    )


def _layout_positions(layout: str) -> dict[str, Position]:
    try:
        return {position.label: position for position in read_layout(layout).loudspeakers}
    except InputError:
        return {}


def _rows(
    job: Job, seat_id: str, label: str, allowed: dict[str, Position]
) -> Iterator[PlacementRow]:
    if not bs2051.is_label(label):
        return
    position = allowed.get(label) or bs2051.position(label)
    channel = next(channel for channel in job.channels if channel.id == label)
    for name in channel.loudspeakers:
        seen = direction(job.seat(seat_id).position_m, job.unit(name).position_m)
        yield PlacementRow(
            seat=seat_id,
            label=label,
            iec=labels.iec_label(label, job.layout),
            english=labels.english(label),
            loudspeaker=name,
            azimuth_deg=seen.azimuth_deg,
            elevation_deg=seen.elevation_deg,
            distance_m=seen.distance_m,
            azimuth_range_deg=position.azimuth_range_deg,
            elevation_range_deg=position.elevation_range_deg,
            within=within(seen, position),
        )
