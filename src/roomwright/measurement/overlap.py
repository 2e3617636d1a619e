"""Sweeps of several sources in one pass: when each may start without disturbing the others.

Multiple exponential sweep method (Majdak, Balazs & Laback, J. Audio Eng. Soc. 55(7/8), 2007). All
sources sweep at the same rate, each a little later than the one before: one and the same sweep, of
which each plays what lies in its band. Divided by it, the recording of the pass shows the response
of each source at its offset, and the responses to its harmonics before that, L ln N each. The
offsets are chosen so that no response is met by anything else: harmonics fall into the gaps between
responses (interleaving) or before them (overlapping).
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise
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

#: Rates of sweeps that differ by less are one: over a whole sweep that is less than a sample.
_ONE_RATE: Final = 1.0 + 1e-6


@dataclass(frozen=True, slots=True)
class Pass:
    """Sweeps of several sources in one recording.

    Attributes
    ----------
    sweeps
        As each source plays its own, with a tail that lasts until the last source has died away:
        the `timeline` of any of them is that of the whole pass.
    overlaps
        When each source starts, and what of its response stands alone; in the order of playing.
    """

    sweeps: tuple[Sweep, ...]
    overlaps: tuple[Overlap, ...]

    @property
    def sweep(self) -> Sweep:
        """What the first source plays."""
        return self.sweeps[0]

    @property
    def duration_s(self) -> float:
        """Seconds from the start of the signals to their end."""
        return duration_s(self.sweep)


@dataclass(frozen=True, slots=True)
class _Source:
    """One source in samples: its windows, what an octave takes, how early its harmonics come."""

    low_hz: float
    high_hz: float
    window: int
    harmonic: int
    octave: int
    advances: tuple[int, ...]


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

    `plan_sweeps` for sources of one band and one length of response.

    Raises
    ------
    InputError
        As `plan_sweeps`.
    """
    return plan_sweeps(
        (sweep,) * count, (window_s,) * count, sampling_rate_hz, highest_order=highest_order
    )


def plan_sweeps(
    sweeps: Sequence[Sweep],
    windows_s: Sequence[float],
    sampling_rate_hz: int,
    *,
    highest_order: int = HIGHEST_ORDER,
) -> Pass:
    """The earliest starts of sweeps of one rate whose responses stay apart.

    Each source starts as early as those before it allow, which yields the interleaving of the
    paper where the sweep is long against the response, and its overlapping where it is short.
    A harmonic counts where it falls into the band in which a response is looked for.

    Parameters
    ----------
    sweeps
        What each source plays, 1 or more, in ascending order of the frequency at which they
        start; all take as long for an octave. Their tails are replaced.
    windows_s
        How long the response of each lasts, see `response_window_s`.
    sampling_rate_hz
        Hertz; the offsets are whole samples.
    highest_order
        Harmonics up to this one are kept off the responses.

    Raises
    ------
    InputError
        If there is no source, sweeps are not of one rate or not in order, or one is so short
        against its response that its own second harmonic would run into it.
    """
    if not sweeps or len(sweeps) != len(windows_s):
        raise InputError(
            f"a pass has {len(sweeps)} sources and {len(windows_s)} windows; it needs at least "
            "one source, and a window for each"
        )
    rates_s = [harmonic_advance_s(sweep, 2) for sweep in sweeps]
    if max(rates_s) > min(rates_s) * _ONE_RATE:
        raise InputError("the sweeps of a pass must all take as long for an octave")
    if any(one.start_hz > other.start_hz for one, other in pairwise(sweeps)):
        raise InputError("the sweeps of a pass come in ascending order of where they start")
    sources = [
        _source(sweep, window_s, sampling_rate_hz, highest_order)
        for sweep, window_s in zip(sweeps, windows_s, strict=True)
    ]
    starts = _starts(sources)
    last = max(start + source.window for start, source in zip(starts, sources, strict=True))
    pass_hz = sweeps[0].start_hz, max(sweep.stop_hz for sweep in sweeps)
    # All play parts of one sweep from the lowest frequency of any to the highest.
    per_octave = rates_s[0] / np.log(2.0) * sampling_rate_hz
    later = [round(per_octave * np.log(s.start_hz / sweeps[0].start_hz)) for s in sweeps]
    whole = last + max(
        after + round(sweep.duration_s * sampling_rate_hz)
        for after, sweep in zip(later, sweeps, strict=True)
    )
    return Pass(
        tuple(
            sweep.model_copy(
                update={
                    "tail_s": (whole - round(sweep.duration_s * sampling_rate_hz))
                    / sampling_rate_hz
                }
            )
            for sweep in sweeps
        ),
        tuple(
            Overlap(
                offset_s=(start + after) / sampling_rate_hz,
                window_s=source.window / sampling_rate_hz,
                harmonics_apart=alone,
                pass_hz=pass_hz,
            )
            for start, after, source, alone in zip(
                starts, later, sources, _harmonics_apart(starts, sources), strict=True
            )
        ),
    )


def whole_pass(sweep: Sweep, overlap: Overlap) -> Sweep:
    """The one sweep of which the sources of a recording play their parts; its timeline is theirs.

    Parameters
    ----------
    sweep, overlap
        Of any of them.
    """
    if overlap.pass_hz is None:
        return sweep
    low_hz, high_hz = overlap.pass_hz
    per_octave_s = harmonic_advance_s(sweep, 2)
    duration_s = per_octave_s * float(np.log2(high_hz / low_hz))
    tail_s = sweep.duration_s + sweep.tail_s - duration_s
    return sweep.model_copy(
        update={
            "start_hz": low_hz,
            "stop_hz": high_hz,
            "duration_s": duration_s,
            "tail_s": tail_s,
        }
    )


def quiet_s(sweep: Sweep, overlap: Overlap | None) -> float:
    """From when on a recording divided by a source's sweep holds noise alone, seconds."""
    if overlap is None or overlap.pass_hz is None:
        return sweep.tail_s
    # The whole sweep's tail, and how much later this one's part of it starts.
    above = np.log2(overlap.pass_hz[1] / sweep.start_hz)
    return sweep.duration_s + sweep.tail_s - harmonic_advance_s(sweep, 2) * float(above)


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
    signals = {}
    for number, sweep, overlap in zip(outputs, planned.sweeps, planned.overlaps, strict=True):
        start = places.sweep_start + round(overlap.offset_s * sampling_rate_hz)
        swept = sweep_samples(sweep, sampling_rate_hz)
        samples = np.zeros(places.total, dtype=np.float32)
        samples[start : start + swept.size] = swept
        signals[number] = samples
    # The first source's sweep starts the pass, so this is its signal with the pilots around it.
    signals[outputs[0]] = excitation(planned.sweep, sampling_rate_hz)
    return signals


def _source(sweep: Sweep, window_s: float, rate: int, highest_order: int) -> _Source:
    window = ceil(_checks.positive(window_s, "the length of a response") * rate)
    harmonic = ceil(window * (1.0 - _HARMONIC_DB / _DECAY_DB))
    advances = tuple(
        ceil(harmonic_advance_s(sweep, order) * rate) for order in range(2, highest_order + 1)
    )
    if advances and advances[0] < harmonic:
        needed_s = sweep.duration_s * harmonic / advances[0]
        raise InputError(
            f"the sweep lasts {sweep.duration_s:g} s; for responses of {window_s:.2f} s to keep "
            f"clear of their own harmonics it must last at least {needed_s:.1f} s"
        )
    octave = ceil(harmonic_advance_s(sweep, 2) * rate)
    return _Source(sweep.start_hz, sweep.stop_hz, window, harmonic, octave, advances)


def _starts(sources: Sequence[_Source]) -> list[int]:
    """Each the first sample at which neither its response nor its harmonics meet a response.

    Counted where the sweeps pass the same frequency.
    """
    starts: list[int] = []
    for source in sources:
        earlier = list(zip(starts, sources, strict=False))
        taken = sorted(
            (start + low, start + high)
            for start, before in earlier
            for low, high in _forbidden(before, source)
        )
        starts.append(_first_free(starts[-1] + 1 if starts else 0, taken))
    return starts


def _forbidden(earlier: _Source, later: _Source) -> Iterable[tuple[int, int]]:
    """Distances (above, below) at which the later source would disturb the earlier response."""
    same_band = (earlier.low_hz, earlier.high_hz) == (later.low_hz, later.high_hz)
    # Where a sweep fades in or out it still sounds an octave around; to another band's sweep that
    # comes as much earlier or later.
    yield -1, earlier.window + (0 if same_band else later.octave)
    for order, advance in enumerate(later.advances, start=2):
        if order * later.low_hz < earlier.high_hz:
            yield advance - later.harmonic, advance + earlier.window


def _first_free(earliest: int, taken: Sequence[tuple[int, int]]) -> int:
    at = earliest
    for low, high in taken:
        if low < at < high:
            at = high
    return at


def _harmonics_apart(starts: Sequence[int], sources: Sequence[_Source]) -> list[bool]:
    """For each source, whether all its harmonics' windows stand apart from all other sources'."""
    begins = np.array([np.subtract(s, p.advances) for s, p in zip(starts, sources, strict=True)])
    lengths = np.array([source.harmonic for source in sources])
    apart = []
    for row, own in enumerate(begins):
        others = np.delete(begins, row, axis=0)
        after = np.subtract.outer(own, others)
        meets = (after < np.delete(lengths, row)[:, None]) & (after > -lengths[row])
        apart.append(not bool(meets.any()))
    return apart
