"""Rattles far above a narrow sweep, where a sound subwoofer gives nothing and no sweep hides it."""

from __future__ import annotations

from typing import Final

import numpy as np
from numpy.typing import NDArray

from roomwright.measurement.alignment import Alignment
from roomwright.measurement.quality.cells import CELL_OCTAVES_HZ, CELL_S, octave_cells
from roomwright.model import Diagnosis, Sweep
from roomwright.signals import band_edges, instantaneous_frequency_hz, nominal_words

#: Harmonics up to this order of the highest frequency lie below the octaves looked at.
_HIGHEST_ORDER: Final = 5

#: Over the noise after the sweep, dB: what rises less is the room, as for noises that come and go.
#: Common practice, no source.
_RISE_DB: Final = 4.0

#: Noise is read from this long after the sweep on, at least in so many cells.
_AFTER_S, _CELLS = 0.2, 6

#: A part that rattles does so over some octaves, while the cone moves far, and falls silent by so
#: much towards the top, where the cone hardly moves; harmonics of high order rise until the end.
_OCTAVES, _FALLS_BACK_DB = 1.2, 4.0


def rattles_above(
    microphone: NDArray[np.floating], alignment: Alignment, sweep: Sweep, rate: int
) -> Diagnosis | None:
    """A noise far above the sweep that comes and goes with it, and with nothing else.

    Nothing else may play: no loudspeaker the pilots, whose decay would be taken for it.

    Parameters
    ----------
    microphone
        The recording, shape (n,).
    alignment
        Where the sweep lies in it.
    sweep, rate
        What was played, and the recorder's rate.
    """
    low, _ = band_edges(CELL_OCTAVES_HZ, 1)
    octaves = np.flatnonzero(low >= _HIGHEST_ORDER * sweep.stop_hz)
    start = round(alignment.start)
    part = np.asarray(microphone[start : start + round((sweep.duration_s + sweep.tail_s) * rate)])
    size = 2 * (round(CELL_S * rate) // 2)
    if octaves.size == 0 or part.size < 2 * size:
        return None
    power = octave_cells(part, size, rate)[0][:, octaves]
    time_s = (np.arange(power.shape[0]) + 1) * (size // 2) / rate
    after = power[time_s > sweep.duration_s + _AFTER_S]
    if after.shape[0] < _CELLS:
        return None
    steady = np.maximum(np.median(after, axis=0), np.finfo(float).tiny)
    if 10.0 * np.log10(after / steady).max() > _RISE_DB:
        return None
    swept = time_s <= sweep.duration_s
    over_db = 10.0 * np.log10(np.maximum(power[swept] / steady, 1e-12))
    rows = np.flatnonzero(over_db.max(axis=1) > _RISE_DB)
    if rows.size == 0 or over_db[-1].max() > over_db.max() - _FALLS_BACK_DB:
        return None
    passed_hz = instantaneous_frequency_hz(sweep, time_s[swept])
    first, last = (float(passed_hz[rows[end]]) for end in (0, -1))
    if np.log2(last / first) < _OCTAVES:
        return None
    row, octave = np.unravel_index(int(np.argmax(over_db)), over_db.shape)
    loudest = nominal_words(float(CELL_OCTAVES_HZ[octaves[octave]]), 1)
    return Diagnosis(
        kind="rattle",
        evidence=float(over_db[row, octave]),
        sentence=f"rattles while the sweep passes {first:.0f} to {last:.0f} Hz: "
        f"{over_db[row, octave]:.0f} dB over the noise around {loudest}, where the subwoofer "
        "should give nothing",
        remedy="find the loose part (grille, screw, something in the room) or the rubbing coil",
        at_hz=float(np.median(passed_hz[rows])),
    )
