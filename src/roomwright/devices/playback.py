"""The programme that a media player plays: every output's sweep, called out by chirps."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from roomwright._errors import InputError
from roomwright.measurement import LOOP_BACK, take_signals
from roomwright.model import Sweep
from roomwright.signals import pilot_samples, timeline

F32 = NDArray[np.float32]

#: The pause between the beginnings of the calling chirp and of the first pilot tells the output:
#: so long for output 1, and a step more for each further one. A step is many times what
#: reflections and 500 ppm of clock error move a chirp by.
_PAUSE_S, _STEP_S = 0.4, 0.05

#: Silence after the second pilot of a sweep, beyond the sweep's own gap.
_REST_S = 0.3


@dataclass(frozen=True, slots=True)
class Passage:
    """One output's sweep in a programme; indices are of samples from its beginning.

    Attributes
    ----------
    output
        Its number, from 1.
    call, pilot, stop
        Where the calling chirp and the first pilot begin, and where the next passage does.
    """

    output: int
    call: int
    pilot: int
    stop: int


@dataclass(frozen=True, slots=True)
class Playback:
    """A programme: what to play once at every station.

    Attributes
    ----------
    sweep, sampling_rate_hz
        Of every passage.
    outputs
        In the order in which they are swept.
    chirps_on
        The output that plays all chirps as the acoustic reference; None if each plays its own,
        as it must where the passages are played one by one.
    """

    sweep: Sweep
    sampling_rate_hz: int
    outputs: tuple[int, ...]
    chirps_on: int | None = None

    def __post_init__(self) -> None:
        """Check the outputs."""
        if not self.outputs or len(set(self.outputs)) != len(self.outputs):
            raise InputError("a playback needs at least one output, and each of them once")
        if min(self.outputs) < 1:
            raise InputError("outputs are numbered from 1")

    @property
    def passages(self) -> tuple[Passage, ...]:
        """Where every output's sweep lies."""
        places = timeline(self.sweep, self.sampling_rate_hz)
        found, call = [], round(self.sweep.lead_s * self.sampling_rate_hz)
        for output in self.outputs:
            pilot = call + pause(output, self.sweep, self.sampling_rate_hz)
            stop = pilot + places.total - places.pilot_1 + round(_REST_S * self.sampling_rate_hz)
            found.append(Passage(output, call, pilot, stop))
            call = stop
        return tuple(found)

    @property
    def duration_s(self) -> float:
        """How long it plays."""
        return self.passages[-1].stop / self.sampling_rate_hz


def pause(output: int, sweep: Sweep, sampling_rate_hz: float) -> int:
    """Samples between the calling chirp and the first pilot of an output, begin to begin."""
    seconds = sweep.pilot_s + _PAUSE_S + _STEP_S * (output - 1)
    return round(seconds * sampling_rate_hz)


def step(sampling_rate_hz: float) -> float:
    """By how many samples the pauses of neighbouring outputs differ."""
    return _STEP_S * sampling_rate_hz


def passage_signals(playback: Playback) -> Iterator[dict[int, F32]]:
    """The signals of one passage after another, by output; under `LOOP_BACK` the whole.

    Joined they are the programme: the first begins with its silence, each ends at its `stop`.
    """
    rate, sweep = playback.sampling_rate_hz, playback.sweep
    chirp = pilot_samples(sweep, rate)
    first_pilot = timeline(sweep, rate).pilot_1
    begun = 0
    for passage in playback.passages:
        parts = take_signals(sweep, rate, passage.output, chirps_on=playback.chirps_on)
        caller = passage.output if playback.chirps_on is None else playback.chirps_on
        signals = {}
        for output, part in parts.items():
            samples = np.zeros(passage.stop - begun, dtype=np.float32)
            # The take's own silence before its first pilot overlaps the pause.
            at = passage.pilot - begun
            samples[at : at + part.size - first_pilot] = part[first_pilot:]
            if output in (caller, LOOP_BACK):
                call = passage.call - begun
                samples[call : call + chirp.size] = chirp
            signals[output] = samples
        begun = passage.stop
        yield signals
