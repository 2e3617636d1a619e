"""What recordings were made of, and which of it has changed since."""

from __future__ import annotations

from collections.abc import Iterable
from functools import cache

from roomwright.model import Circumstances, Job, Take, digest


def circumstances(job: Job, take: Take) -> Circumstances:
    """What a take is of: the room, what plays and where it stands, where the microphone stands.

    The room counts by its outline, height and surfaces, not by its air or its noise.
    """
    return Circumstances(
        room=_room(job),
        source=_source(job, take.source, take.stage),
        station=digest(job.station(take.station)),
    )


def changed_since(job: Job, takes: Iterable[Take]) -> tuple[str, ...]:
    """Names of what has changed since the takes were made: the room, sources, stations.

    Takes whose circumstances were not written down count as made of what is there now.
    """
    room = _room(job)
    source = cache(lambda name, stage: _source(job, name, stage))
    station = cache(lambda name: digest(job.station(name)))
    found: dict[str, None] = {}
    for take in takes:
        made = take.made_with
        if made is None:
            continue
        for name, was, now in (
            ("the room", made.room, room),
            (take.source, made.source, source(take.source, take.stage)),
            (f"station {take.station}", made.station, station(take.station)),
        ):
            if was != now:
                found[name] = None
    return tuple(found)


def _room(job: Job) -> str:
    shell = job.room.model_copy(
        update={"temperature_c": 0.0, "humidity_percent": 0.0, "noise_criterion": 0.0}
    )
    return digest(shell)


def _source(job: Job, source: str, stage: str) -> str:
    """Of a unit in the survey; of a channel's loudspeakers and all subwoofers in the proof."""
    if stage == "survey":
        return digest(tuple(unit for unit in job.units if unit.id == source))
    channel = next((one for one in job.channels if one.id == source), None)
    if channel is None:
        return digest()
    played = tuple(unit for unit in job.loudspeakers if unit.id in channel.loudspeakers)
    return digest(played, job.subwoofers)
