"""Whether the microphone was moved from one station to the next."""

from __future__ import annotations

from typing import Final

import numpy as np
from numpy.typing import NDArray
from scipy import fft

from roomwright.analysis.wiring.system import HeardSystem
from roomwright.model import Diagnosis

#: Compared are the first tenth of a second and these frequencies: a wave of 1 kHz is 0.34 m long,
#: so that two places 0.1 m apart or more hear it differently.
_LENGTH_S, _BAND_HZ, _APART_M = 0.1, (700.0, 6000.0), 0.1

#: Responses this much alike are of one place: at 0.1 m a diffuse field of the band keeps less than
#: a third, and the direct sound comes at another time.
_SAME: Final = 0.95


def not_moved(heard: HeardSystem) -> tuple[Diagnosis, ...]:
    """Stations that sound exactly like an earlier one though they are planned elsewhere."""
    rows = heard.rows(subwoofers=False)
    found = []
    moved_back: set[int] = set()
    for later in range(1, len(heard.stations)):
        for earlier in range(later):
            apart_m = float(np.linalg.norm(heard.station_m[later] - heard.station_m[earlier]))
            if apart_m < _APART_M or later in moved_back:
                continue
            alike = [
                _alike(heard, row, earlier, later)
                for row in rows
                if heard.usable[row, earlier] and heard.usable[row, later]
            ]
            if not alike or float(np.median(alike)) < _SAME:
                continue
            moved_back.add(later)
            likeness = float(np.median(alike))
            found.append(
                Diagnosis(
                    kind="not_moved",
                    stations=(heard.stations[later],),
                    evidence=likeness,
                    sentence=f"sounds exactly like {heard.stations[earlier]} "
                    f"({100 * likeness:.0f} % alike) and should lie {apart_m:.2f} m from it: the "
                    "microphone was not moved",
                    remedy=f"put the microphone at {heard.stations[later]} and record it again",
                )
            )
    return tuple(found)


def _alike(heard: HeardSystem, row: int, one: int, two: int) -> float:
    """Correlation of two responses in the band: at once if they are timed, else at any delay."""
    count = round(_LENGTH_S * heard.sampling_rate_hz)
    pair = heard.samples[row, [one, two], : 3 * count]
    starts = [int(np.argmax(np.abs(response))) for response in pair]
    start = max(min(starts) - count // 10, 0)
    spectra = fft.rfft(pair[:, start : start + count], 2 * count, axis=-1)
    grid = fft.rfftfreq(2 * count, 1.0 / heard.sampling_rate_hz)
    spectra[:, (grid < _BAND_HZ[0]) | (grid > _BAND_HZ[1])] = 0.0
    return _correlation(spectra, timed=heard.timed)


def _correlation(spectra: NDArray[np.complexfloating], *, timed: bool) -> float:
    energy = np.sqrt(np.prod(np.sum(np.abs(spectra) ** 2, axis=-1)))
    if energy <= 0.0:
        return 0.0
    cross = spectra[0].conj() * spectra[1]
    if timed:
        return float(np.sum(cross).real / energy)
    lagged = fft.irfft(cross)
    return float(lagged.max() * lagged.size / 2 / energy)
