"""What the graph desk draws of measured and predicted responses: lines, and how they are made.

Levels are those of a sine 20 dB below full scale, in dB SPL, where the responses are absolute.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Final, Literal, get_args

import numpy as np
from numpy.typing import NDArray
from scipy import fft

from roomwright._errors import InputError
from roomwright.analysis import (
    arrival_s,
    energy_time_db,
    frequency_dependent_window,
    level_spread,
    smoothed_group_delay_s,
    step_response,
)
from roomwright.handover.levels import SPL_OF_ONE_DB
from roomwright.measurement import ResponseSet
from roomwright.signals import (
    frequencies_hz,
    log_frequencies,
    minimum_phase,
    power_db,
    smooth_complex,
    smooth_power,
)

F = NDArray[np.float64]
C = NDArray[np.complex128]

Quantity = Literal[
    "level",
    "phase",
    "group delay",
    "excess phase",
    "excess group delay",
    "impulse",
    "step",
    "energy-time",
]

QUANTITIES: Final[tuple[Quantity, ...]] = get_args(Quantity)
OVER_TIME: Final = frozenset({"impulse", "step", "energy-time"})

#: Parts of an octave that curves can be smoothed over.
SMOOTHINGS: Final = (1, 3, 6, 12, 24, 48)

#: Curves over frequency have this many points an octave, within these limits, hertz.
PER_OCTAVE: Final = 96
RANGE_HZ: Final = (10.0, 22_000.0)

#: Curves over time show this much, seconds after the earliest sample.
_SHOWN_S: Final = {"impulse": 0.25, "step": 0.25, "energy-time": 0.6}

#: Energy-time curves give the highest level in each of these, seconds.
_BLOCK_S: Final = 0.0001

#: The last part of a time window fades out.
_FADE: Final = 0.25


@dataclass(frozen=True, slots=True)
class Window:
    """The part of a response that is looked at, counted from the direct sound.

    `whole` takes everything; `time` ends after `amount` seconds, fading over the last quarter;
    `cycles` shortens with frequency and ends after `amount` periods.
    """

    kind: Literal["whole", "time", "cycles"] = "whole"
    amount: float = 0.0

    @property
    def says(self) -> str:
        """The window in words."""
        if self.kind == "time":
            return f"window to {self.amount * 1000:g} ms after the direct sound"
        if self.kind == "cycles":
            return f"window of {self.amount:g} periods around the direct sound"
        return "whole response"


WHOLE: Final = Window()


@dataclass(frozen=True, slots=True)
class Reading:
    """What is read from a response: the quantity, smoothed over 1/`smoothing` octave, a window."""

    quantity: Quantity = "level"
    smoothing: int = 12
    window: Window = WHOLE

    @property
    def says(self) -> str:
        """How it is computed, in words, for a caption."""
        if self.quantity in OVER_TIME:
            return f"{_TIME_SAYS[self.quantity]}; {self.window.says}"
        smoothed = f"smoothed over 1/{self.smoothing} octave"
        if self.smoothing == 1:
            smoothed = "smoothed over 1 octave"
        kind = "power" if self.quantity == "level" and self.window.kind != "cycles" else "complex"
        removed = "" if self.quantity == "level" else "; counted from the direct sound"
        return f"{smoothed} ({kind}); {self.window.says}{removed}"


_TIME_SAYS: Final = {
    "impulse": "each response re its own peak",
    "step": "running sum of the response, each re its own peak",
    "energy-time": "envelope, highest level in each 0.1 ms, each re its own peak",
}


@dataclass(frozen=True, slots=True, eq=False)
class Line:
    """One curve, x and y of shape (m,); y is NaN where there is nothing to show."""

    x: F
    y: F


def line(responses: ResponseSet, source: str, station: str, reading: Reading) -> Line:
    """One quantity of one source at one station.

    Raises
    ------
    InputError
        If the pair was not measured, or the window does not give the quantity.
    """
    samples = responses.samples[responses.index(source, station)].astype(np.float64)
    return _read(responses, samples[None], reading)


def average(responses: ResponseSet, source: str, stations: Sequence[str], reading: Reading) -> Line:
    """Level of the mean power over the stations at which a source was measured.

    Raises
    ------
    InputError
        If it was measured at none of them, or the quantity is not the level: no other has a
        meaningful average over stations.
    """
    if reading.quantity != "level":
        raise InputError(f"{reading.quantity} has no average over stations; choose single ones")
    return _read(responses, _measured(responses, source, stations), reading)


def spread(
    responses: ResponseSet, source: str, stations: Sequence[str], reading: Reading
) -> tuple[F, F, F]:
    """Frequencies, lowest and highest level over stations, each (m,).

    Raises
    ------
    InputError
        As `average` does.
    """
    samples = _measured(responses, source, stations)
    at = grid(responses.sampling_rate_hz)
    levels = power_db(_power(responses, samples, reading, at)) + _zero_db(responses)
    around = level_spread(levels)
    low: F = levels.min(axis=0)
    return at, low, low + around.range_db


def trusted_hz(
    responses: ResponseSet, source: str, stations: Sequence[str]
) -> tuple[float, float] | None:
    """Band in which a source is trusted at all of the stations; None where it is in none."""
    row = responses.sources.index(source)
    columns = [responses.stations.index(station) for station in stations]
    bands = responses.trusted_hz[row, columns][responses.present[row, columns]]
    if not bands.size:
        return None
    low, high = float(bands[:, 0].max()), float(bands[:, 1].min())
    return (low, high) if low < high else None


def arrival_ms(responses: ResponseSet, source: str, station: str) -> float:
    """When the direct sound arrives, milliseconds after the first sample; 0 if none is found.

    Raises
    ------
    InputError
        If the pair was not measured.
    """
    samples = responses.samples[responses.index(source, station)]
    return 1000.0 * float(_arrivals(samples[None], responses.sampling_rate_hz)[0])


def grid(sampling_rate_hz: int) -> F:
    """Frequencies of all curves, hertz."""
    low, high = RANGE_HZ
    return log_frequencies(low, min(high, 0.49 * sampling_rate_hz), PER_OCTAVE)


def _read(responses: ResponseSet, samples: F, reading: Reading) -> Line:
    """The quantity of responses (k, n): of the only one, or the mean power's level of several."""
    rate = responses.sampling_rate_hz
    if reading.quantity in OVER_TIME:
        return _over_time(_windowed(samples, rate, reading.window)[0], rate, reading.quantity)
    at = grid(rate)
    if reading.quantity == "level":
        power = _power(responses, samples, reading, at).mean(axis=0)
        return Line(at, power_db(power) + _zero_db(responses))
    return Line(at, _OVER_FREQUENCY[reading.quantity](samples, rate, reading, at))


def _measured(responses: ResponseSet, source: str, stations: Sequence[str]) -> F:
    row = responses.sources.index(source)
    columns = [responses.stations.index(station) for station in stations]
    known = [column for column in columns if responses.present[row, column]]
    if not known:
        raise InputError(f"{source} was measured at none of {', '.join(stations)}")
    return responses.samples[row, known].astype(np.float64)


def _zero_db(responses: ResponseSet) -> float:
    return SPL_OF_ONE_DB if responses.absolute else 0.0


def _arrivals(samples: F, rate: int) -> F:
    return np.nan_to_num(arrival_s(samples, rate))


def _windowed(samples: F, rate: int, window: Window) -> F:
    """Responses (k, n) with a time window on; one in cycles is not for all frequencies at once."""
    if window.kind == "cycles":
        raise InputError("a window in periods gives level and phase only; choose another window")
    if window.kind == "whole":
        return samples
    after = np.arange(samples.shape[-1]) / rate - _arrivals(samples, rate)[:, None]
    place = np.clip((after / window.amount - 1.0 + _FADE) / _FADE, 0.0, 1.0)
    weighted: F = samples * np.cos(np.pi / 2 * place) ** 2
    return weighted


def _power(responses: ResponseSet, samples: F, reading: Reading, at: F) -> F:
    """Smoothed power of responses (k, n) at frequencies (m,): (k, m)."""
    rate = responses.sampling_rate_hz
    if reading.window.kind == "cycles":
        seen: F = np.abs(_in_cycles(samples, rate, reading, at)) ** 2
        return seen
    spectrum = fft.rfft(_windowed(samples, rate, reading.window), workers=-1)
    frequencies = frequencies_hz(samples.shape[-1], rate)
    return smooth_power(np.abs(spectrum) ** 2, frequencies, reading.smoothing, at)


def _in_cycles(samples: F, rate: int, reading: Reading, at: F) -> C:
    """Responses (k, m) seen through a window in periods, turned back by their arrival.

    The window smooths by itself: about 1/`amount` of the frequency.
    """
    centre = _arrivals(samples, rate)
    seen = frequency_dependent_window(samples, rate, reading.window.amount, at, centre)
    turned: C = seen * np.exp(2j * np.pi * at * centre[:, None])
    return turned


def _from_arrival(samples: F, rate: int, reading: Reading) -> tuple[C, F, float]:
    """Spectrum (bins,) of one response counted from its direct sound, frequencies, arrival."""
    seen = _windowed(samples, rate, reading.window)[0]
    arrival = float(_arrivals(samples, rate)[0])
    frequencies = frequencies_hz(seen.size, rate)
    spectrum = fft.rfft(seen, workers=-1) * np.exp(2j * np.pi * frequencies * arrival)
    return spectrum, frequencies, arrival


def _phase(samples: F, rate: int, reading: Reading, at: F) -> F:
    if reading.window.kind == "cycles":
        return _degrees(_in_cycles(samples, rate, reading, at)[0])
    spectrum, frequencies, _ = _from_arrival(samples, rate, reading)
    return _degrees(smooth_complex(spectrum, frequencies, reading.smoothing, at))


def _degrees(response: C) -> F:
    degrees: F = np.rad2deg(np.angle(response))
    return degrees


def _excess(samples: F, rate: int, reading: Reading) -> tuple[C, F]:
    """All-pass part of one response, counted from its direct sound, and its frequencies."""
    spectrum, frequencies, _ = _from_arrival(samples, rate, reading)
    return spectrum * minimum_phase(np.abs(spectrum)).conj(), frequencies


def _excess_phase(samples: F, rate: int, reading: Reading, at: F) -> F:
    excess, frequencies = _excess(samples, rate, reading)
    return _degrees(smooth_complex(excess, frequencies, reading.smoothing, at))


def _group_delay(samples: F, rate: int, reading: Reading, at: F) -> F:
    """Milliseconds after the direct sound."""
    seen = _windowed(samples, rate, reading.window)[0]
    arrival_s = float(_arrivals(samples, rate)[0])
    return _delay_ms(seen, rate, reading.smoothing, at) - 1000.0 * arrival_s


def _excess_group_delay(samples: F, rate: int, reading: Reading, at: F) -> F:
    seen = _windowed(samples, rate, reading.window)[0]
    minimum = fft.irfft(minimum_phase(np.abs(fft.rfft(seen, workers=-1))), seen.size, workers=-1)
    least = _delay_ms(minimum, rate, reading.smoothing, at)
    return _group_delay(samples, rate, reading, at) - least


def _delay_ms(samples: F, rate: int, smoothing: int, at: F) -> F:
    return 1000.0 * smoothed_group_delay_s(samples, rate, smoothing, at)


_OVER_FREQUENCY: Final[dict[str, Callable[[F, int, Reading, F], F]]] = {
    "phase": _phase,
    "group delay": _group_delay,
    "excess phase": _excess_phase,
    "excess group delay": _excess_group_delay,
}


def _over_time(samples: F, rate: int, quantity: Quantity) -> Line:
    shown = samples[: round(_SHOWN_S[quantity] * rate)]
    if quantity == "energy-time":
        block = max(round(_BLOCK_S * rate), 1)
        levels = energy_time_db(samples)[: shown.size // block * block]
        times = (np.arange(levels.size // block) + 0.5) * block / rate
        return Line(1000.0 * times, levels.reshape(-1, block).max(axis=-1))
    values = step_response(samples)[: shown.size] if quantity == "step" else shown
    peak = float(np.abs(values).max(initial=0.0))
    return Line(1000.0 * np.arange(shown.size) / rate, 100.0 * values / (peak or 1.0))
