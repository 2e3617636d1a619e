"""What happens in the audio callback: playing, recording, watching, with no memory asked for."""

from __future__ import annotations

import threading
from collections.abc import Mapping
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from roomwright.devices.monitor import Ring

F32 = NDArray[np.float32]

#: A stopped signal falls to silence over so many samples at most; the block ends silent.
_FALL = 256


@dataclass(slots=True, eq=False)
class Job:
    """One thing to play, to record, or both, between two moments of one stream.

    Attributes
    ----------
    signals
        Column of the output to samples, (n,), at most as long as `length`, or, if it is looped,
        all of one length.
    length
        Samples to run; None runs until it is stopped.
    recorded
        Where the inputs go, (length, inputs), or None.
    rise
        Gains at the beginning, (r,), rising from 0.
    """

    signals: Mapping[int, F32]
    length: int | None
    recorded: F32 | None
    rise: F32
    at: int = 0
    flags: set[str] = field(default_factory=set)
    stopped: bool = False
    done: threading.Event = field(default_factory=threading.Event)


class Engine:
    """The callback of a full-duplex stream and what it shares with other threads.

    One job runs at a time. Every block is watched by the ring, whatever runs. Nothing here waits,
    and no sample leaves above the ceiling.

    Parameters
    ----------
    inputs
        Columns of the input that are kept, in this order.
    ceiling
        Largest magnitude that leaves, linear.
    ring_samples
        Length of the monitor's ring.
    """

    def __init__(self, inputs: tuple[int, ...], ceiling: float, ring_samples: int) -> None:
        self.ring = Ring(len(inputs), ring_samples)
        self.blocks = 0
        self.flags_between: set[str] = set()
        self._columns = list(inputs)
        self._ceiling = np.float32(ceiling)
        self._job: Job | None = None
        self._stop = False

    @property
    def running(self) -> bool:
        """Whether a job runs."""
        return self._job is not None

    def start(self, job: Job) -> None:
        """Run a job from the next block on."""
        self._stop = False
        self._job = job

    def stop(self) -> None:
        """Silence the outputs within one block and end the job."""
        self._stop = True

    def callback(
        self, indata: F32, outdata: F32, frames: int, _time: object, status: object
    ) -> None:
        """One block: (frames, channels) in and out; called by PortAudio."""
        heard = indata[:, self._columns]
        self.ring.write(heard)
        outdata.fill(0.0)
        flags = _flags(status) if status else ()
        job = self._job
        if job is None:
            self.flags_between.update(flags)
        else:
            job.flags.update(flags)
            self._run(job, heard, outdata, frames)
        self.blocks += 1

    def _run(self, job: Job, heard: F32, outdata: F32, frames: int) -> None:
        play = _play_looped if job.length is None else _play
        play(job, outdata, frames)
        risen = min(max(job.rise.size - job.at, 0), frames)
        if risen:
            outdata[:risen] *= job.rise[job.at : job.at + risen, None]
        np.clip(outdata, -self._ceiling, self._ceiling, out=outdata)
        if job.recorded is not None:
            kept = min(frames, job.recorded.shape[0] - job.at)
            job.recorded[job.at : job.at + kept] = heard[:kept]
        job.at += frames
        if self._stop:
            fall = min(_FALL, frames)
            outdata[:fall] *= np.linspace(1.0, 0.0, fall, dtype=np.float32)[:, None]
            outdata[fall:] = 0.0
            job.stopped = True
        if self._stop or (job.length is not None and job.at >= job.length):
            self._job = None
            job.done.set()


def _play(job: Job, outdata: F32, frames: int) -> None:
    for column, signal in job.signals.items():
        piece = signal[job.at : job.at + frames]
        outdata[: piece.size, column] = piece


def _play_looped(job: Job, outdata: F32, frames: int) -> None:
    for column, signal in job.signals.items():
        filled = 0
        while filled < frames:
            piece = signal[(job.at + filled) % signal.size :][: frames - filled]
            outdata[filled : filled + piece.size, column] = piece
            filled += piece.size


def _flags(status: object) -> tuple[str, ...]:
    names = ("input_overflow", "input_underflow", "output_overflow", "output_underflow")
    return tuple(name for name in names if getattr(status, name, False))
