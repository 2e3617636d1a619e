"""One impulse response with everything that is to be said of it."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from roomwright.measurement.impulse_response import ImpulseResponse, fade_tail
from roomwright.measurement.noise import NoiseFloor, trusted_band
from roomwright.model import Finding

F = NDArray[np.float64]

#: The end of a kept response fades over this share of it; common practice, no source.
_FADE = 0.05


@dataclass(frozen=True, slots=True, eq=False)
class MeasuredResponse:
    """One impulse response and the quality of the take it came from.

    Attributes
    ----------
    response
        The impulse response.
    signal_to_noise_db
        Per octave of `OCTAVES_HZ`, shape (10,): energy of the response over that of the noise in
        the same window; minus infinity where nothing but noise was found.
    distortion_db
        Orders 2 to 5 re the fundamental, shape (4,); NaN where unknown.
    clock_error_ppm
        How much faster the recorder's clock ran than the player's; NaN where unknown.
    latency_s
        Delay of the reference channel, or None without one.
    findings
        Doubts.
    """

    response: ImpulseResponse
    signal_to_noise_db: F
    distortion_db: F
    clock_error_ppm: float
    latency_s: float | None
    findings: tuple[Finding, ...] = ()


def judged_response(
    response: F,
    noise: NoiseFloor,
    rate: int,
    limits_hz: tuple[float, float],
    *,
    absolute: bool,
    timed: bool,
) -> ImpulseResponse:
    """A response faded at its end, with the band in which it stands clear of its noise.

    Parameters
    ----------
    response
        Shape (n,).
    noise
        What is in it.
    rate
        Hertz.
    limits_hz
        The trusted band lies within them.
    absolute, timed
        As in `ImpulseResponse`.
    """
    return ImpulseResponse(
        samples=fade_tail(response, round(_FADE * response.size)),
        sampling_rate_hz=rate,
        absolute=absolute,
        timed=timed,
        noise_rms=noise.rms,
        trusted_hz=trusted_band(response, noise, rate, limits_hz),
    )


def drowned(response: ImpulseResponse, where: str) -> tuple[Finding, ...]:
    """The doubt that a response is nothing but noise, if it is."""
    if response.trusted_hz[1] > 0:
        return ()
    text = "holds no response that stands 10 dB clear of the noise in any band"
    return (Finding(severity="doubt", where=where, text=text),)
