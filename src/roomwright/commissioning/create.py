"""The Room and Layout stages in one call: a job from a room's size and a layout's name."""

from __future__ import annotations

from typing import cast, get_args

from roomwright._errors import InputError
from roomwright.commissioning.generic_equipment import GENERIC_MODELS, GENERIC_ROLES
from roomwright.commissioning.lengths import parse_length
from roomwright.layout import main_seat_of, place, rows_of_seats, seat_stations
from roomwright.model import (
    CapabilitySheet,
    Job,
    Loudspeaker,
    Output,
    Point,
    Room,
    SampleRate,
    Seat,
    Subwoofer,
    Surface,
    Sweep,
)
from roomwright.standards.materials import material

#: What the surfaces of a new room are made of, as shares of materials, until the engineer says.
_DEFAULT_SURFACES = {
    "floor": {"carpet on underlay": 1.0},
    "ceiling": {
        "painted plasterboard on studs": 0.6,
        "bass absorber panel": 0.25,
        "mineral-wool 100 mm absorber": 0.15,
    },
    "front": {"mineral-wool 100 mm absorber": 0.4, "bass absorber panel": 0.6},
    "back": {"fabric-wrapped 50 mm absorber": 0.3, "bass absorber panel": 0.7},
    "side": {
        "painted plasterboard on studs": 0.5,
        "fabric-wrapped 50 mm absorber": 0.15,
        "bass absorber panel": 0.35,
    },
}

#: Stations around the main seat beside the one at each seat.
_STATIONS_AROUND_MAIN_SEAT = 4


def box_room(size_m: Point) -> Room:
    """Return a box of width, length and height `size_m` with a usual home cinema's surfaces."""
    width, length, height = size_m
    surfaces = {place: mixture(shares) for place, shares in _DEFAULT_SURFACES.items()}
    return Room(
        outline_m=((0.0, 0.0), (width, 0.0), (width, length), (0.0, length)),
        height_m=height,
        floor=surfaces["floor"],
        ceiling=surfaces["ceiling"],
        walls=(surfaces["front"], surfaces["side"], surfaces["back"], surfaces["side"]),
    )


def new_job(
    name: str,
    *,
    layout: str,
    room: Room,
    rows: int = 2,
    seats_per_row: int = 4,
    seats: tuple[Seat, ...] | None = None,
    sampling_rate_hz: SampleRate = 48000,
    sweep: Sweep | None = None,
) -> Job:
    """Lay out a new job: seats in rows, loudspeakers placed legally, outputs and stations listed.

    Parameters
    ----------
    name
        What the job is called.
    layout
        An ITU-R BS.2051 system (name or letter), a domestic count such as ``7.4.4``, or a list
        of BS.2051 labels separated by commas.
    room
        The room, for instance from `box_room`.
    rows, seats_per_row
        How many seats to set out when `seats` is None.
    seats
        The seats, if they are known.
    sampling_rate_hz
        The rate of everything played, recorded and imported.
    sweep
        The signal to play; by default 5 s from 10 Hz to 22 kHz, ended at 0.458 of the rate.

    Raises
    ------
    InputError
        If the layout is unknown or the seats do not fit the room.
    """
    if seats is None:
        seats = rows_of_seats(room, rows, seats_per_row)
    main_seat = main_seat_of(seats)
    placement = place(room, seats, main_seat, layout, models=GENERIC_ROLES)
    units: tuple[Loudspeaker | Subwoofer, ...] = (*placement.loudspeakers, *placement.subwoofers)
    used = {unit.model for unit in units}
    default_sweep = Sweep(stop_hz=min(22000.0, 0.458 * sampling_rate_hz))
    return Job(
        name=name,
        sampling_rate_hz=sampling_rate_hz,
        room=room,
        seats=seats,
        main_seat=main_seat,
        layout=layout,
        loudspeaker_models=tuple(model for model in GENERIC_MODELS if model.name in used),
        loudspeakers=placement.loudspeakers,
        subwoofers=placement.subwoofers,
        channels=placement.channels,
        processor=CapabilitySheet(outputs=max(16, len(units))),
        outputs=tuple(
            Output(number=number, drives=unit.id) for number, unit in enumerate(units, start=1)
        ),
        sweep=sweep if sweep is not None else default_sweep,
        stations=seat_stations(seats, main_seat, extra_around_main=_STATIONS_AROUND_MAIN_SEAT),
    )


def parse_size(text: str) -> Point:
    """Read ``width x length x height``, such as ``5.2x7.2x2.8`` or ``17' 1" x 23' 7" x 9' 2"``.

    Each is read by `parse_length`; a number without a unit is in metres.

    Raises
    ------
    InputError
        If the text is not three lengths between 1 and 60 m.
    """
    parts = text.lower().replace("×", "x").split("x")
    try:
        width, length, height = (parse_length(part) for part in parts)
    except (InputError, ValueError):
        raise InputError(
            f"the room's size {text!r} is not width x length x height in metres or feet, "
            "such as 5.2x7.2x2.8 or 17' 1\" x 23' 7\" x 9' 2\""
        ) from None
    if not all(1.0 <= side <= 60.0 for side in (width, length, height)):
        raise InputError(f"the room's size {text!r} has a side outside 1 to 60 m")
    return (width, length, height)


def parse_rate(rate_hz: int) -> SampleRate:
    """Return `rate_hz` if a job can work at it.

    Raises
    ------
    InputError
        If it is not one of the supported sampling rates.
    """
    for supported in get_args(SampleRate):
        if rate_hz == supported:
            return cast("SampleRate", supported)
    allowed = ", ".join(str(rate) for rate in get_args(SampleRate))
    raise InputError(f"the sampling rate is {rate_hz} Hz; allowed are {allowed}")


def mixture(shares: dict[str, float]) -> Surface:
    """A surface covered by shares, which add up to 1, of known materials.

    Raises
    ------
    InputError
        If a material is unknown.
    """
    absorption = [
        sum(share * band for share, band in zip(shares.values(), bands, strict=True))
        for bands in zip(*(material(name) for name in shares), strict=True)
    ]
    name = ", ".join(
        name if share == 1.0 else f"{round(100 * share)} % {name}" for name, share in shares.items()
    )
    return Surface.model_validate({"material": name, "absorption": absorption})
