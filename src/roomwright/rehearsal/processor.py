"""The client's processor with the tuning loaded: what each output plays for a channel's signal.

Time-domain filters throughout, independent of the tuning's own prediction.
"""

from __future__ import annotations

import numpy as np
import scipy
from numpy.typing import NDArray

from roomwright._errors import InputError
from roomwright.model import Crossover, Job, OutputTuning
from roomwright.signals import (
    cascade_sos,
    crossover_sos,
    fir_taps,
    fractional_delay,
    from_amplitude_db,
)

_F = NDArray[np.float64]

#: In-band gain of the LFE channel before a tuning says otherwise.
_LFE_GAIN_DB = 10.0
_WHOLE_SAMPLE = 1e-6


def render(
    job: Job, channel_id: str, signal: NDArray[np.float32]
) -> dict[int, NDArray[np.float32]]:
    """What every output plays when one channel carries a signal.

    A main channel plays through the outputs of its loudspeakers; with bass management a copy
    through the channel's low-pass goes to every subwoofer too. The LFE channel plays through every
    subwoofer with its in-band gain. Each output passes crossovers, biquads, FIR, trim, polarity and
    delay, the delay in whole steps of the processor. Without a tuning the signal goes straight
    through.

    Parameters
    ----------
    job
        Channels, outputs, processor and tuning.
    channel_id
        The channel.
    signal
        (n,) samples; what the filters ring beyond its end is cut, so it should end in silence.

    Returns
    -------
    dict
        Output number to (n,) samples, only the outputs that play; units that no output drives
        are left out.

    Raises
    ------
    InputError
        If the job has no such channel, or a filter lies above half the sampling rate.
    """
    channel = next((channel for channel in job.channels if channel.id == channel_id), None)
    if channel is None:
        names = ", ".join(channel.id for channel in job.channels)
        raise InputError(f"there is no channel {channel_id}; the channels are {names}")
    tuning, rate = job.tuning, job.sampling_rate_hz
    full = np.asarray(signal, dtype=np.float64)
    subwoofers = [subwoofer.id for subwoofer in job.subwoofers]
    feeds = dict.fromkeys(channel.loudspeakers, full)
    if channel.role == "lfe":
        gain_db = _LFE_GAIN_DB if tuning is None else tuning.lfe_gain_db
        feeds |= dict.fromkeys(subwoofers, full * from_amplitude_db(gain_db))
    elif tuning is not None and (low_pass := tuning.low_pass_of(channel_id)) is not None:
        feeds |= dict.fromkeys(subwoofers, _crossed(full, low_pass, rate))

    numbers = {output.drives: output.number for output in job.outputs}
    tuned = {} if tuning is None else {output.drives: output for output in tuning.outputs}
    step_s = job.processor.delay_step_s
    return {
        numbers[unit]: _through(feed, tuned[unit], rate, step_s).astype(np.float32)
        if unit in tuned
        else feed.astype(np.float32)
        for unit, feed in feeds.items()
        if unit in numbers
    }


def _through(samples: _F, output: OutputTuning, sampling_rate_hz: int, step_s: float) -> _F:
    """One output's chain, (n,) to (n,)."""
    for crossover in output.crossovers:
        samples = _crossed(samples, crossover, sampling_rate_hz)
    if output.biquads:
        samples = scipy.signal.sosfilt(cascade_sos(output.biquads, sampling_rate_hz), samples)
    if output.fir is not None:
        taps = fir_taps(output.fir, sampling_rate_hz)
        samples = scipy.signal.oaconvolve(samples, taps)[: samples.size]
    gain = float(from_amplitude_db(output.trim_db)) * (-1.0 if output.inverted else 1.0)
    delay_s = round(output.delay_s / step_s) * step_s
    return _delayed(gain * samples, delay_s * sampling_rate_hz)


def _crossed(samples: _F, crossover: Crossover, sampling_rate_hz: int) -> _F:
    filtered: _F = scipy.signal.sosfilt(crossover_sos(crossover, sampling_rate_hz), samples)
    return filtered


def _delayed(samples: _F, delay_samples: float) -> _F:
    whole = round(delay_samples)
    if abs(delay_samples - whole) > _WHOLE_SAMPLE:
        return fractional_delay(samples, delay_samples)
    return np.pad(samples, (whole, 0))[: samples.size]
