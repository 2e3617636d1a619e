"""Finding what a playback's sweeps became in a recording that anything may have made."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np
import scipy
from numpy.typing import NDArray

from roomwright.devices.playback import Playback, pause, step
from roomwright.measurement.chirps import chirp_pulses, local_rms
from roomwright.signals import rms, timeline

F32 = NDArray[np.float32]
F = NDArray[np.float64]

#: A pulse counts as a chirp where it exceeds the rms around it by this factor.
_CLEAR = 8.0

#: Regularisation of the division by the chirp: where one full-range loudspeaker plays them all,
#: and where subwoofers play their own.
_SHARP, _MATCHED = 1e-3, 10.0

#: Peaks of one pulse: reflections that come within this are its own.
_OF_ONE_S = 0.04

#: A sweep has chirps of at least this strength re the strongest sweep: 34 dB leave room for a
#: subwoofer that answers to a small part of its own chirps.
_LEAST = 0.02

#: How far apart two pilots may be found from where they were played: 500 ppm and a reflection.
_LARGEST_PPM, _SLACK_S = 500.0, 0.003

#: A sweep is heard where it raises the level over that of the pause before it, factor of rms.
_HEARD = 1.4

#: What is kept before the first pilot of a sweep, beyond the sweep's own lead: so much that its
#: arrival is known to say nothing unless a reference does (see `measurement.align`).
_HEAD_S = 0.4


@dataclass(frozen=True, slots=True, eq=False)
class FoundSweep:
    """One output's sweep in a recording.

    Attributes
    ----------
    output
        Its number, from 1.
    at_s
        When its first pilot arrives in the recording.
    samples
        Its take, (inputs, n): a lead, the pilots and the sweep, at the playback's rate.
    fault
        Why it cannot be used, empty if it can.
    """

    output: int
    at_s: float
    samples: F32
    fault: str = ""


def find_sweeps(
    samples: NDArray[np.floating], playback: Playback, *, reference: bool = False
) -> tuple[FoundSweep, ...]:
    """Find the sweeps of a playback in a recording, by their chirps, in order of time.

    Parameters
    ----------
    samples
        Shape (inputs, n) at the playback's rate, the microphone first.
    playback
        What was played, as often and in whatever order.
    reference
        Whether input 1 is the loop-back, whose chirps are then looked for instead.

    Returns
    -------
    Each with what makes it unusable: cut off, or not heard between its chirps.
    """
    rate, sweep = playback.sampling_rate_hz, playback.sweep
    heard = np.asarray(samples[1 if reference else 0], dtype=np.float64)
    division = _SHARP if playback.chirps_on is not None else _MATCHED
    chirps = _Chirps.of(chirp_pulses(heard, sweep, rate, regularisation=division), rate)
    candidates = sorted(_candidates(chirps, playback, heard.size), key=lambda c: -c.strength)
    chosen: list[_Candidate] = []
    for candidate in candidates:
        # Reflections and tails look like weaker sweeps where a stronger one is.
        if all(candidate.stop <= one.call or candidate.call >= one.stop for one in chosen):
            chosen.append(candidate)
    least = _LEAST * max((candidate.strength for candidate in chosen), default=0.0)
    return tuple(
        _found(samples, candidate, playback)
        for candidate in sorted(chosen, key=lambda c: c.call)
        if candidate.strength >= least
    )


def runs(found: Sequence[FoundSweep], playback: Playback) -> tuple[tuple[FoundSweep, ...], ...]:
    """The sweeps of one recording by the run of the playback that they come from, in order.

    Where one output plays all chirps the playback runs without a break, so sweeps of one run lie
    as they were played. Where they are played one by one, a run ends when an output comes again.
    """
    rate = playback.sampling_rate_hz
    begins = {passage.output: passage.pilot / rate for passage in playback.passages}
    gathered: list[list[FoundSweep]] = []
    for sweep in found:
        if gathered and _goes_on(gathered[-1], sweep, begins, playback.chirps_on):
            gathered[-1].append(sweep)
        else:
            gathered.append([sweep])
    return tuple(tuple(run) for run in gathered)


def _goes_on(
    run: list[FoundSweep], sweep: FoundSweep, begins: dict[int, float], chirps_on: int | None
) -> bool:
    if chirps_on is None:
        return all(earlier.output != sweep.output for earlier in run)
    played_s = begins[sweep.output] - begins[run[0].output]
    recorded_s = sweep.at_s - run[0].at_s
    return abs(recorded_s - played_s) < _SLACK_S + abs(played_s) * _LARGEST_PPM * 1e-6


@dataclass(frozen=True, slots=True, eq=False)
class _Chirps:
    """Places of what may be chirps, in order, and how strong each is."""

    places: NDArray[np.int64]
    strengths: F

    @classmethod
    def of(cls, pulses: F, rate: int) -> _Chirps:
        """The pulses that stand out, one for each."""
        magnitude = np.abs(pulses)
        places, _ = scipy.signal.find_peaks(
            magnitude, height=_CLEAR * local_rms(pulses, rate), distance=round(_OF_ONE_S * rate)
        )
        return cls(np.asarray(places, dtype=np.int64), magnitude[places])

    def near(self, at: float, slack: float) -> float:
        """Strength of the strongest within `slack` samples of a place; 0 if there is none."""
        low, high = np.searchsorted(self.places, (at - slack, at + slack))
        return float(np.max(self.strengths[low:high], initial=0.0))


@dataclass(frozen=True, slots=True)
class _Candidate:
    """What may be a sweep: the weakest of its chirps says how likely."""

    output: int
    call: int
    pilot: int
    stop: int
    strength: float
    whole: bool


def _candidates(chirps: _Chirps, playback: Playback, size: int) -> Iterator[_Candidate]:
    """Every place where chirps lie as those of an output's sweep do, or did until the end."""
    rate, sweep = playback.sampling_rate_hz, playback.sweep
    places = timeline(sweep, rate)
    apart = places.pilot_2 - places.pilot_1
    slack = apart * _LARGEST_PPM * 1e-6 + _SLACK_S * rate
    for pilot, strength in zip(chirps.places.tolist(), chirps.strengths, strict=True):
        again = chirps.near(pilot + apart, slack)
        ends = pilot + apart + round(sweep.pilot_s * rate) > size
        if not again and not ends:
            continue
        for output in playback.outputs:
            call = pilot - pause(output, sweep, rate)
            called = chirps.near(call, step(rate) / 4)
            if called:
                weakest = float(min(strength, called, again or strength))
                yield _Candidate(output, call, pilot, pilot + apart, weakest, again > 0)


def _found(samples: NDArray[np.floating], candidate: _Candidate, playback: Playback) -> FoundSweep:
    """A candidate with its piece of the recording, and what makes it unusable."""
    rate = playback.sampling_rate_hz
    places, pilot = timeline(playback.sweep, rate), candidate.pilot
    start = max(pilot - places.pilot_1 - round(_HEAD_S * rate), 0)
    stop = pilot + places.total - places.pilot_1 + round(_SLACK_S * rate)
    piece = np.ascontiguousarray(samples[:, start:stop], dtype=np.float32)
    fault = ""
    if not candidate.whole:
        fault = "is cut off: the recording ends before its second chirp"
    elif not _is_heard(samples[0], pilot, playback):
        fault = "is not heard between its chirps; is the output connected?"
    return FoundSweep(candidate.output, pilot / rate, piece, fault)


def _is_heard(microphone: NDArray[np.floating], pilot: int, playback: Playback) -> bool:
    """Whether the microphone's level rises while the sweep is played."""
    rate = playback.sampling_rate_hz
    places = timeline(playback.sweep, rate)
    begun = pilot + places.sweep_start - places.pilot_1
    quiet = np.asarray(microphone[begun - round(playback.sweep.gap_s * rate / 3) : begun])
    # The loudest tenth: a subwoofer answers to a small part of a sweep.
    part = max((places.sweep_stop - places.sweep_start) // 10, 1)
    levels = [
        float(rms(microphone[start : start + part]))
        for start in range(begun, begun + 10 * part, part)
        if start + part <= microphone.size
    ]
    return quiet.size == 0 or max(levels, default=0.0) > _HEARD * float(rms(quiet))
