"""Listening modes: tone controls on top of a tuning, realised as shelves."""

from __future__ import annotations

from collections.abc import Sequence
from functools import lru_cache

import numpy as np
import scipy
from numpy.typing import NDArray

from roomwright.model import Biquad, BiquadKind, Finding, Job, ListeningMode, Tuning
from roomwright.signals import amplitude_db, cascade_sos, log_frequencies, response
from roomwright.tuning.trims import within_full_scale

F = NDArray[np.float64]

#: The tilt reaches from and to here; beyond, its ends are held.
_TILTED_HZ = (20.0, 20000.0)
_PIVOT_HZ = 1000.0

#: Two wide shelves follow a tilt of 1 dB an octave within 0.2 dB (tried by fitting).
_TILT_SHELVES: tuple[tuple[BiquadKind, float], ...] = (
    ("low_shelf", 150.0),
    ("high_shelf", 5000.0),
)
_TILT_GAIN_OCTAVES = 3.0
_LARGEST_DB = 15.0
_IDLE_DB = 0.05

#: A departure of the shelves from the tone controls worth a finding, in decibels.
_DEPARTURE_DB = 0.5

_SHELF_Q = float(np.sqrt(0.5))


def tone_db(mode: ListeningMode, frequency_hz: F, sampling_rate_hz: float) -> F:
    """Level (F,) that a mode's tone controls ask for: two shelves and a tilt about 1 kHz.

    Parameters
    ----------
    mode
        The tone controls.
    frequency_hz
        Where, above 0 Hz, shape (F,).
    sampling_rate_hz
        Rate of the shelves, in hertz.
    """
    octaves = np.log2(np.clip(frequency_hz, *_TILTED_HZ) / _PIVOT_HZ)
    shelves = cascade_sos(_shelves(mode), sampling_rate_hz)
    level = amplitude_db(response(shelves, frequency_hz, sampling_rate_hz))
    return np.asarray(level + mode.tilt_db * octaves)


@lru_cache(maxsize=64)
def tone_biquads(mode: ListeningMode, count: int, sampling_rate_hz: float) -> tuple[Biquad, ...]:
    """At most `count` shelves that come closest to a mode's tone controls.

    Bass and treble alone are shelves already; a tilt is fitted by least squares over frequency,
    gain and Q, evenly over log frequency from 20 Hz to 20 kHz.
    """
    exact = _shelves(mode)
    if mode.tilt_db == 0 and len(exact) <= count:
        return exact
    reach = mode.tilt_db * _TILT_GAIN_OCTAVES
    tilt = tuple(
        Biquad(kind=kind, frequency_hz=f, gain_db=-reach if kind == "low_shelf" else reach, q=0.4)
        for kind, f in (_TILT_SHELVES if mode.tilt_db else ())
    )
    starts = _at_most((*exact, *tilt), count)
    if not starts:
        return ()
    at = log_frequencies(*_TILTED_HZ, 12)
    wanted = tone_db(mode, at, sampling_rate_hz)

    def misfit(flat: F) -> F:
        sections = cascade_sos(_as_biquads(starts, flat), sampling_rate_hz)
        return np.asarray(amplitude_db(response(sections, at, sampling_rate_hz)) - wanted)

    start = np.array([[np.log(b.frequency_hz), b.gain_db, np.log(b.q)] for b in starts])
    # A shelf keeps its sign: two that cancel each other would cost headroom.
    low, high = np.empty(start.shape), np.empty(start.shape)
    low[:], high[:] = (np.log(30.0), -_LARGEST_DB, np.log(0.2)), (np.log(16e3), _LARGEST_DB, 0.0)
    low[start[:, 1] > 0, 1], high[start[:, 1] < 0, 1] = 0.0, 0.0
    found = scipy.optimize.least_squares(
        misfit, start.ravel(), bounds=(low.ravel(), high.ravel()), max_nfev=60
    )
    return tuple(
        b.model_copy(
            update={
                "frequency_hz": float(f"{b.frequency_hz:.4g}"),
                "gain_db": round(b.gain_db, 1) + 0.0,
                "q": round(b.q, 2),
            }
        )
        for b in sorted(_as_biquads(starts, found.x), key=lambda b: b.frequency_hz)
        if abs(b.gain_db) > _IDLE_DB
    )


def in_mode(job: Job, tuning: Tuning, mode: ListeningMode) -> tuple[Tuning, tuple[Finding, ...]]:
    """A tuning with a mode's tone controls in every output, and what they could not reach.

    All outputs get the same shelves, within the biquads that the processor has left in each, so
    what adds up at the seats adds up as before. All are lowered by what lies above 0 dB then.

    Parameters
    ----------
    job
        Its capability sheet and sampling rate.
    tuning
        The tuning for reference listening.
    mode
        The tone controls.
    """
    used = max((len(output.biquads) for output in tuning.outputs), default=0)
    left = max(job.processor.biquads_per_output - used, 0)
    shelves = tone_biquads(mode, left, job.sampling_rate_hz)
    outputs = {
        output.drives: output.model_copy(update={"biquads": (*output.biquads, *shelves)})
        for output in tuning.outputs
    }
    if outputs and shelves:
        outputs = within_full_scale(outputs, job)
    found = _departure(job, mode, shelves, left)
    return tuning.model_copy(update={"outputs": tuple(outputs.values())}), found


def _departure(
    job: Job, mode: ListeningMode, shelves: tuple[Biquad, ...], left: int
) -> tuple[Finding, ...]:
    at = log_frequencies(*_TILTED_HZ, 12)
    rate = job.sampling_rate_hz
    off = amplitude_db(response(cascade_sos(shelves, rate), at, rate)) - tone_db(mode, at, rate)
    worst = int(np.argmax(np.abs(off)))
    if abs(off[worst]) <= _DEPARTURE_DB:
        return ()
    text = (
        f"{left} biquads are left in the processor for its tone controls; they follow them within "
        f"{abs(off[worst]):.1f} dB, at worst at {at[worst]:.0f} Hz"
    )
    return (Finding(severity="doubt", where=f"listening mode {mode.name}", text=text),)


def _shelves(mode: ListeningMode) -> tuple[Biquad, ...]:
    """The bass and treble controls as shelves, those that do anything."""
    shelves = (
        Biquad(kind="low_shelf", frequency_hz=mode.bass_hz, gain_db=mode.bass_db, q=_SHELF_Q),
        Biquad(kind="high_shelf", frequency_hz=mode.treble_hz, gain_db=mode.treble_db, q=_SHELF_Q),
    )
    return tuple(shelf for shelf in shelves if shelf.gain_db)


def _at_most(shelves: tuple[Biquad, ...], count: int) -> tuple[Biquad, ...]:
    """The shelves, of each kind made one where they are too many, then the smallest left out."""
    for kind in ("low_shelf", "high_shelf"):
        alike = [shelf for shelf in shelves if shelf.kind == kind]
        if len(shelves) > count and len(alike) > 1:
            gain = sum(shelf.gain_db for shelf in alike)
            merged = alike[0].model_copy(update={"gain_db": gain, "q": 0.5})
            shelves = (*(shelf for shelf in shelves if shelf.kind != kind), merged)
    return tuple(sorted(shelves, key=lambda b: -abs(b.gain_db))[:count])


def _as_biquads(starts: Sequence[Biquad], flat: F) -> tuple[Biquad, ...]:
    return tuple(
        start.model_copy(
            update={
                "frequency_hz": float(np.exp(row[0])),
                "gain_db": float(row[1]),
                "q": float(np.exp(row[2])),
            }
        )
        for start, row in zip(starts, flat.reshape(-1, 3), strict=True)
    )
