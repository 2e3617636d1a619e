"""A window on the input at all times: a ring that the stream writes and anybody reads."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

F32 = NDArray[np.float32]


class Ring:
    """The newest input samples, written by one thread that never waits for a reader.

    Parameters
    ----------
    inputs
        Channels.
    length
        Samples kept of each.
    """

    def __init__(self, inputs: int, length: int) -> None:
        self._samples = np.zeros((length, inputs), dtype=np.float32)
        self._begun = 0
        self._written = 0

    @property
    def written(self) -> int:
        """Samples written since the beginning, of each input."""
        return self._written

    def write(self, block: F32) -> None:
        """Add a block, (n, inputs); called by the stream alone."""
        length = self._samples.shape[0]
        # A reader takes as lost what may be overwritten while it copies.
        self._begun = self._written + block.shape[0]
        block = block[-length:]
        at = (self._begun - block.shape[0]) % length
        first = min(block.shape[0], length - at)
        self._samples[at : at + first] = block[:first]
        self._samples[: block.shape[0] - first] = block[first:]
        self._written = self._begun

    def read(self, start: int) -> tuple[F32, int]:
        """Samples from number `start` on, (inputs, n), and how many at the front are lost."""
        length = self._samples.shape[0]
        stop = self._written
        first = max(start, stop - length)
        copied = self._samples[np.arange(first, stop) % length]
        overwritten = max(self._begun - length - first, 0)
        lost = first + overwritten - start
        return np.ascontiguousarray(copied[overwritten:].T), lost


class Monitor:
    """One subscriber's view of the input: every read gives what came since the last one.

    Parameters
    ----------
    ring
        What the stream writes.
    sampling_rate_hz
        Of the samples.

    Attributes
    ----------
    lost
        Samples that were gone before they were read, because reads were too far apart.
    """

    def __init__(self, ring: Ring, sampling_rate_hz: int) -> None:
        self.sampling_rate_hz = sampling_rate_hz
        self.lost = 0
        self._ring = ring
        self._next = ring.written

    def read(self) -> F32:
        """New samples, (inputs, n), the microphone first; n is 0 if there are none."""
        samples, lost = self._ring.read(self._next)
        self.lost += lost
        self._next += lost + samples.shape[1]
        return samples
