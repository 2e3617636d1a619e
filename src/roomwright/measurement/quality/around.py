"""Power over time and octave of a whole recording where nothing that was played is heard.

Before and after a sweep and its decay all octaves are free, and those that a narrow sweep and its
harmonics never come to are free all along: there the room alone is heard.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from roomwright.measurement.alignment import Alignment
from roomwright.measurement.quality.cells import (
    CELL_OCTAVES_HZ,
    CELL_S,
    DIFFUSE_FROM_HZ,
    Cells,
    falls_no_more,
    octave_cells,
    whole_power,
)
from roomwright.measurement.quality.orders import falls_with_order
from roomwright.model import Sweep
from roomwright.signals import band_edges, timeline

F = NDArray[np.float64]

#: Harmonics up to this order are heard of a sound loudspeaker. Common practice, no source.
_HIGHEST_ORDER: Final = 5

#: What is played is heard beyond its own frequencies by this factor: it fades in and out fast.
_SKIRTS: Final = 2.0

#: A decay is over where three cells in a row come this close to the noise, power; the noise is read
#: from this quantile of an octave's cells, or where decays fill them, from the three in a row that
#: are the least, which steady noise exceeds by less than this, power.
_DECAYED, _NOISE, _OVER_LEAST = 1.5, 0.2, 4.0

#: Harmonics above those that are known fall by 12 dB a doubling of the order, as for a kink in the
#: transfer curve; the room's gain at one differs by so much from that at the fundamental, power.
#: Common practice, no source.
_FALL, _ROOM_GAINS = 4.0, 4.0

#: What dies away does not rise again by this, power: what does is another sound.
_RISES_AGAIN: Final = 6.0


@dataclass(frozen=True, slots=True, eq=False)
class FreeCells:
    """Cells in which nothing that was played is heard, and what its harmonics may be there.

    Attributes
    ----------
    cells
        Their time is that of the recording after the sweep's start. While the sweep plays, only
        octaves above it are looked at, as long as its harmonics up to the fifth do not reach them;
        `above` marks those cells, and `sweep_hz` is NaN at all other times.
    whole
        Power of all that is heard at the time of each, shape (T,).
    """

    cells: Cells
    whole: F

    def harmonics(self, distortion_db: F) -> F:
        """Greatest power that harmonics of a loudspeaker have in each cell, shape (T, B).

        Parameters
        ----------
        distortion_db
            Orders 2 to 5 re the fundamental, shape (4,); NaN where unknown. With none, or where
            they do not fall with their order, nothing is to be expected.
        """
        known = np.isfinite(distortion_db)
        expected = np.zeros(self.cells.power.shape)
        if not known.any() or not falls_with_order(distortion_db):
            return expected
        low, _ = band_edges(CELL_OCTAVES_HZ, 1)
        during = np.isfinite(self.cells.sweep_hz)
        lowest = low / self.cells.sweep_hz[during, None]
        orders = 2.0 + np.flatnonzero(known)
        strength = 10.0 ** (distortion_db[known] / 10.0)
        each = (strength * (orders / lowest[..., None]) ** _FALL).max(axis=-1)
        # From the lowest in an octave to twice it their powers add up.
        together = lowest * (1.0 - 2.0 ** (1.0 - _FALL)) / (_FALL - 1.0)
        heard = each * np.maximum(together, 1.0) * self.whole[during, None]
        expected[during] = _ROOM_GAINS * heard
        return expected


def free_cells(
    microphone: NDArray[np.floating],
    alignment: Alignment,
    sweep: Sweep,
    rate: int,
    *,
    alone: bool,
) -> FreeCells:
    """Cells of a recording in which nothing that was played is heard, by what was played.

    Parameters
    ----------
    microphone
        The recording, shape (n,).
    alignment
        Where the sweep lies in it.
    sweep, rate
        What was played, and the recorder's rate.
    alone
        Whether no other loudspeaker played the pilots. The one measured may have, within its band.
    """
    size = 2 * (round(CELL_S * rate) // 2)
    places = timeline(sweep, rate)
    start = round(alignment.start)
    # Who records longer than was played talks before and after it.
    first = max(start - places.sweep_start, 0)
    kept = np.asarray(
        microphone[first : start - places.sweep_start + places.total], dtype=np.float64
    )
    power, width = octave_cells(kept, size, rate)
    time_s = ((np.arange(power.shape[0]) + 1) * (size // 2) + first - start) / rate
    half_s = 0.5 * size / rate
    own = sweep.start_hz, sweep.stop_hz
    pilot = sweep.pilot_band_hz or own
    if alone:
        pilot = max(pilot[0], own[0]), min(pilot[1], own[1])
    hidden = np.zeros(power.shape, dtype=bool)
    starts_s = [(at - places.sweep_start) / rate for at in (places.pilot_1, places.pilot_2)]
    for from_s, next_s in ((starts_s[0], 0.0), (starts_s[1], float("inf"))):
        to_s = from_s + sweep.pilot_s
        _hide(hidden, power, time_s, _reached(pilot), from_s, (to_s, next_s), rate)
    everywhere, ends_s = np.ones(width.size, dtype=bool), (sweep.duration_s, starts_s[1])
    _hide(hidden, power, time_s, everywhere, _enters_s(sweep), ends_s, rate)
    during = (time_s > -half_s) & (time_s < sweep.duration_s + half_s)
    lag_s = sweep.duration_s / float(np.log(sweep.stop_hz / sweep.start_hz))
    passed = sweep.start_hz * np.exp(np.clip(time_s, 0.0, sweep.duration_s) / lag_s)
    degrees = np.maximum(2.0 * width / 1.5, 1.0)
    cells = Cells(
        time_s=time_s,
        power=np.where(hidden, np.nan, power),
        above=np.broadcast_to(during[:, None], power.shape),
        degrees=np.broadcast_to(degrees, power.shape),
        sweep_hz=np.where(during, passed, np.nan),
    )
    return FreeCells(cells, whole_power(kept, size))


def _reached(band_hz: tuple[float, float]) -> NDArray[np.bool_]:
    """Octaves in which a band, its skirts or its harmonics are heard, shape (B,)."""
    low, high = band_edges(CELL_OCTAVES_HZ, 1)
    above = low < max(_HIGHEST_ORDER, _SKIRTS) * band_hz[1]
    return np.asarray(above & (high > band_hz[0] / _SKIRTS))


def _enters_s(sweep: Sweep) -> F:
    """When the sweep or its harmonics enter each octave, seconds, shape (B,); 0 for those below."""
    low, _ = band_edges(CELL_OCTAVES_HZ, 1)
    lag_s = sweep.duration_s / float(np.log(sweep.stop_hz / sweep.start_hz))
    enters_hz = np.clip(low / _HIGHEST_ORDER, sweep.start_hz, sweep.stop_hz)
    return np.asarray(lag_s * np.log(enters_hz / sweep.start_hz))


def _hide(
    hidden: NDArray[np.bool_],
    power: F,
    time_s: F,
    octaves: NDArray[np.bool_],
    from_s: F | float,
    ends_s: tuple[float, float],
    rate: int,
) -> None:
    """Hide what is played in some octaves, and what then dies away until the next is played.

    `from_s` is when it begins, `ends_s` when it ends and when the next begins, seconds.
    """
    half_s = float(time_s[1] - time_s[0])
    least = ((power[:-2] + power[1:-1] + power[2:]) / 3.0).min(axis=0)
    noise = np.minimum(np.quantile(power, _NOISE, axis=0), _OVER_LEAST * least)
    quiet = power < _DECAYED * noise
    still = quiet[:-2] & quiet[1:-1] & quiet[2:]
    first = np.broadcast_to(from_s, octaves.shape)
    ends, following = (
        int(np.searchsorted(time_s, at)) for at in (ends_s[0] + half_s, ends_s[1] - half_s)
    )
    decay = power[ends:following]
    over = still[ends:].copy()
    seen = max(decay.shape[0] - 2, 0)
    # What falls no more from three cells on may still fall within the three.
    over[2:seen] |= falls_no_more(decay, round(half_s * rate), rate)[: max(seen - 2, 0)]
    again = decay > _RISES_AGAIN * np.minimum.accumulate(decay, axis=0)
    over[:seen] |= again[:seen] & (CELL_OCTAVES_HZ > DIFFUSE_FROM_HZ)
    for octave in np.flatnonzero(octaves):
        begins = min(int(np.searchsorted(time_s, first[octave] - half_s)), ends)
        if first[octave] >= ends_s[0]:
            begins = ends
            if still[max(ends - 3, 0) : ends, octave].any():
                # Nothing came of the sweep: nothing dies away.
                continue
        found = np.flatnonzero(over[:, octave])
        stops = ends + int(found[0]) if found.size else hidden.shape[0]
        hidden[begins:stops, octave] = True
