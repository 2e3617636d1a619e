"""Which way a microphone of four capsules faces, and by how much to turn it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Final

import numpy as np
from numpy.typing import NDArray

from roomwright._errors import InputError
from roomwright.acoustics import speed_of_sound_m_s
from roomwright.analysis import Bearing, bearing, capsule_arrivals_s, capsules_m, turn_deg
from roomwright.commissioning.tuning.compose import rehearsal_device
from roomwright.layout.geometry import Direction, direction
from roomwright.measurement import (
    MeasuredResponse,
    Recording,
    divided,
    response_from_take,
    response_of,
)
from roomwright.model import Job, Loudspeaker, Point, Take
from roomwright.signals import excitation
from roomwright.store import read_wav

#: Capsules in a recording: its first four channels; a fifth is the electrical reference.
CAPSULES: Final = 4

#: Arrivals at capsules of one microphone against each other: better than the arrivals at places
#: apart. Common practice, no source.
_TIMING_S: Final = 1e-6

#: Within this a microphone faces ahead: nobody turns a stand more finely. Common practice.
_STRAIGHT_DEG: Final = 3.0

#: What is measured is short: the direct sound alone is looked at.
_RESPONSE_S: Final = 0.2


@dataclass(frozen=True, slots=True)
class Facing:
    """How a microphone sees one loudspeaker.

    Attributes
    ----------
    source, station
        Which loudspeaker, and where the microphone stands.
    seen
        Direction and distance as the microphone sees it.
    planned
        The same by the plan, for one who faces the front wall.
    turn_deg
        By how much to turn the microphone: positive to the left.
    says
        This in a sentence.
    """

    source: str
    station: str
    seen: Bearing
    planned: Direction
    turn_deg: float
    says: str

    @property
    def figure(self) -> str:
        """How many degrees, without a side."""
        return f"{abs(self.turn_deg):.0f}°"

    @property
    def ahead(self) -> bool:
        """Whether it need not be turned."""
        return abs(self.turn_deg) <= _STRAIGHT_DEG

    @property
    def side(self) -> str:
        """To which side; nothing where it faces ahead."""
        if self.ahead:
            return "faces ahead"
        return "to the left" if self.turn_deg > 0 else "to the right"


def facing_of_recording(job: Job, recording: Path, source: str, station: str) -> Facing:
    """How the microphone faces by one recording of the job's sweep.

    Parameters
    ----------
    job
        Its microphone has four capsules; the place of the station is known.
    recording
        WAV file; channels 1 to 4 are the capsules in the order of `analysis.capsules_m`, channel
        5, if any, is the electrical reference.
    source
        The loudspeaker that played, best the centre.
    station
        Where the microphone stood.

    Raises
    ------
    InputError
        If the recording cannot be used, or what is named is not of the job.
    """
    samples, rate = read_wav(recording)
    if rate != job.sampling_rate_hz:
        raise InputError(
            f"{recording} was recorded at {rate} Hz; the job is of {job.sampling_rate_hz} Hz"
        )
    if len(samples) not in {CAPSULES, CAPSULES + 1}:
        raise InputError(
            f"{recording} has {len(samples)} channels; a microphone of four capsules gives 4, or "
            "5 with the electrical reference"
        )
    reference = samples[CAPSULES] if len(samples) > CAPSULES else None
    measured = _measured(job, list(samples[:CAPSULES]), [reference] * CAPSULES, source, station)
    return _facing(job, measured, source, station)


def facing_of_take(job: Job, take: Take, recording: Recording) -> Facing | None:
    """The same by a take of the survey, alone or among others; None if it cannot tell.

    It tells where all four capsules were recorded at a station with a place on the plan.

    Raises
    ------
    InputError
        If the recording cannot be used.
    """
    if recording.capsules is None or take.sweep is None:
        return None
    if job.station(take.station).position_m is None or _unit(job, take.source) is None:
        return None
    heard = []
    for capsule in (recording.microphone, *recording.capsules):
        whole = divided(
            capsule,
            recording.reference,
            take.sweep,
            job.sampling_rate_hz,
            overlapped=take.overlap is not None,
            where=take.file,
        )
        length_s = min(_RESPONSE_S, take.sweep.tail_s)
        heard.append(response_of(whole, take.overlap, length_s=length_s))
    return _facing(job, heard, take.source, take.station)


def rehearse_facing(job: Job, source: str, station: str, turned_deg: float = 0.0) -> Facing:
    """The same in the rehearsal room, the microphone turned to the left by `turned_deg`.

    Raises
    ------
    InputError
        If what is named is not of the job, no output drives the loudspeaker, or the microphone
        does not fit into the room.
    """
    number = next((output.number for output in job.outputs if output.drives == source), None)
    if number is None:
        raise InputError(f"no output drives {source}; choose one that is driven")
    centre = _place(job, station)
    device = rehearsal_device(job)
    signal = excitation(job.sweep, job.sampling_rate_hz)
    heard, references = [], []
    # One capsule after the other: the simulated room does not change meanwhile, and each take's
    # reference removes its own latency.
    for offset in _turned(capsules_m(_radius_m(job)), turned_deg):
        x, y, z = (float(value) for value in np.add(centre, offset))
        device.place_microphone((x, y, z))
        recording = device.play_and_record({number: signal})
        heard.append(recording.microphone)
        references.append(recording.reference)
    return _facing(job, _measured(job, heard, references, source, station), source, station)


def _measured(
    job: Job,
    capsules: Sequence[NDArray[np.float32]],
    references: Sequence[NDArray[np.float32] | None],
    source: str,
    station: str,
) -> list[MeasuredResponse]:
    return [
        response_from_take(
            heard,
            reference,
            job.sweep,
            job.sampling_rate_hz,
            length_s=min(_RESPONSE_S, job.sweep.tail_s),
            where=f"{source} at {station}, capsule {number}",
        )
        for number, (heard, reference) in enumerate(zip(capsules, references, strict=True), start=1)
    ]


def _facing(job: Job, measured: Sequence[MeasuredResponse], source: str, station: str) -> Facing:
    places, centre = capsules_m(_radius_m(job)), _place(job, station)
    unit = _unit(job, source)
    if unit is None:
        raise InputError(f"{source} is no loudspeaker of this job; choose one, best the centre")
    samples = np.array([one.response.samples for one in measured])
    seen = bearing(
        capsule_arrivals_s(samples, job.sampling_rate_hz),
        places,
        speed_m_s=speed_of_sound_m_s(job.room.temperature_c),
        timing_s=_TIMING_S,
        timed=all(one.response.timed for one in measured),
    )
    planned = direction(centre, unit.position_m)
    turn = turn_deg([seen.azimuth_deg], [planned.azimuth_deg])
    return Facing(source, station, seen, planned, turn, _sentence(source, turn))


def _unit(job: Job, source: str) -> Loudspeaker | None:
    return next((unit for unit in job.loudspeakers if unit.id == source), None)


def _sentence(source: str, turn: float) -> str:
    if abs(turn) <= _STRAIGHT_DEG:
        return f"the microphone faces ahead: {source} is seen where the plan has it"
    side = "left" if turn > 0 else "right"
    return (
        f"turn the microphone by {abs(turn):.0f} degrees to the {side}, and measure {source} again"
    )


def _turned(places: NDArray[np.float64], left_deg: float) -> NDArray[np.float64]:
    """Capsules of a microphone turned to the left about the vertical axis."""
    cos, sin = np.cos(np.radians(left_deg)), np.sin(np.radians(left_deg))
    return np.asarray(places @ np.array([[cos, -sin, 0.0], [sin, cos, 0.0], [0.0, 0.0, 1.0]]))


def _radius_m(job: Job) -> float:
    radius_m = job.microphone.capsule_radius_m
    if radius_m is None:
        raise InputError(
            "this job's microphone has one capsule, which hears no direction; one of four "
            "capsules is set by their radius"
        )
    return radius_m


def _place(job: Job, station: str) -> Point:
    place = next((s.position_m for s in job.stations if s.id == station), None)
    if place is None:
        raise InputError(f"{station} is no station of this job with a place on the plan")
    return place
