"""What the responses of a job can be judged by: channels, seats, transition."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from roomwright.acoustics import room_reverberation_s, schroeder_frequency_hz
from roomwright.measurement import ResponseSet
from roomwright.model import Job
from roomwright.proof.room_decay import RoomDecay

#: The transition is looked for within this range only (common practice, no source).
TRANSITION_RANGE_HZ = (80.0, 400.0)


@dataclass(frozen=True, slots=True)
class Evidence:
    """The responses of a job's channels, and how to read them.

    `mains` are the rows of the main channels (all but LFE), `seats` the columns that count as
    seats, `seats_are_named` whether their stations name one, `main_seat` the column of the main
    seat or None. `decay` holds the reverberation read from the main channels.
    """

    job: Job
    responses: ResponseSet
    mains: tuple[int, ...]
    seats: tuple[int, ...]
    seats_are_named: bool
    main_seat: int | None
    decay: RoomDecay
    transition_hz: float

    def name(self, row: int) -> str:
        """The channel of a row."""
        return self.responses.sources[row]

    def trusts(self, row: int, column: int, low_hz: float, high_hz: float) -> bool:
        """Whether a pair was measured and its trusted band holds a band."""
        low, high = self.responses.trusted_hz[row, column]
        present = bool(self.responses.present[row, column])
        return present and bool(low <= low_hz and high >= high_hz)

    def seats_note(self) -> str:
        """What to say of which stations were taken for seats."""
        return "" if self.seats_are_named else " No station names its seat, so all stations count."


def gather(job: Job, responses: ResponseSet, decay: RoomDecay) -> Evidence:
    """Find the main channels, the seats and the transition of a set of responses."""
    roles = {channel.id: channel.role for channel in job.channels}
    mains = tuple(
        row for row, source in enumerate(responses.sources) if roles.get(source, "lfe") != "lfe"
    )
    seat_of = {station.id: station.seat for station in job.stations}
    named = tuple(
        column
        for column, station in enumerate(responses.stations)
        if seat_of.get(station) is not None
    )
    main_seat = next((c for c in named if seat_of[responses.stations[c]] == job.main_seat), None)
    return Evidence(
        job=job,
        responses=responses,
        mains=mains,
        seats=named or tuple(range(len(responses.stations))),
        seats_are_named=bool(named),
        main_seat=main_seat,
        decay=decay,
        transition_hz=transition_hz(job, decay.mean_s),
    )


def transition_hz(job: Job, reverberation_s: float | None = None) -> float:
    """Frequency above which the room is statistical: Schroeder's, within 80 to 400 Hz.

    Parameters
    ----------
    job
        Gives the volume and, where nothing was measured, the surfaces.
    reverberation_s
        Measured mean reverberation time; None or NaN takes that of the surfaces at 500 Hz and
        1 kHz by Eyring.
    """
    time_s = reverberation_s
    if time_s is None or not np.isfinite(time_s):
        octaves: NDArray[np.float64] = room_reverberation_s(job.room, np.array([500.0, 1000.0]))
        time_s = float(octaves.mean())
    frequency = float(schroeder_frequency_hz(time_s, job.room.volume_m3))
    return float(np.clip(frequency, *TRANSITION_RANGE_HZ))
