"""The excitation: an exponential sine sweep between two pilots.

x(t) = sin(2 pi f1 L (exp(t/L) - 1)) with L = T / ln(f2/f1). The response to harmonic N arrives
L ln N before that to the fundamental (Farina, AES 108th Convention, 2000; Novak et al., JAES
63(10), 2015).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from roomwright._errors import InputError
from roomwright.model import Sweep
from roomwright.signals.levels import from_amplitude_db

#: Share of the pilot that fades at either end; common practice, no source.
_PILOT_FADE = 0.05


@dataclass(frozen=True, slots=True)
class Timeline:
    """Where the parts of an excitation lie, as sample indices; `total` is its length."""

    pilot_1: int
    sweep_start: int
    sweep_stop: int
    pilot_2: int
    total: int


def sweep_samples(sweep: Sweep, sampling_rate_hz: float) -> NDArray[np.float32]:
    """Samples of the sweep alone, faded, its peak at `sweep.level_dbfs`.

    Returns
    -------
    Shape (round(duration x rate),); dB of the peak are re 1.0.

    Raises
    ------
    InputError
        If the sweep reaches half the sampling rate.
    """
    swept = _chirp(sweep, sweep.duration_s, sweep.fade_in_s, sweep.fade_out_s, sampling_rate_hz)
    return swept.astype(np.float32)


def continued_sweep(
    sweep: Sweep, sampling_rate_hz: float, low_hz: float, high_hz: float
) -> tuple[NDArray[np.float64], int]:
    """A sweep that goes on beyond its band at either end, in one phase and at one rate.

    Parameters
    ----------
    sweep
        Its fades are not applied within its band.
    sampling_rate_hz
        Hertz.
    low_hz, high_hz
        Where it starts and stops instead, with the sweep's fades.

    Returns
    -------
    Shape (n,), and the index at which the sweep itself begins.

    Raises
    ------
    InputError
        If it reaches half the sampling rate.
    """
    rate_s = _rate_s(sweep, sweep.duration_s)
    before = round(rate_s * float(np.log(sweep.start_hz / low_hz)) * sampling_rate_hz)
    # The phase is that of the sweep at its start: one that starts there and then has another.
    start_hz = sweep.start_hz * float(np.exp(-before / (rate_s * sampling_rate_hz)))
    turned = 2 * np.pi * rate_s * (start_hz - sweep.start_hz)
    longer = sweep.model_copy(update={"start_hz": start_hz, "stop_hz": high_hz})
    duration_s = rate_s * float(np.log(high_hz / start_hz))
    return (
        _chirp(longer, duration_s, sweep.fade_in_s, sweep.fade_out_s, sampling_rate_hz, turned),
        before,
    )


def pilot_samples(sweep: Sweep, sampling_rate_hz: float) -> NDArray[np.float32]:
    """Samples of the pilot: a short chirp over its band and at the level of the sweep.

    Returns
    -------
    Shape (round(pilot_s x rate),).

    Raises
    ------
    InputError
        If the pilot reaches half the sampling rate.
    """
    fade_s = _PILOT_FADE * sweep.pilot_s
    if sweep.pilot_band_hz is not None:
        low, high = sweep.pilot_band_hz
        sweep = sweep.model_copy(update={"start_hz": low, "stop_hz": high})
    return _chirp(sweep, sweep.pilot_s, fade_s, fade_s, sampling_rate_hz).astype(np.float32)


def harmonic_advance_s(sweep: Sweep, order: int) -> float:
    """How long before the fundamental the response to harmonic `order` arrives: L ln N.

    Raises
    ------
    InputError
        If `order` is below 1.
    """
    if order < 1:
        raise InputError(f"the order of the harmonic is {order}; it must be 1 or more")
    return _rate_s(sweep, sweep.duration_s) * float(np.log(order))


def instantaneous_frequency_hz(sweep: Sweep, time_s: ArrayLike) -> NDArray[np.float64]:
    """Frequency the sweep passes at times counted from its start, hertz, same shape."""
    time = np.asarray(time_s, dtype=np.float64)
    frequency: NDArray[np.float64] = sweep.start_hz * np.exp(
        time / _rate_s(sweep, sweep.duration_s)
    )
    return frequency


def timeline(sweep: Sweep, sampling_rate_hz: float) -> Timeline:
    """Where the two pilots and the sweep lie in `excitation`, in samples."""

    def samples(duration_s: float) -> int:
        return round(duration_s * sampling_rate_hz)

    pilot, gap = samples(sweep.pilot_s), samples(sweep.gap_s)
    pilot_1 = samples(sweep.lead_s)
    sweep_start = pilot_1 + pilot + gap
    sweep_stop = sweep_start + samples(sweep.duration_s)
    pilot_2 = sweep_stop + samples(sweep.tail_s)
    return Timeline(pilot_1, sweep_start, sweep_stop, pilot_2, pilot_2 + pilot + gap)


def excitation(sweep: Sweep, sampling_rate_hz: float) -> NDArray[np.float32]:
    """The complete signal played: silence, pilot, silence, sweep, silence, pilot, silence.

    Returns
    -------
    Shape (timeline(sweep, rate).total,).

    Raises
    ------
    InputError
        If the sweep reaches half the sampling rate.
    """
    places = timeline(sweep, sampling_rate_hz)
    pilot = pilot_samples(sweep, sampling_rate_hz)
    played = np.zeros(places.total, dtype=np.float32)
    for start in (places.pilot_1, places.pilot_2):
        played[start : start + pilot.size] = pilot
    played[places.sweep_start : places.sweep_stop] = sweep_samples(sweep, sampling_rate_hz)
    return played


def _rate_s(sweep: Sweep, duration_s: float) -> float:
    """L: the time in which the frequency rises by a factor of e."""
    return duration_s / float(np.log(sweep.stop_hz / sweep.start_hz))


def _chirp(
    sweep: Sweep,
    duration_s: float,
    fade_in_s: float,
    fade_out_s: float,
    sampling_rate_hz: float,
    phase: float = 0.0,
) -> NDArray[np.float64]:
    """An exponential chirp over the band of `sweep` with raised-cosine fades."""
    if sweep.stop_hz >= sampling_rate_hz / 2:
        raise InputError(
            f"the sweep stops at {sweep.stop_hz:g} Hz; at a sampling rate of "
            f"{sampling_rate_hz:g} Hz it must stop below {sampling_rate_hz / 2:g} Hz"
        )
    rate_s = _rate_s(sweep, duration_s)
    time = np.arange(round(duration_s * sampling_rate_hz)) / sampling_rate_hz
    samples = np.sin(phase + 2 * np.pi * sweep.start_hz * rate_s * np.expm1(time / rate_s))
    samples *= from_amplitude_db(sweep.level_dbfs)
    fade_in = _rising_fade(round(fade_in_s * sampling_rate_hz))
    fade_out = _rising_fade(round(fade_out_s * sampling_rate_hz))
    samples[: fade_in.size] *= fade_in
    samples[samples.size - fade_out.size :] *= fade_out[::-1]
    return samples


def _rising_fade(n: int) -> NDArray[np.float64]:
    """The rising half of a raised cosine, ends excluded."""
    rise: NDArray[np.float64] = np.sin(np.pi / 2 * (np.arange(n) + 0.5) / max(n, 1)) ** 2
    return rise
