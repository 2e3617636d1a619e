"""What is played in a survey: recordings of one source, or of several whose sweeps overlap."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from typing import Final

import numpy as np
from numpy.typing import NDArray

from roomwright._errors import InputError
from roomwright.acoustics import room_reverberation_s, speed_of_sound_m_s
from roomwright.analysis import decay_times, onset_index
from roomwright.commissioning.edits.levels import sweep_of
from roomwright.commissioning.survey.responses import RESPONSE_LENGTH_S
from roomwright.commissioning.survey.rigs import Timing
from roomwright.measurement import (
    LOOP_BACK,
    Pass,
    duration_s,
    pass_signals,
    plan_sweeps,
    response_window_s,
    whole_pass,
)
from roomwright.measurement.protection import protected_sweep
from roomwright.model import OCTAVE_BANDS_HZ, Job, Overlap, Sweep
from roomwright.signals import excitation, harmonic_advance_s, pilot_samples, timeline

F32 = NDArray[np.float32]

_OCTAVES_HZ: Final = np.array(OCTAVE_BANDS_HZ, dtype=np.float64)

#: Order of the highest harmonic that distortion is read from.
_HIGHEST_READ: Final = 5

#: Decays differ between sources and places: a measured one counts so many times. Common practice,
#: no source.
_MARGIN: Final = 1.25

#: From an octave's midband frequency to its edges, with a few percent to spare.
_HALF_OCTAVE: Final = 2.0**0.5 * 0.95

#: A microphone that moves is told in the octaves at 500 Hz and 1 kHz at least. What is lower in so
#: short a chirp tells nothing of it, and its skirts would leave the loudspeaker's band.
_SHOWS_MOVES_HZ: Final = (250.0, 2000.0)

#: Where the acoustic reference's flight is not known, time zero is put up to this much early.
_ARRIVAL_S: Final = 0.02


@dataclass(frozen=True, slots=True)
class PlannedTake:
    """One recording of a survey.

    Attributes
    ----------
    sources
        Who plays, in the order of playing.
    sweeps
        As each plays its own; the tails last until the last has died away.
    overlaps
        The place of each in the recording; None for one that plays alone.
    chirps_from
        Who plays the pilots as the acoustic reference; None if nobody but the sources does.
    ready
        Signals by output that are played instead of the sweep, if they are given.
    """

    sources: tuple[str, ...]
    sweeps: tuple[Sweep, ...]
    overlaps: tuple[Overlap | None, ...] = (None,)
    chirps_from: str | None = None
    ready: Mapping[int, F32] = field(default_factory=dict)

    @property
    def sweep(self) -> Sweep:
        """What the first source plays; its timeline is the recording's."""
        return self.sweeps[0]

    @property
    def duration_s(self) -> float:
        """Seconds that it plays."""
        return duration_s(self.sweep)

    def softer(self, by_db: float) -> PlannedTake:
        """The same played softer, or as it is where that is not positive."""
        if by_db <= 0:
            return self
        sweeps = (s.model_copy(update={"level_dbfs": s.level_dbfs - by_db}) for s in self.sweeps)
        return replace(self, sweeps=tuple(sweeps))

    def signals(self, job: Job) -> Mapping[int, F32]:
        """What each output plays, and the loop-back.

        The pilots go to the loop-back and to the acoustic reference; without the latter, to a
        source itself, within its band if there is a loop-back.
        """
        if self.ready:
            return self.ready
        rate, sweep = job.sampling_rate_hz, self.sweep
        numbers = {output.drives: output.number for output in job.outputs}
        outputs = [numbers[source] for source in self.sources]
        whole = excitation(sweep, rate)
        alone, places = np.zeros_like(whole), timeline(sweep, rate)
        alone[places.sweep_start : places.sweep_stop] = whole[
            places.sweep_start : places.sweep_stop
        ]
        signals: dict[int, F32] = {LOOP_BACK: whole}
        if self.overlaps[0] is None:
            signals[outputs[0]] = alone
        else:
            # No loudspeaker is on the cable: it carries all of which they play their parts.
            signals[LOOP_BACK] = excitation(whole_pass(sweep, self.overlaps[0]), rate)
            overlaps = tuple(overlap for overlap in self.overlaps if overlap is not None)
            signals |= pass_signals(Pass(self.sweeps, overlaps), outputs, rate)
            signals[outputs[0]] = alone
        if self.chirps_from is not None:
            reference = numbers[self.chirps_from]
            signals[reference] = signals.get(reference, np.zeros_like(whole)) + (whole - alone)
        elif sweep.pilot_band_hz is None:
            signals[outputs[0]] = whole
        else:
            number, pilots = self._own_pilots(outputs, rate)
            signals[number] = signals[number] + pilots
        return signals

    def _own_pilots(self, outputs: list[int], rate: int) -> tuple[int, F32]:
        """The loop-back's pilots as a source plays them too, within its band; and on which output.

        They show a microphone that moves, where a source plays that high.
        """
        own = max(range(len(self.sweeps)), key=lambda k: self.sweeps[k].stop_hz)
        places = timeline(self.sweep, rate)
        played = np.zeros(places.total, dtype=np.float32)
        start_hz, stop_hz = self.sweeps[own].start_hz, self.sweeps[own].stop_hz
        if stop_hz >= _SHOWS_MOVES_HZ[1]:
            band = {"pilot_band_hz": (max(start_hz, _SHOWS_MOVES_HZ[0]), stop_hz)}
            pilot = pilot_samples(self.sweeps[own].model_copy(update=band), rate)
            for start in (places.pilot_1, places.pilot_2):
                played[start : start + pilot.size] = pilot
        return outputs[own], played


def own_take(job: Job, source: str) -> PlannedTake:
    """A source alone with its own sweep, timed by a loop-back as in the rehearsal room."""
    return PlannedTake((source,), (own_sweep(job, source, wanted_dbfs(job, source), "loop-back"),))


def band_hz(job: Job, source: str) -> tuple[float, float]:
    """The declared band of what an output drives."""
    model = job.model_of(job.unit(source))
    return model.low_hz, model.high_hz


def wanted_dbfs(job: Job, source: str) -> float:
    """Peak level of a source's sweep: the survey's at the output's own level, under the ceiling."""
    highest = max(job.interface.ceiling_dbfs, job.sweep.level_dbfs)
    return min(sweep_of(job, source).level_dbfs, highest)


def own_sweep(job: Job, source: str, level_dbfs: float, timing: Timing) -> Sweep:
    """The sweep for a source: the survey's within the declared band, with the pilots' band.

    Pilots for a loop-back cover the whole band, since no loudspeaker plays them; those of an
    acoustic reference that loudspeaker's.

    Raises
    ------
    InputError
        If the declared band and the survey's sweep have no octave in common.
    """
    sweep = protected_sweep(sweep_of(job, source), band_hz(job, source), level_dbfs)
    pilot_band: tuple[float, float] | None = None
    if timing == "loop-back":
        pilot_band = job.sweep.start_hz, job.sweep.stop_hz
    elif timing == "acoustic":
        low, high = band_hz(job, reference_source(job))
        pilot_band = max(low, job.sweep.start_hz), min(high, job.sweep.stop_hz)
    alone = sweep.model_copy(update={"pilot_band_hz": pilot_band})
    return _roomy((alone,), job.sampling_rate_hz)[0]


def reference_source(job: Job) -> str:
    """What the output of the acoustic reference drives.

    Raises
    ------
    InputError
        If there is none.
    """
    number = job.interface.reference_output
    for output in job.outputs:
        if output.number == number:
            return output.drives
    raise InputError(f"output {number} drives nothing; it cannot be the acoustic reference")


def planned_takes(
    job: Job,
    levels_dbfs: Mapping[str, float],
    timing: Timing,
    windows_s: Mapping[str, float],
) -> tuple[PlannedTake, ...]:
    """Recordings of sources: one of all where that can be, else one of each.

    Parameters
    ----------
    job
        Its sweep, outputs and equipment.
    levels_dbfs
        Who plays, and the peak level of its sweep.
    timing
        What tells when a signal left the outputs; without it no sweeps overlap.
    windows_s
        How long the response of each lasts.

    Raises
    ------
    InputError
        If a declared band and the survey's sweep have no octave in common.
    """
    sweeps = {
        source: own_sweep(job, source, level_dbfs, timing)
        for source, level_dbfs in levels_dbfs.items()
    }
    chirps_from = reference_source(job) if timing == "acoustic" else None
    singles = {
        source: PlannedTake((source,), (sweep,), chirps_from=chirps_from)
        for source, sweep in sweeps.items()
    }
    if timing == "none":
        return tuple(singles.values())
    rate, planned = job.sampling_rate_hz, []
    for group in _at_one_rate(sweeps, windows_s, rate):
        alone = [singles.pop(source) for source in group]
        overlapped = plan_sweeps(
            [sweeps[source] for source in group], [windows_s[source] for source in group], rate
        )
        together = PlannedTake(
            group, _roomy(overlapped.sweeps, rate), overlapped.overlaps, chirps_from
        )
        is_shorter = together.duration_s < sum(take.duration_s for take in alone)
        planned += [together] if is_shorter else alone
    return (*planned, *singles.values())


def _at_one_rate(
    sweeps: Mapping[str, Sweep], windows_s: Mapping[str, float], sampling_rate_hz: int
) -> list[tuple[str, ...]]:
    """Sources whose sweeps can share a recording, two or more, in the order of their starts.

    Left out are those of a sweep so short for the room that their harmonics would run into their
    own responses.
    """
    groups: dict[float, list[str]] = {}
    for source, sweep in sweeps.items():
        try:
            plan_sweeps((sweep,), (windows_s[source],), sampling_rate_hz)
        except InputError:
            continue
        groups.setdefault(round(harmonic_advance_s(sweep, 2), 9), []).append(source)
    return [
        tuple(sorted(group, key=lambda source: (sweeps[source].start_hz, sweeps[source].stop_hz)))
        for group in groups.values()
        if len(group) > 1
    ]


@dataclass(frozen=True, slots=True)
class HeardRoom:
    """What the first take of a band told of how long responses last there.

    `decay_s` are reverberation times by octave, NaN where noise hides them; `late_s` is how much
    later than sound needs for the way the response arrived: the processor's latency.
    """

    decay_s: tuple[float, ...]
    late_s: float


def heard_room(
    job: Job, source: str, station: str, response: NDArray[np.floating], *, timed: bool
) -> HeardRoom:
    """Read a room's decay from a response, shape (n,)."""
    rate = job.sampling_rate_hz
    low, high = band_hz(job, source)
    # An octave that the band cuts shows the decay of the cut: read are those that lie within it.
    inside = _octaves_in((low * _HALF_OCTAVE, high / _HALF_OCTAVE))
    decay = np.full(_OCTAVES_HZ.size, np.nan)
    if inside.any():
        decay[inside] = decay_times(response, rate, _OCTAVES_HZ[inside], 1).t20_s
    place = job.station(station).position_m
    late_s = 0.0
    if timed and place is not None:
        flight_s = math.dist(place, job.unit(source).position_m) / _speed_m_s(job)
        late_s = max(float(onset_index(response)) / rate - flight_s, 0.0)
    return HeardRoom(tuple(float(one) for one in decay), late_s)


def window_s(job: Job, source: str, heard: HeardRoom | None = None) -> float:
    """How long a response of a source lasts at any station of the job.

    The decay is what the first take of its band showed, or the room's surfaces where it shows
    nothing.

    Raises
    ------
    InputError
        If the room's surfaces absorb nothing.
    """
    decay = room_reverberation_s(job.room, _OCTAVES_HZ)
    if heard is not None:
        measured = np.array(heard.decay_s)
        decay = np.where(np.isfinite(measured), _MARGIN * measured, decay)
    inside = _octaves_in(band_hz(job, source))
    slowest = float(decay[inside].max() if inside.any() else decay.max())
    late_s = _ARRIVAL_S if heard is None else heard.late_s + _ARRIVAL_S
    return late_s + response_window_s(slowest, _farthest_m(job, source), _speed_m_s(job))


def _farthest_m(job: Job, source: str) -> float:
    """Longest distance of a source from a station; the room's diagonal if one has no place."""
    places = [station.position_m for station in job.stations]
    if any(place is None for place in places):
        corners = [(x, y) for x, y in job.room.outline_m]
        return max(math.dist(one, other) for one in corners for other in corners)
    unit = job.unit(source).position_m
    known = [place for place in places if place is not None]
    return max((math.dist(unit, place) for place in known), default=0.0)


def _octaves_in(band: tuple[float, float]) -> NDArray[np.bool_]:
    """Octaves whose midband lies within a band."""
    low, high = band
    return np.logical_and(_OCTAVES_HZ >= low, _OCTAVES_HZ <= high)  # noqa: SIM300


def _speed_m_s(job: Job) -> float:
    return float(speed_of_sound_m_s(job.room.temperature_c))


def _roomy(sweeps: tuple[Sweep, ...], rate: int) -> tuple[Sweep, ...]:
    """Sweeps with tails in which a whole response and the harmonics before it find room.

    The tails of sweeps in one recording grow by the same, so that it ends with all of them.
    """
    more_s = 0.0
    for sweep in sweeps:
        advance_s = harmonic_advance_s(sweep, _HIGHEST_READ)
        # A few samples more than the arithmetic asks for: all lengths are rounded.
        needed_s = RESPONSE_LENGTH_S + advance_s - sweep.duration_s + 0.01
        more_s = max(more_s, RESPONSE_LENGTH_S - sweep.tail_s, needed_s - sweep.tail_s)
    more_s = math.ceil(more_s * rate) / rate
    return tuple(sweep.model_copy(update={"tail_s": sweep.tail_s + more_s}) for sweep in sweeps)
