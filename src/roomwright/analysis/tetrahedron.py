"""From which direction sound came to a microphone of four capsules, and how it should be turned."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import scipy
from numpy.typing import ArrayLike, NDArray
from scipy import fft

from roomwright import _checks
from roomwright._errors import InputError
from roomwright.analysis.arrival import arrival_s

F = NDArray[np.float64]

#: The direct sound is looked at this long before and after its crest; a reflection that comes
#: later than that leaves it alone.
_BEFORE_S, _AFTER_S = 0.001, 0.0015

#: Correlations are read this many times finer than the samples are, before a parabola.
_FINER = 16


@dataclass(frozen=True, slots=True)
class Bearing:
    """Where sound came from, as the microphone sees it.

    Attributes
    ----------
    azimuth_deg, elevation_deg
        0 ahead, positive to the left and up.
    distance_m
        NaN where time zero is not known.
    deviation_deg
        Standard deviation of the direction for the timing noise given.
    """

    azimuth_deg: float
    elevation_deg: float
    distance_m: float
    deviation_deg: float


def capsules_m(radius_m: float) -> F:
    """Capsules of a regular tetrahedron around the microphone's centre, shape (4, 3).

    In the order front left up, front right down, back left down, back right up; x to the right,
    y to the back, z up, as the room's axes are for a microphone that faces the front wall.

    Parameters
    ----------
    radius_m
        Distance of each capsule from the centre.

    Raises
    ------
    InputError
        If it is not positive.
    """
    corners = np.array([(-1, -1, 1), (1, -1, -1), (-1, 1, -1), (1, 1, 1)], dtype=np.float64)
    return np.asarray(
        corners / np.sqrt(3.0) * _checks.positive(radius_m, "the microphone's radius")
    )


def capsule_arrivals_s(samples: ArrayLike, sampling_rate_hz: float) -> F:
    """When the direct sound reached each capsule, to a small part of a sample.

    The crest of each capsule's own envelope is sharpened by the correlations of all pairs, which
    see the whole wave front and not its crest alone.

    Parameters
    ----------
    samples
        Impulse responses of one loudspeaker, one for each capsule, shape (m, n), one time zero.
    sampling_rate_hz
        Hertz.

    Returns
    -------
    Seconds after sample 0, shape (m,).

    Raises
    ------
    InputError
        If no direct sound stands out of the noise at some capsule.
    """
    given = np.asarray(samples, dtype=np.float64)
    rough = arrival_s(given, sampling_rate_hz)
    if np.isnan(rough).any():
        raise InputError(
            f"capsule {int(np.flatnonzero(np.isnan(rough))[0]) + 1} heard no direct sound above "
            "the noise; play louder or check its cable"
        )
    first = int((rough.min() - _BEFORE_S) * sampling_rate_hz)
    last = int((rough.max() + _AFTER_S) * sampling_rate_hz)
    lead = max(-first, 0)
    padded = np.pad(given, ((0, 0), (lead, max(last - given.shape[-1], 0))))
    heard = padded[:, first + lead : last + lead]
    heard = heard * np.hanning(heard.shape[-1])
    n = 2 * heard.shape[-1]
    spectra = fft.rfft(heard, n)
    count = len(given)
    pairs = [(i, j) for i in range(count) for j in range(i)]
    lags = [_lag(spectra[j] * spectra[i].conj(), n) for i, j in pairs]
    # All pairs together, by least squares, with the mean where the crests have it.
    system = np.zeros((len(pairs), count))
    for row, (i, j) in enumerate(pairs):
        system[row, i], system[row, j] = 1.0, -1.0
    relative = np.linalg.lstsq(system, np.array(lags), rcond=None)[0]
    return np.asarray(rough.mean() + (relative - relative.mean()) / sampling_rate_hz)


def bearing(
    arrivals_s: ArrayLike,
    capsule_places_m: ArrayLike,
    *,
    speed_m_s: float,
    timing_s: float,
    timed: bool = True,
) -> Bearing:
    """Direction and distance of a source from its arrivals at the capsules.

    Parameters
    ----------
    arrivals_s
        Shape (m,), four or more; see `capsule_arrivals_s`.
    capsule_places_m
        Relative to the microphone's centre, shape (m, 3); see `capsules_m`.
    speed_m_s
        Of sound.
    timing_s
        Standard deviation of one arrival against another.
    timed
        Whether time zero is when the sound left the loudspeaker; else the wave is taken to be
        plane and there is no distance.

    Raises
    ------
    InputError
        If there are fewer than four capsules, or they lie in one plane.
    """
    places = np.asarray(capsule_places_m, dtype=np.float64)
    if len(places) < 4 or np.linalg.matrix_rank(places - places.mean(axis=0), tol=1e-4) < 3:
        raise InputError(
            "a direction needs four capsules or more that do not lie in one plane; "
            f"there are {len(places)}"
        )
    ranges = np.asarray(arrivals_s, dtype=np.float64) * _checks.positive(
        speed_m_s, "the speed of sound"
    )
    distance_m = float(ranges.mean()) if timed else np.inf
    ahead = -np.linalg.lstsq(places - places.mean(axis=0), ranges - ranges.mean(), rcond=None)[0]

    def left(angles: F) -> F:
        expected = _ranges(_unit(*angles), places, distance_m)
        return np.asarray((expected - expected.mean()) - (ranges - ranges.mean()))

    solved = scipy.optimize.least_squares(left, _angles(ahead), method="lm", xtol=1e-14)
    azimuth, elevation = _angles(_unit(*solved.x))
    return Bearing(
        azimuth_deg=float(np.degrees(azimuth)),
        elevation_deg=float(np.degrees(elevation)),
        distance_m=distance_m if timed else float("nan"),
        deviation_deg=_deviation_deg(_unit(*solved.x), places, timing_s * speed_m_s),
    )


def turn_deg(seen_azimuths_deg: ArrayLike, planned_azimuths_deg: ArrayLike) -> float:
    """By how much a microphone should be turned to face ahead: degrees, positive to the left.

    Parameters
    ----------
    seen_azimuths_deg
        Of one or several loudspeakers as the microphone sees them, shape (n,).
    planned_azimuths_deg
        Where they are seen from its station by one who faces ahead, shape (n,).

    Returns
    -------
    The mean difference on the circle, -180 to 180.
    """
    off = np.radians(
        np.asarray(seen_azimuths_deg, dtype=np.float64)
        - np.asarray(planned_azimuths_deg, dtype=np.float64)
    )
    return float(np.degrees(np.angle(np.mean(np.exp(1j * off)))))


def _lag(cross: NDArray[np.complex128], n: int) -> float:
    """Samples by which the first of a pair comes later, from their cross-spectrum."""
    correlation = fft.irfft(cross.conj(), n * _FINER)
    peak = int(np.argmax(correlation))
    before, at, after = correlation[[peak - 1, peak, (peak + 1) % correlation.size]]
    bend = before - 2 * at + after
    vertex = peak + (0.5 * (before - after) / bend if bend < 0 else 0.0)
    half = correlation.size / 2
    return float((vertex + half) % correlation.size - half) / _FINER


def _unit(azimuth: float, elevation: float) -> F:
    """The direction as a vector in room axes: ahead is -y, left is -x."""
    across = np.cos(elevation)
    return np.array([-across * np.sin(azimuth), -across * np.cos(azimuth), np.sin(elevation)])


def _angles(vector: F) -> F:
    across = np.hypot(vector[0], vector[1])
    return np.array([np.arctan2(-vector[0], -vector[1]), np.arctan2(vector[2], across)])


def _ranges(unit: F, places: F, distance_m: float) -> F:
    """Distances of the capsules from the source, but for a constant."""
    if np.isinf(distance_m):
        return np.asarray(-places @ unit)
    return np.asarray(np.linalg.norm(distance_m * unit - places, axis=1))


def _deviation_deg(unit: F, places: F, range_m: float) -> float:
    """Rms angle by which ranges of that standard deviation turn the direction."""
    centred = places - places.mean(axis=0)
    across = np.linalg.svd(unit[None])[2][1:]
    slopes = centred @ across.T
    variance = np.trace(np.linalg.inv(slopes.T @ slopes)) / 2
    return float(np.degrees(range_m * np.sqrt(variance)))
