"""An impulse response with what it can be trusted for."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, TypeVar

import numpy as np
from numpy.typing import NDArray

from roomwright import _checks
from roomwright._errors import InputError
from roomwright.measurement.fades import fade_window

F = NDArray[np.float64]
Number = TypeVar("Number", bound="np.floating[Any]")

#: The last part of a response, taken to hold nothing but noise; common practice, no source.
_NOISE_SHARE = 0.1


@dataclass(frozen=True, slots=True, eq=False)
class ImpulseResponse:
    """A measured impulse response.

    Attributes
    ----------
    samples
        Shape (n,), float64, read-only; pascal per digital full scale of the output if
        `absolute`, else relative. If `timed`, sample 0 is the moment the signal left the output.
    sampling_rate_hz
        Hertz.
    absolute
        Whether the microphone's sensitivity was known.
    timed
        Whether sample 0 is that moment exactly; else an unknown constant is in it.
    noise_rms
        Root mean square of the noise in `samples`, same unit.
    trusted_hz
        Band (low, high) in which the response stands clear of the noise; (0, 0) if in none.
    """

    samples: F
    sampling_rate_hz: int
    absolute: bool
    timed: bool
    noise_rms: float
    trusted_hz: tuple[float, float]

    def __post_init__(self) -> None:
        """Check the samples and make them read-only."""
        samples = _checks.finite(np.asarray(self.samples, dtype=np.float64), "impulse response")
        if samples.ndim != 1 or samples.size == 0:
            raise InputError(
                f"an impulse response is one row of samples; got the shape {samples.shape}"
            )
        view = samples.view()
        view.flags.writeable = False
        object.__setattr__(self, "samples", view)


def noise_tail(samples: NDArray[Number]) -> NDArray[Number]:
    """The last tenth of an impulse response, shape (n // 10,), at least one sample."""
    return samples[-max(int(samples.size * _NOISE_SHARE), 1) :]


def noise_floor_rms(samples: F) -> float:
    """Root mean square of the noise in an impulse response, from its last tenth.

    An upper bound where the decay is not over by then.

    Parameters
    ----------
    samples
        Shape (n,), not faded.
    """
    return float(np.sqrt(np.mean(noise_tail(samples) ** 2)))


def fade_tail(samples: F, fade: int) -> F:
    """A response whose last `fade` samples fade to nothing, so that its cut end does not ring.

    Parameters
    ----------
    samples
        Shape (..., n).
    fade
        Samples, at most n.
    """
    return samples * fade_window(samples.shape[-1], 0, fade)
