"""What is wrong with a job as a whole: references between its parts, and places."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator

from shapely import Point as FlatPoint

from roomwright.model._base import Point
from roomwright.model.job import SCHEMA_VERSION, Job
from roomwright.model.room import Room

#: A position this close to the boundary counts as inside: drawings are rounded.
_TOLERANCE_M = 0.005


def problems(job: Job) -> tuple[str, ...]:
    """Return every problem of a job, one sentence each; empty if there is none."""
    return tuple(sentence for check in _CHECKS for sentence in check(job))


def _version(job: Job) -> Iterator[str]:
    if job.schema_version != SCHEMA_VERSION:
        yield (
            f"the document has version {job.schema_version}; "
            f"this program reads version {SCHEMA_VERSION}"
        )


def _room(job: Job) -> Iterator[str]:
    corners, walls = len(job.room.outline_m), len(job.room.walls)
    if corners != walls:
        yield f"the room has {corners} corners but {walls} walls; each edge needs one wall"


def _names(job: Job) -> Iterator[str]:
    for kind, names in (
        ("seat", [seat.id for seat in job.seats]),
        ("loudspeaker model", [model.name for model in job.loudspeaker_models]),
        ("loudspeaker or subwoofer", [unit.id for unit in job.units]),
        ("channel", [channel.id for channel in job.channels]),
        ("output", [str(output.number) for output in job.outputs]),
        ("station", [station.id for station in job.stations]),
        ("listening mode", [mode.name for mode in job.modes]),
    ):
        for name, count in Counter(names).items():
            if count > 1:
                yield f"{kind} {name} is listed {count} times; each needs a name of its own"


def _seating(job: Job) -> Iterator[str]:
    seats = {seat.id for seat in job.seats}
    if job.main_seat not in seats:
        yield f"the main seat {job.main_seat} is not one of the seats ({_listing(seats)})"
    for station in job.stations:
        if station.seat is not None and station.seat not in seats:
            yield f"station {station.id} stands for seat {station.seat}, which is not a seat"


def _equipment(job: Job) -> Iterator[str]:
    models = {model.name for model in job.loudspeaker_models}
    for unit in job.units:
        if unit.model not in models:
            yield f"{unit.id} is of the model {unit.model!r}, which is not described"
    loudspeakers = {loudspeaker.id for loudspeaker in job.loudspeakers}
    for channel in job.channels:
        for name in channel.loudspeakers:
            if name not in loudspeakers:
                yield f"channel {channel.id} plays through {name}, which is not a loudspeaker"
        if not channel.loudspeakers and channel.role != "lfe":
            yield f"channel {channel.id} has no loudspeaker"


def _outputs(job: Job) -> Iterator[str]:
    units = {unit.id for unit in job.units}
    for output in job.outputs:
        if output.drives not in units:
            yield f"output {output.number} drives {output.drives}, which is not in the room"
        if output.number > job.processor.outputs:
            yield (
                f"output {output.number} does not exist: {job.processor.name} has "
                f"{job.processor.outputs} outputs"
            )
    for name, count in Counter(output.drives for output in job.outputs).items():
        if count > 1:
            yield f"{name} is driven by {count} outputs; it can be driven by one"
    numbers = {output.number for output in job.outputs}
    for fault in job.rehearsal.faults:
        for number in (fault.output, fault.other):
            if number is not None and number not in numbers | {0}:
                yield f"a {fault.kind} fault is planted in output {number}, which drives nothing"


def _takes(job: Job) -> Iterator[str]:
    units = {unit.id for unit in job.units}
    sources = {"survey": units, "proof": {channel.id for channel in job.channels}}
    stations = {station.id for station in job.stations}
    for take in job.takes:
        if take.source not in sources[take.stage] | {"background"}:
            yield f"take {take.file} is of {take.source}, which the job does not have"
        if take.chirps_from not in units | {None}:
            yield f"take {take.file} has chirps of {take.chirps_from}, which the job does not have"
        if take.station not in stations:
            yield f"take {take.file} was made at {take.station}, which is not a station"


def _tuning(job: Job) -> Iterator[str]:
    units = {unit.id for unit in job.units}
    for tuned in job.tuning.outputs if job.tuning is not None else ():
        if tuned.drives not in units:
            yield f"the tuning is for {tuned.drives}, which is not in the room"


def _by_hand(job: Job) -> Iterator[str]:
    units = {unit.id for unit in job.units}
    for hand in job.by_hand:
        if hand.drives not in units:
            yield f"settings by hand are for {hand.drives}, which is not in the room"
    for name, count in Counter(hand.drives for hand in job.by_hand).items():
        if count > 1:
            yield f"{name} has {count} entries of settings by hand; one is allowed"
    for biquad in (b for hand in job.by_hand for b in hand.biquads):
        if biquad.frequency_hz >= job.sampling_rate_hz / 2:
            yield (
                f"a filter by hand stands at {biquad.frequency_hz:g} Hz; it must stand below "
                f"{job.sampling_rate_hz / 2:g} Hz"
            )


def _bass(job: Job) -> Iterator[str]:
    subwoofers = {subwoofer.id for subwoofer in job.subwoofers}
    for name in (*job.bass.launching, *job.bass.absorbing):
        if name not in subwoofers:
            yield f"{name} is marked for the bass array, but is not a subwoofer"
    stations = {station.id: station for station in job.stations}
    for name in job.bass.held_back:
        if name not in stations:
            yield f"station {name} is held back from the bass, but is not a station"
        elif stations[name].seat == job.main_seat:
            yield f"station {name} is the main seat's; it cannot be held back from the bass"


def _own_targets(job: Job) -> Iterator[str]:
    channels = {channel.id for channel in job.channels}
    for name, count in Counter(c for own in job.own_targets for c in own.channels).items():
        if name not in channels:
            yield f"a target of its own is given to {name}, which is not a channel"
        if count > 1:
            yield f"channel {name} has {count} targets of its own; one is allowed"


def _own_crossovers(job: Job) -> Iterator[str]:
    mains = {channel.id for channel in job.channels if channel.role != "lfe"}
    for name, count in Counter(c for own in job.own_crossovers for c in own.channels).items():
        if name not in mains:
            yield f"a crossover of its own is given to {name}, which is not a main channel"
        if count > 1:
            yield f"channel {name} has {count} crossovers of its own; one is allowed"


def _places(job: Job) -> Iterator[str]:
    places: list[tuple[str, Point]] = [(f"seat {s.id}", s.position_m) for s in job.seats]
    places += [(f"loudspeaker {s.id}", s.position_m) for s in job.loudspeakers]
    places += [(f"subwoofer {s.id}", s.position_m) for s in job.subwoofers]
    places += [(f"station {s.id}", s.position_m) for s in job.stations if s.position_m is not None]
    for name, position in places:
        outside_m = _distance_outside_m(job.room, position)
        if outside_m > _TOLERANCE_M:
            yield f"{name} stands {max(outside_m, 0.01):.2g} m outside the room"


def _sweep(job: Job) -> Iterator[str]:
    if job.sweep.stop_hz >= job.sampling_rate_hz / 2:
        yield (
            f"the sweep stops at {job.sweep.stop_hz:g} Hz; at {job.sampling_rate_hz} Hz sampling "
            f"rate it must stop below {job.sampling_rate_hz / 2:g} Hz"
        )


def _distance_outside_m(room: Room, position: Point) -> float:
    x, y, z = position
    across = float(room.polygon.distance(FlatPoint(x, y)))
    up = max(-z, z - room.height_m, 0.0)
    return float((across**2 + up**2) ** 0.5)


def _listing(names: Iterable[str]) -> str:
    return ", ".join(sorted(names))


_CHECKS = (
    _version,
    _room,
    _names,
    _seating,
    _equipment,
    _outputs,
    _takes,
    _tuning,
    _by_hand,
    _bass,
    _own_targets,
    _own_crossovers,
    _places,
    _sweep,
)
