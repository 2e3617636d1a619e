"""Loudspeakers, subwoofers and channels of a layout, placed for the seats of a room."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

from shapely import LineString
from shapely import Point as FlatPoint

from roomwright._errors import InputError
from roomwright.layout.enclosure import enclosure
from roomwright.layout.geometry import direction, within
from roomwright.layout.layouts import Layout, read_layout
from roomwright.layout.spots import FROM_EARS_M, SPACING_M, Spot, find_spots
from roomwright.layout.subwoofers import subwoofer_places
from roomwright.model import (
    Channel,
    ChannelRole,
    Finding,
    Loudspeaker,
    Point,
    Room,
    Seat,
    Subwoofer,
)
from roomwright.standards import bs2051

#: Centres of loudspeakers stand this far from walls and ceiling, metres.
FROM_WALL_M = 0.15

#: A main seat nearer than this to the middle of the room counts as being in the middle, metres.
_MIDDLE_M = 0.1

_ROLES = ("front", "surround", "height", "subwoofer")


@dataclass(frozen=True, slots=True)
class Placement:
    """What stands in the room, what plays through it, and what is to be known of the places."""

    loudspeakers: tuple[Loudspeaker, ...]
    subwoofers: tuple[Subwoofer, ...]
    channels: tuple[Channel, ...]
    notes: tuple[Finding, ...]


def role_of(label: str) -> ChannelRole:
    """Role of a channel by its BS.2051 label.

    The lower layer, and the middle layer up to 45 degrees, are front: common practice, no source.

    Raises
    ------
    InputError
        If the label is none of BS.2051.
    """
    layer = bs2051.layer(label)
    if layer == "lfe":
        return "lfe"
    if layer == "upper":
        return "height"
    ahead = abs(bs2051.position(label).azimuth_deg) <= 45
    return "front" if layer == "lower" or ahead else "surround"


def place(
    room: Room,
    seats: Sequence[Seat],
    main_seat_id: str,
    layout: str,
    *,
    models: Mapping[str, str],
) -> Placement:
    """Loudspeakers of a layout at the angles its standard allows, as seen from the main seat.

    A ray from the main seat at the nominal direction is followed to 0.15 m before a wall or the
    ceiling. Where that place is taken, too near to somebody's ears, or on the wrong surface (the
    upper layer belongs on the ceiling, the front on the front wall, the rest on any wall), the
    nearest better direction within the allowed range is used; where none is free, the nearest
    outside it, and a finding says so. A left and a right loudspeaker get mirrored directions
    wherever both sides allow it, so a symmetric room with its main seat in the middle is
    furnished symmetrically. All loudspeakers are aimed at the main seat. Places are rounded to
    1 mm.

    Parameters
    ----------
    room
        Any prism; the listeners face its front wall (towards y = 0).
    seats, main_seat_id
        Angles are taken from the main seat; loudspeakers keep 0.5 m from the ears at every seat.
    layout
        As `roomwright.layout.read_layout` takes it.
    models
        Name of the loudspeaker model for each of "front", "surround", "height", "subwoofer".

    Raises
    ------
    InputError
        If the layout or the main seat is unknown, a model is not named, or the main seat is not
        in the room.
    """
    wanted = read_layout(layout)
    missing = [role for role in _ROLES if role not in models]
    if missing:
        raise InputError(f"no loudspeaker model is named for {', '.join(missing)}")
    ears = {seat.id: seat.position_m for seat in seats}
    if main_seat_id not in ears:
        known = ", ".join(ears)
        raise InputError(f"the main seat {main_seat_id} is not one of the seats ({known})")
    main = ears[main_seat_id]
    inner = enclosure(room, main, FROM_WALL_M)
    lfe = wanted.lfe if _states_angles(wanted) else ()
    found = find_spots(inner, main, tuple(ears.values()), (*wanted.loudspeakers, *lfe))
    spots = found[: len(wanted.loudspeakers)]
    sub_places = [spot.place_m for spot in found[len(spots) :]] or subwoofer_places(
        room, wanted.subwoofers, [spot.place_m for spot in spots], SPACING_M
    )
    subwoofers = tuple(
        Subwoofer(id=f"SW{number}", model=models["subwoofer"], position_m=place_m)
        for number, place_m in enumerate(sub_places, start=1)
    )
    return Placement(
        loudspeakers=tuple(loudspeaker_at(spot, main, models) for spot in spots),
        subwoofers=subwoofers,
        channels=tuple(
            Channel(
                id=position.label,
                role=role_of(position.label),
                loudspeakers=() if position.is_lfe else (position.label,),
            )
            for position in (*wanted.loudspeakers, *wanted.lfe)
        ),
        notes=(
            *_off_the_middle(room, main, wanted),
            *(note for spot in found for note in _notes(spot, main, tuple(ears.values()))),
            *_crowded({unit.id: unit.position_m for unit in subwoofers}, spots),
        ),
    )


def loudspeaker_at(spot: Spot, main: Point, models: Mapping[str, str]) -> Loudspeaker:
    """The loudspeaker that stands at a spot, aimed at the main seat."""
    label = spot.position.label
    return Loudspeaker(id=label, model=models[role_of(label)], position_m=spot.place_m, aim_m=main)


def _states_angles(wanted: Layout) -> bool:
    """Whether the layout itself says where its subwoofers stand (systems F and H do)."""
    return len(wanted.lfe) == wanted.subwoofers and all(
        position.azimuth_range_deg != bs2051.ANY_AZIMUTH_DEG for position in wanted.lfe
    )


def _off_the_middle(room: Room, main: Point, wanted: Layout) -> Iterator[Finding]:
    if all(position.label != "M+000" for position in wanted.loudspeakers):
        return
    left, _, right, _ = room.polygon.bounds
    x, y, _ = main
    across = room.polygon.intersection(LineString([(left - 1, y), (right + 1, y)]))
    parts = getattr(across, "geoms", [across])
    low, _, high, _ = min(parts, key=lambda part: part.distance(FlatPoint(x, y))).bounds
    offset = x - (low + high) / 2
    if abs(offset) > _MIDDLE_M:
        yield Finding(
            severity="note",
            where="M+000",
            text=(
                f"The main seat is {abs(offset):.2f} m {'right' if offset > 0 else 'left'} of the "
                "middle of the room; the centre loudspeaker stands straight ahead of the seat."
            ),
        )


def _notes(spot: Spot, main: Point, ears: Sequence[Point]) -> Iterator[Finding]:
    position = spot.position
    seen = direction(main, spot.place_m)
    if not within(seen, position):
        yield Finding(
            severity="doubt",
            where=position.label,
            text=(
                f"No free place at an allowed angle: it stands at azimuth "
                f"{seen.azimuth_deg:.0f} and elevation {seen.elevation_deg:.0f} degrees; allowed "
                "is {:g} to {:g} and {:g} to {:g}.".format(
                    *position.azimuth_range_deg, *position.elevation_range_deg
                )
            ),
        )
    elif spot.rank:
        yield Finding(
            severity="note",
            where=position.label,
            text=f"It stands at the {spot.surface}; no better surface is free at an allowed angle.",
        )
    nearest = min(math.dist(spot.place_m, ear) for ear in ears)
    if nearest < FROM_EARS_M - 0.005:
        yield Finding(
            severity="doubt",
            where=position.label,
            text=f"It is only {nearest:.2f} m from the nearest ears; {FROM_EARS_M:g} m is wanted.",
        )


def _crowded(subwoofers: Mapping[str, Point], spots: Sequence[Spot]) -> Iterator[Finding]:
    places = {spot.position.label: spot.place_m for spot in spots} | dict(subwoofers)
    names = list(places)
    for number, name in enumerate(names):
        for other in names[:number]:
            apart = math.dist(places[name], places[other])
            if apart < SPACING_M:
                yield Finding(
                    severity="doubt",
                    where=name,
                    text=f"It is only {apart:.2f} m from {other}; {SPACING_M:g} m is wanted.",
                )
