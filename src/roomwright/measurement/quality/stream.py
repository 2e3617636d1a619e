"""Whether the recorder caught what it should: the right rate, every sample, the right input."""

from __future__ import annotations

from functools import lru_cache
from math import isnan
from typing import Final

import numpy as np
import scipy
import scipy.fft
from numpy.typing import NDArray

from roomwright.measurement.alignment import Alignment
from roomwright.measurement.clock import LARGEST_PPM, corrected
from roomwright.measurement.deconvolution import deconvolve, inverse_spectrum, transform_length
from roomwright.model import Diagnosis, Sweep
from roomwright.signals import pilot_samples, power_db, resample, sweep_samples, timeline

F = NDArray[np.float64]
C = NDArray[np.complex128]

#: Rates at which recorders run; a file that states one of them may have been made at another.
_RATES_HZ = (32000, 44100, 48000, 88200, 96000, 176400, 192000)

#: A pilot found at another rate is believed where it is this much more alike than at the nominal
#: one: a mismatch of rates leaves about 1 / sqrt(bandwidth x duration) of the likeness, some 2 %.
_CLEARLY_MORE_ALIKE = 2.0

#: So many samples of the same value in a row are none that a converter made of a room's noise,
#: which moves its last bits at every sample: a buffer was lost.
_FROZEN = 24

#: An electrical path is over after this time; what a loop-back holds outside of it came of lost
#: or repeated samples. Its share of the energy is some -60 dB in a sound recording.
_ELECTRICAL_S, _LARGEST_STRAY = 2e-4, 10.0**-2.0

#: The two pilots are as much alike, if the microphone stood still and neither is drowned.
_SAME_PILOT: Final = 0.8

#: In no room is so little left of a loudspeaker's sound 3 ms after its peak: the direct sound
#: would have to exceed all that is reflected by 40 dB.
_AFTER_S, _NO_ROOM, _ROOM_HZ = 3e-3, 1e-4, (700.0, 6000.0)

#: A sweep that ends below is too narrow for that, since its pulse rings longer. There so little is
#: left of what a cable carries if a gain and a delay are taken out; a subwoofer's own roll-off
#: alone turns the phase of far more. The band's ends by this factor do not count. Common practice,
#: no source: in development rooms cables left -33 dB and less, subwoofers -4 dB and more.
_NARROW_HZ, _NO_SUBWOOFER, _WITHIN = 2.0 * _ROOM_HZ[0], 1e-2, 1.2


def wrong_rate(samples: NDArray[np.floating], sweep: Sweep, rate: int) -> Diagnosis | None:
    """Whether the pilot is in a recording at another rate than the one stated."""
    places = timeline(sweep, rate)
    pilot = pilot_samples(sweep, rate)
    alike = {
        other: _likeness(samples, _at_rate(pilot, other / rate), places.sweep_start)
        for other in _RATES_HZ
        if 0.4 <= other / rate <= 2.5
    }
    best = max(alike, key=lambda other: alike[other])
    if best == rate or alike[best] < _CLEARLY_MORE_ALIKE * alike.get(rate, 0.0):
        return None
    return Diagnosis(
        kind="wrong_rate",
        evidence=float(best),
        sentence=f"was recorded at {best} Hz and says it is of {rate} Hz: its pilot is "
        f"{alike[best] / max(alike.get(rate, 0.0), 1e-9):.0f} times more alike there",
        remedy="set player and recorder to one rate and record it again",
        refuses=True,
    )


def frozen_samples(samples: NDArray[np.floating], rate: int) -> Diagnosis | None:
    """A stretch of samples that stand still, shape (n,) searched; None if there is none."""
    same = np.flatnonzero(np.diff(samples) != 0.0)
    if same.size < 2:
        return None
    lengths = np.diff(same)
    longest = int(np.argmax(lengths))
    if lengths[longest] < _FROZEN:
        return None
    at_s, lasts_ms = same[longest] / rate, 1e3 * lengths[longest] / rate
    return _dropout(
        float(lasts_ms), f"stands still for {lasts_ms:.1f} ms at {at_s:.2f} s: samples are missing"
    )


def broken_stream(
    reference: NDArray[np.floating], alignment: Alignment, sweep: Sweep, rate: int
) -> Diagnosis | None:
    """Samples lost or repeated during the sweep, by the loop-back, shape (n,).

    The loop-back's own impulse response lasts a fraction of a millisecond. Where samples were lost
    the part of the sweep after them lies elsewhere.
    """
    length = transform_length(sweep, rate)
    ppm = 0.0 if isnan(alignment.clock_error_ppm) else alignment.clock_error_ppm
    start = max(round(alignment.start), 0)
    # The circle is longer than sweep and tail: the second pilot is none of them.
    places = timeline(sweep, rate)
    piece = corrected(reference[start : start + length], ppm)
    piece = piece[: places.pilot_2 - places.sweep_start]
    circle = deconvolve(piece.astype(np.float32), inverse_spectrum(sweep, rate, length))
    energy = circle.astype(np.float64) ** 2
    reach = _own_reach(sweep, rate, length)
    near = np.arange(-reach, reach + 1) + int(np.argmax(energy))
    total = float(energy.sum())
    stray = 1.0 - float(energy[near % length].sum()) / max(total, 1e-30)
    if stray < _LARGEST_STRAY:
        return None
    level = float(power_db(stray))
    return _dropout(
        level,
        "has samples lost or repeated during the sweep: the part of its loop-back that lies "
        f"elsewhere in time has {level:.0f} dB of the whole",
    )


def pilots_apart(
    samples: NDArray[np.floating], alignment: Alignment, sweep: Sweep, rate: int
) -> Diagnosis | None:
    """Samples lost or repeated between the pilots: they lie apart as no clock explains.

    Parameters
    ----------
    samples
        The loop-back, or the microphone where there is none, shape (n,): both pilots go the same
        way, so that they are alike whatever that is.
    alignment
        Where the sweep lies in it. Its clock error is looked for within what clocks do, and may be
        found there by chance where the pilots lie farther apart.
    sweep, rate
        What was played, and the recorder's rate.
    """
    places = timeline(sweep, rate)
    distance, reach = places.pilot_2 - places.pilot_1, places.pilot_2 - places.sweep_stop
    first = round(alignment.start) - (places.sweep_start - places.pilot_1)
    length = round((sweep.pilot_s + sweep.gap_s / 2) * rate)
    if first < 0:
        return None
    pilot = np.asarray(samples[first : first + length], dtype=np.float64)
    searched = samples[first + distance - reach : first + distance + reach + length]
    if searched.size < length:
        return None
    alike = _alike(searched, pilot)
    late = int(np.argmax(alike)) - reach
    if alike[late + reach] < _SAME_PILOT or abs(late) <= distance * LARGEST_PPM * 1e-6:
        return None
    lost_ms = -1e3 * late / rate
    what = "lost" if late < 0 else "repeated"
    return _dropout(
        abs(lost_ms),
        f"has {abs(lost_ms):.1f} ms {what} between its two pilots: they lie so much "
        f"{'nearer together' if late < 0 else 'farther apart'} than they were played",
    )


@lru_cache(maxsize=8)
def _own_reach(sweep: Sweep, rate: int, length: int) -> int:
    """Samples around its peak that hold the pulse of an intact stream: a narrow band rings long."""
    intact = deconvolve(sweep_samples(sweep, rate), inverse_spectrum(sweep, rate, length))
    energy = intact.astype(np.float64) ** 2
    both = energy[: length // 2] + np.roll(energy[::-1], 1)[: length // 2]
    outside = 1.0 - np.cumsum(both) / both.sum()
    enough = int(np.argmax(outside < 0.1 * _LARGEST_STRAY))
    return max(round(_ELECTRICAL_S * rate), enough, 1)


def wrong_input(circle: NDArray[np.floating], sweep: Sweep, rate: int) -> Diagnosis | None:
    """Whether a recording divided by its sweep, shape (n,), is that of a cable instead of a room.

    The circle whole: cut anywhere, what is low would step there, as short as a cable's pulse.
    """
    spectrum = scipy.fft.rfft(np.asarray(circle, dtype=np.float64))
    grid = np.maximum(scipy.fft.rfftfreq(circle.size, 1.0 / rate), 1e-3)
    if sweep.stop_hz < _NARROW_HZ:
        left, limit = _beside_a_delay(spectrum, grid, sweep), _NO_SUBWOOFER
        evidence = "is left of it if a gain and a delay are taken out"
    else:
        left, limit = _beyond_the_peak(spectrum, grid, rate), _NO_ROOM
        evidence = f"of its energy lies beyond {_AFTER_S * 1e3:.0f} ms of its peak"
    if left > limit:
        return None
    level = float(power_db(max(left, 1e-12)))
    return Diagnosis(
        kind="wrong_input",
        evidence=level,
        sentence=f"holds no room: only {level:.0f} dB {evidence}, as through a cable",
        remedy="the microphone's channel carries the loop-back; choose the microphone's input",
        refuses=True,
    )


def _beyond_the_peak(spectrum: C, grid_hz: F, rate: int) -> float:
    """Share of the energy that is heard more than 3 ms before or after the peak."""
    # The limits of the sweep ring long, and a room does at all frequencies.
    low, high = _ROOM_HZ
    kept = spectrum / np.sqrt((1.0 + (low / grid_hz) ** 8) * (1.0 + (grid_hz / high) ** 8))
    energy = scipy.fft.irfft(kept) ** 2
    reach = round(_AFTER_S * rate)
    # A cable's response begins at time zero and rings across it.
    near = (int(np.argmax(energy)) + np.arange(-reach, reach + 1)) % energy.size
    return 1.0 - float(energy[near].sum()) / max(float(energy.sum()), 1e-30)


def _beside_a_delay(spectrum: C, grid_hz: F, sweep: Sweep) -> float:
    """Share of the power within the sweep's band that the best gain and delay leave."""
    inside = (grid_hz > _WITHIN * sweep.start_hz) & (grid_hz < sweep.stop_hz / _WITHIN)
    within = np.where(inside, spectrum, 0.0)
    power = float(np.sum(np.abs(within) ** 2))
    # The sum over the bins at each delay.
    in_phase = (within.size - 1) * np.abs(scipy.fft.irfft(within))
    return 1.0 - float(in_phase.max()) ** 2 / max(power * np.count_nonzero(inside), 1e-30)


def _dropout(evidence: float, sentence: str) -> Diagnosis:
    return Diagnosis(
        kind="dropout",
        evidence=evidence,
        sentence=sentence,
        remedy="make the interface's buffer larger, close other programs, and record it again",
        refuses=True,
    )


def _at_rate(pilot: NDArray[np.float32], ratio: float) -> F:
    return pilot.astype(np.float64) if ratio == 1.0 else resample(pilot, ratio)


def _likeness(samples: NDArray[np.floating], pilot: F, stop: int) -> float:
    """Largest normalised correlation with a pilot in the first half of a recording."""
    searched = np.asarray(samples[: max(stop, samples.size // 2)], dtype=np.float64)
    if searched.size < pilot.size:
        return 0.0
    return float(_alike(searched, pilot).max())


def _alike(samples: NDArray[np.floating], pilot: F) -> F:
    """Normalised correlation with a pilot at every place, without sign."""
    searched = np.asarray(samples, dtype=np.float64)
    correlation = np.abs(scipy.signal.correlate(searched, pilot, "valid", method="fft"))
    sums = np.cumsum(np.concatenate(([0.0], searched**2)))
    local = np.sqrt(np.maximum(sums[pilot.size :] - sums[: -pilot.size], 0.0))
    norm = np.maximum(local, 0.01 * local.max()) * np.sqrt(pilot @ pilot)
    return np.asarray(correlation / np.maximum(norm, 1e-30))
