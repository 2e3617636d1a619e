"""The device protocol: what can play and record, whatever stands behind it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Protocol

import numpy as np
from numpy.typing import NDArray

from roomwright._errors import InputError
from roomwright.model import Finding

#: The number under which a signal is given that only the loop-back carries.
LOOP_BACK = 0


@dataclass(frozen=True, slots=True, eq=False)
class Recording:
    """What a device recorded.

    Attributes
    ----------
    samples
        Float32, shape (inputs, n), 1.0 = digital full scale. Input 0 is the microphone; input 1,
        if there is one, the electrical reference loop-back.
    sampling_rate_hz
        Nominal rate of the recorder.
    findings
        What the device has to say of the stream; a refusal, such as for a dropped buffer, means
        that the samples must not be used.
    capsules
        What the further capsules of a microphone of several heard, shape (capsules - 1, n); the
        first is the microphone. None for one of a single capsule.
    """

    samples: NDArray[np.float32]
    sampling_rate_hz: int
    findings: tuple[Finding, ...] = ()
    capsules: NDArray[np.float32] | None = None

    def __post_init__(self) -> None:
        """Check the shape."""
        if self.samples.ndim != 2:
            raise InputError(
                f"a recording has the shape (inputs, samples); got {self.samples.shape}"
            )

    @property
    def microphone(self) -> NDArray[np.float32]:
        """The microphone's samples, shape (n,)."""
        microphone: NDArray[np.float32] = self.samples[0]
        return microphone

    @property
    def reference(self) -> NDArray[np.float32] | None:
        """The loop-back's samples, shape (n,), or None where none was recorded."""
        return self.samples[1] if self.samples.shape[0] > 1 else None


class Device(Protocol):
    """Anything that plays signals on outputs and records inputs at the same time."""

    @property
    def name(self) -> str:
        """What the device is called in messages."""
        ...

    @property
    def sampling_rate_hz(self) -> int:
        """Nominal sampling rate of player and recorder."""
        ...

    @property
    def output_count(self) -> int:
        """How many outputs there are, numbered from 1."""
        ...

    @property
    def input_count(self) -> int:
        """How many inputs are recorded; see `Recording.samples` for their order."""
        ...

    def play_and_record(self, signals: Mapping[int, NDArray[np.float32]]) -> Recording:
        """Play `signals` (output number to samples) together; record at least as long.

        Where the loop-back is connected it carries the mean of the signals, or that given under
        `LOOP_BACK`.
        """
        ...

    def record(self, duration_s: float) -> Recording:
        """Record for `duration_s` seconds while nothing is played."""
        ...
