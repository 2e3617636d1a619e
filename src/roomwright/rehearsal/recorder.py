"""Faults of single recordings: what a microphone, a room and a recorder do wrong while it runs."""

from __future__ import annotations

from collections.abc import Collection, Sequence

import numpy as np
import scipy
from numpy.typing import NDArray

from roomwright.model import Fault, Job, Point
from roomwright.rehearsal.inputs import sensitivity_pa
from roomwright.rehearsal.noises import noise
from roomwright.rehearsal.streams import stream
from roomwright.signals import from_amplitude_db

_F32 = NDArray[np.float32]

#: What is lost where a fault does not say: one buffer.
_LOST_S = 0.01
#: Buffers are lost within this part of a recording, and the microphone moves there.
_WITHIN = (0.25, 0.7)
#: The microphone takes this long to move.
_MOVES_S = 0.25
#: How much weaker a silent input is than full scale: the noise of an open input.
_OPEN_INPUT = 1e-5
#: Hertz of a recorder that runs at another rate, where a fault does not say.
_OTHER_RATE_HZ = 44100.0


def happening(job: Job, place: Point, outputs: Collection[int] | None) -> tuple[Fault, ...]:
    """The recording faults that happen at a place while `outputs` play; None for nothing."""
    stations = {s.id for s in job.stations if s.position_m == place}
    return tuple(
        fault
        for fault in job.rehearsal.faults
        if fault.of_recording
        and (fault.station is None or fault.station in stations)
        and (fault.output == 0 or fault.output in (outputs or ()))
    )


def with_noises(job: Job, faults: Sequence[Fault], microphone: _F32, key: str) -> _F32:
    """The microphone's samples with the noises of `faults` in them."""
    for number, fault in enumerate(faults):
        if fault.kind in ("door", "voice", "aircraft", "fan"):
            rng = stream(job.rehearsal.seed, "noise event", key, number)
            rate = float(job.sampling_rate_hz)
            pressure = noise(fault.kind, fault.amount, microphone.size, rate, rng)
            microphone = microphone + (pressure / sensitivity_pa(job)).astype(np.float32)
    return microphone


def moved(still: _F32, after: _F32, sampling_rate_hz: float, rng: np.random.Generator) -> _F32:
    """What a microphone records that is moved from one place to another in between, (n,)."""
    time = np.arange(still.size) / sampling_rate_hz
    at_s = rng.uniform(*_WITHIN) * still.size / sampling_rate_hz
    share = np.clip((time - at_s) / _MOVES_S, 0.0, 1.0).astype(np.float32)
    return np.asarray(still + share * (after - still))


def spoilt(job: Job, faults: Sequence[Fault], samples: _F32, key: str) -> _F32:
    """A recording, (2, n), as faults of inputs and recorder leave it."""
    for number, fault in enumerate(faults):
        rng = stream(job.rehearsal.seed, "recorder", key, number)
        match fault.kind:
            case "hot_input":
                samples = np.stack([samples[0] * from_amplitude_db(fault.amount), samples[1]])
            case "silent_input":
                hiss = _OPEN_INPUT * rng.standard_normal(samples.shape[1])
                samples = np.stack([hiss, samples[1]])
            case "wrong_input":
                samples = np.stack([samples[1], samples[1]])
            case "dropout":
                samples = _without_a_buffer(samples, fault, job.sampling_rate_hz, rng)
            case "wrong_rate":
                real = fault.amount or _OTHER_RATE_HZ
                ratio = round(real), job.sampling_rate_hz
                samples = scipy.signal.resample_poly(samples, *ratio, axis=-1)
            case _:
                continue
    return np.asarray(samples, dtype=np.float32)


def _without_a_buffer(samples: _F32, fault: Fault, rate: int, rng: np.random.Generator) -> _F32:
    """Some samples lost: silenced, or cut out."""
    lost = max(1, round((fault.amount or _LOST_S) * rate))
    start = round(rng.uniform(*_WITHIN) * samples.shape[1])
    if rng.random() < 0.5:
        return np.delete(samples, slice(start, start + lost), axis=1)
    silenced = samples.copy()
    silenced[:, start : start + lost] = 0.0
    return silenced
