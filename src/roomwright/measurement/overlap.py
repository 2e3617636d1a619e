"""Sweeps of several sources in one pass: when each may start without disturbing the others.

Multiple exponential sweep method (Majdak, Balazs & Laback, J. Audio Eng. Soc. 55(7/8), 2007). All
sources play the same sweep, each a little later than the one before. Divided by that sweep, the
recording of the pass shows the response of each source at its offset, and the responses to its
harmonics before that, L ln N each. The offsets are chosen so that no response is met by anything
else: harmonics fall into the gaps between responses (interleaving) or before them (overlapping).
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from math import ceil
from typing import Final

import numpy as np
from numpy.typing import NDArray

from roomwright import _checks
from roomwright._errors import InputError
from roomwright.model import Overlap, Sweep
from roomwright.signals import excitation, harmonic_advance_s, sweep_samples, timeline

#: Harmonics up to this order are kept off the responses; higher ones of a loudspeaker at a level
#: that it stands lie below the noise. Common practice, no source.
HIGHEST_ORDER: Final = 6

#: A decay by this much is a whole response, and the least that a harmonic lies below it: so much
#: less must a harmonic decay. The first is that of a reverberation time; the second is common
#: practice, no source.
_DECAY_DB, _HARMONIC_DB = 60.0, 25.0


@dataclass(frozen=True, slots=True)
class Pass:
    """Sweeps of several sources in one recording.

    Attributes
    ----------
    sweep
        As one source plays it, with a tail that lasts until the last source has died away:
        its `timeline` is that of the whole pass.
    overlaps
        When each source starts, and what of its response stands alone; in the order of playing.
    """

    sweep: Sweep
    overlaps: tuple[Overlap, ...]

    @property
    def duration_s(self) -> float:
        """Seconds from the start of the signals to their end."""
        return duration_s(self.sweep)


def duration_s(sweep: Sweep) -> float:
    """Seconds that the whole signal of a sweep lasts, pilots and silences included."""
    silences = sweep.lead_s + 2 * sweep.gap_s + sweep.tail_s
    return silences + 2 * sweep.pilot_s + sweep.duration_s


def response_window_s(reverberation_s: float, farthest_m: float, speed_m_s: float = 343.0) -> float:
    """How long a response lasts: the flight from the farthest source, and a decay by 60 dB.

    Parameters
    ----------
    reverberation_s
        The longest reverberation time of the bands that are played, seconds.
    farthest_m
        Distance of the farthest source from the microphone.
    speed_m_s
        Of sound.

    Raises
    ------
    InputError
        If the reverberation time is not positive or the distance negative.
    """
    decay_s = _checks.positive(reverberation_s, "the reverberation time")
    if not 0 <= farthest_m < np.inf:
        raise InputError(f"the farthest source is {farthest_m:g} m away; it must be 0 m or more")
    return decay_s + farthest_m / speed_m_s


def plan_pass(
    sweep: Sweep,
    count: int,
    sampling_rate_hz: int,
    *,
    window_s: float,
    highest_order: int = HIGHEST_ORDER,
) -> Pass:
    """The earliest starts of `count` equal sweeps whose responses stay apart.

    Each source starts as early as those before it allow, which yields the interleaving of the
    paper where the sweep is long against the response, and its overlapping where it is short.

    Parameters
    ----------
    sweep
        What each source plays; its tail is replaced.
    count
        How many sources, 1 or more.
    sampling_rate_hz
        Hertz; the offsets are whole samples.
    window_s
        How long a response lasts, see `response_window_s`.
    highest_order
        Harmonics up to this one are kept off the responses.

    Returns
    -------
    Pass
        `overlaps` has one entry for each source.

    Raises
    ------
    InputError
        If there is no source, or the sweep is so short against the response that its own second
        harmonic would run into it.
    """
    if count < 1:
        raise InputError(f"a pass has {count} sources; it needs at least one")
    window = ceil(_checks.positive(window_s, "the length of a response") * sampling_rate_hz)
    harmonic = ceil(window * (1.0 - _HARMONIC_DB / _DECAY_DB))
    advances = [
        ceil(harmonic_advance_s(sweep, order) * sampling_rate_hz)
        for order in range(2, highest_order + 1)
    ]
    if advances and advances[0] < harmonic:
        needed_s = sweep.duration_s * harmonic / advances[0]
        raise InputError(
            f"the sweep lasts {sweep.duration_s:g} s; for responses of {window_s:g} s to keep "
            f"clear of their own harmonics it must last at least {needed_s:.1f} s"
        )
    starts = _starts(count, window, harmonic, advances)
    apart = _harmonics_apart(starts, harmonic, advances)
    overlaps = tuple(
        Overlap(
            offset_s=start / sampling_rate_hz,
            window_s=window / sampling_rate_hz,
            harmonics_apart=alone,
        )
        for start, alone in zip(starts, apart, strict=True)
    )
    tail_s = (starts[-1] + window) / sampling_rate_hz
    return Pass(sweep.model_copy(update={"tail_s": tail_s}), overlaps)


def pass_signals(
    planned: Pass, outputs: Sequence[int], sampling_rate_hz: int
) -> Mapping[int, NDArray[np.float32]]:
    """What each output plays in a pass; the pilots go to the first alone.

    Parameters
    ----------
    planned
        From `plan_pass`.
    outputs
        One output number for each source, in the order of playing.
    sampling_rate_hz
        Hertz.

    Returns
    -------
    Output number to samples, shape (timeline(planned.sweep, rate).total,).

    Raises
    ------
    InputError
        If there is not one output for each source, or one comes twice.
    """
    if len(outputs) != len(planned.overlaps) or len(set(outputs)) != len(outputs):
        raise InputError(
            f"a pass of {len(planned.overlaps)} sources needs as many different outputs; "
            f"got {len(set(outputs))}"
        )
    places = timeline(planned.sweep, sampling_rate_hz)
    swept = sweep_samples(planned.sweep, sampling_rate_hz)
    signals = {}
    for number, overlap in zip(outputs, planned.overlaps, strict=True):
        start = places.sweep_start + round(overlap.offset_s * sampling_rate_hz)
        samples = np.zeros(places.total, dtype=np.float32)
        samples[start : start + swept.size] = swept
        signals[number] = samples
    # The first source's sweep starts the pass, so this is its signal with the pilots around it.
    signals[outputs[0]] = excitation(planned.sweep, sampling_rate_hz)
    return signals


def _starts(count: int, window: int, harmonic: int, advances: Sequence[int]) -> list[int]:
    """Each the first sample at which neither its response nor its harmonics meet a response."""
    starts = [0]
    while len(starts) < count:
        taken = sorted(
            (start + low, start + high)
            for start in starts
            for low, high in _forbidden(window, harmonic, advances)
        )
        starts.append(_first_free(starts[-1] + window, taken))
    return starts


def _forbidden(window: int, harmonic: int, advances: Iterable[int]) -> Iterable[tuple[int, int]]:
    """Distances (above, below) at which a later source would disturb an earlier response."""
    yield -1, window
    for advance in advances:
        yield advance - harmonic, advance + window


def _first_free(earliest: int, taken: Sequence[tuple[int, int]]) -> int:
    at = earliest
    for low, high in taken:
        if low < at < high:
            at = high
    return at


def _harmonics_apart(starts: Sequence[int], harmonic: int, advances: Sequence[int]) -> list[bool]:
    """For each source, whether all its harmonics' windows stand apart from all other sources'."""
    begins = np.subtract.outer(np.asarray(starts), np.asarray(advances, dtype=int))
    apart = []
    for row, own in enumerate(begins):
        others = np.delete(begins, row, axis=0).ravel()
        near = np.abs(np.subtract.outer(own, others)) < harmonic
        apart.append(not bool(near.any()))
    return apart
