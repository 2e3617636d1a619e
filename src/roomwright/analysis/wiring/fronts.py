"""The first front of every unit's sound at every station: when it comes, and which way it goes."""

from __future__ import annotations

from typing import Final

import numpy as np
from numpy.typing import NDArray
from scipy import fft

from roomwright.analysis.arrival import arrival_s
from roomwright.analysis.wiring.system import HeardSystem

F = NDArray[np.float64]

#: Band in which loudspeakers are timed.
_MAIN_BAND_HZ: Final = (500.0, 5000.0)

#: A subwoofer's arrival is told by what it still plays high above its range: the two octaves below
#: this, or below where it drowns in noise. In the range itself walls and floor are as near as a
#: tenth of a wave, and their reflections part of the front.
_SUB_TOP_HZ: Final = 3000.0
_OCTAVES: Final = 2.0


def band_of(heard: HeardSystem, row: int) -> tuple[float, float]:
    """The band in which the fronts of a unit are looked for, hertz."""
    unit = heard.units[row]
    if not unit.subwoofer:
        return _MAIN_BAND_HZ
    top = max(min(_usual_top_hz(heard, row), _SUB_TOP_HZ), 2.0 * unit.high_hz)
    return top / 2.0**_OCTAVES, top


def _usual_top_hz(heard: HeardSystem, row: int) -> float:
    """Up to which frequency units like one are usually heard over the noise."""
    name = heard.units[row].like
    like = [r for r, other in enumerate(heard.units) if other.like == name]
    tops = heard.top_hz[like][heard.usable[like]]
    return float(np.median(tops)) if tops.size else _SUB_TOP_HZ


def fronts_s(heard: HeardSystem, row: int) -> F:
    """Arrival of a unit's first front at each station, seconds, shape (P,); NaN if unknown."""
    flat = _flattened(heard, row)
    band = band_of(heard, row)
    late = arrival_s(flat, heard.sampling_rate_hz, band)
    return np.where(heard.usable[row] & reaches_beyond(heard, row), late, np.nan)


def reaches_beyond(heard: HeardSystem, row: int) -> bool:
    """Whether what was heard of units like one reaches beyond its range, where its front is.

    A sweep that stays within a subwoofer's range leaves nothing there.
    """
    unit = heard.units[row]
    return not unit.subwoofer or _usual_top_hz(heard, row) > unit.high_hz


def fronts(heard: HeardSystem, row: int) -> list[F | None]:
    """The first front of a unit at each station, band-limited, cut out around its arrival.

    None where it is unknown. A front is twice the inverse of the bandwidth long.
    """
    flat = _flattened(heard, row)
    band = band_of(heard, row)
    reach = max(round(heard.sampling_rate_hz / (band[1] - band[0])), 2)
    length = fft.next_fast_len(flat.shape[-1] + 4 * reach, real=True)
    grid = np.maximum(fft.rfftfreq(length, 1.0 / heard.sampling_rate_hz), 1e-3)
    weight = 1.0 / np.sqrt((1.0 + (band[0] / grid) ** 8) * (1.0 + (grid / band[1]) ** 8))
    filtered = fft.irfft(fft.rfft(flat, length) * weight, length)
    cut: list[F | None] = []
    for response, at in zip(filtered, fronts_s(heard, row), strict=True):
        middle = -1 if not np.isfinite(at) else round(at * heard.sampling_rate_hz)
        known = reach <= middle < response.size - reach
        cut.append(response[middle - reach : middle + reach] if known else None)
    return cut


def likeness(first: list[F | None], second: list[F | None]) -> float:
    """Mean correlation of two units' fronts over the stations, -1 to 1; 0 if none is known.

    They are compared at the delay, within an eighth of their length, at which they are most alike,
    be it upright or upside down: more would slide one lobe of a front over the next.
    """
    known = [
        _alike(a, b) for a, b in zip(first, second, strict=True) if not (a is None or b is None)
    ]
    return float(np.mean(known)) if known else 0.0


def uprightness(cut: list[F | None], high_slope_db: int) -> float:
    """How upright a subwoofer's fronts stand, mean over the stations; 0 if nothing tells.

    Above its range a roll-off of order n divides the spectrum by (j w / w0)^n. Differentiated twice
    a front of order 2 is a pulse without phase, whose crest is higher than its lobes are deep; with
    each two orders more it turns over, and odd orders make it lean instead. In two octaves the
    pulse has a crest twice as high as its lobes, which is 1/3 here.
    """
    order = high_slope_db // 6
    known = [front for front in cut if front is not None]
    if order % 2 or not known:
        return 0.0
    leans = [(front.max() + front.min()) / max(np.ptp(front), 1e-30) for front in known]
    return float(np.mean(leans)) * (-1.0) ** (order // 2 - 1)


def _alike(first: F, second: F) -> float:
    cross = np.correlate(second, first, "full")
    middle, slack = cross.size // 2, first.size // 16
    near = cross[middle - slack : middle + slack + 1]
    size = np.sqrt(float(first @ first) * float(second @ second))
    return float(near[int(np.argmax(np.abs(near)))] / max(size, 1e-30))


def _flattened(heard: HeardSystem, row: int) -> F:
    """A unit's responses, (P, n); a subwoofer's differentiated twice, against its roll-off."""
    samples = np.asarray(heard.samples[row], dtype=np.float64)
    if not heard.units[row].subwoofer:
        return samples
    # Padded after the difference: what the first sample holds is no step.
    return np.asarray(np.pad(np.diff(samples, 2, axis=-1), ((0, 0), (0, 2))))
