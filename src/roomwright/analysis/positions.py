"""Where a loudspeaker is, from when its sound arrived at several stations."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import scipy
from numpy.typing import ArrayLike, NDArray

from roomwright import _checks
from roomwright._errors import InputError

F = NDArray[np.float64]

#: Stations count as lying in one plane, or on one line, if they leave it by less than this:
#: their own places are not known better.
_FLAT_M = 0.02

#: From flat stations, a source this near to their plane has its height from second order only.
_NO_BOUND = float("inf")


@dataclass(frozen=True, slots=True, eq=False)
class Located:
    """A source found from arrival times.

    Attributes
    ----------
    position_m
        Shape (3,).
    deviation_m
        Its standard deviation along each axis, shape (3,); infinite where the stations tell
        nothing of it. The places of the stations and the speed of sound are taken as exact: 1 K
        of error moves a source 4 m away by 7 mm.
    residual_s
        Root mean square of what the arrival times differ from that place by.
    offset_s, offset_deviation_s
        The latency common to all and its standard deviation, where it was not known and is found
        along with the place; None otherwise.
    mirrored_m
        The place behind the stations' plane that explains the times as well; None if there is
        none.
    """

    position_m: F
    deviation_m: F
    residual_s: float
    offset_s: float | None
    offset_deviation_s: float | None
    mirrored_m: F | None


def locate(
    stations_m: ArrayLike,
    arrivals_s: ArrayLike,
    near_m: ArrayLike,
    *,
    speed_m_s: float,
    timing_s: float = 1e-5,
    timed: bool = True,
) -> Located:
    """The place of a source by least squares on its arrival times.

    Parameters
    ----------
    stations_m
        Where the microphone stood, shape (n, 3).
    arrivals_s
        When the direct sound arrived, shape (n,); NaN where that is not known.
    near_m
        Where the source should be, shape (3,): of two places that explain the times equally the
        nearer one is taken.
    speed_m_s
        Of sound.
    timing_s
        Standard deviation of an arrival time; the residual counts instead where it is larger.
    timed
        Whether time zero is when the sound left the loudspeaker; else an unknown latency, the
        same for all stations, is found along with the place.

    Raises
    ------
    InputError
        If there are fewer stations than unknowns, or they stand on one line.

    References
    ----------
    Foy, IEEE Trans. Aerosp. Electron. Syst. AES-12(2), 1976 (position by iterated least squares).
    """
    known = np.isfinite(np.asarray(arrivals_s, dtype=np.float64))
    places = np.asarray(stations_m, dtype=np.float64)[known]
    ranges = np.asarray(arrivals_s, dtype=np.float64)[known] * _checks.positive(
        speed_m_s, "the speed of sound"
    )
    near = np.asarray(near_m, dtype=np.float64)
    needed = 3 if timed else 4
    if len(places) < needed:
        raise InputError(
            f"a place needs arrival times from {needed} stations or more; there are {len(places)}"
        )
    centre = places.mean(axis=0)
    axes, extents = _axes(places - centre)
    if extents[1] < _FLAT_M:
        raise InputError(
            "the stations stand on one line, which leaves a circle of places; measure at one "
            "beside it too"
        )
    flat = extents[2] < _FLAT_M
    best = _nearest(_solutions(places, ranges, _starts(near, centre, axes[2]), timed=timed), near)
    mirrored = None
    if flat:
        mirrored = best[:3] - 2 * axes[2] * ((best[:3] - centre) @ axes[2])
        if np.linalg.norm(mirrored - near) < np.linalg.norm(best[:3] - near):
            best[:3], mirrored = mirrored, best[:3].copy()
    residual_m = _residual(best, places, ranges)
    spare = max(len(places) - needed, 0)
    scatter_m = float(np.sqrt(residual_m @ residual_m / spare)) if spare else 0.0
    sigma_m = max(scatter_m, timing_s * speed_m_s)
    deviations = sigma_m * _spread(best, places, timed=timed)
    return Located(
        position_m=best[:3].copy(),
        deviation_m=deviations[:3],
        residual_s=float(np.sqrt(np.mean(residual_m**2)) / speed_m_s),
        offset_s=None if timed else float(best[3] / speed_m_s),
        offset_deviation_s=None if timed else float(deviations[3] / speed_m_s),
        mirrored_m=mirrored,
    )


def _axes(centred: F) -> tuple[F, F]:
    """Main axes of the stations, longest first, shape (3, 3), and their rms extents."""
    _, singular, axes = np.linalg.svd(centred, full_matrices=True)
    extents = np.zeros(3)
    extents[: singular.size] = singular / np.sqrt(len(centred))
    return axes, extents


def _starts(near: F, centre: F, normal: F) -> list[F]:
    """Where to start: the plan, its mirror image, and both well off the stations' plane."""
    mirrored = near - 2 * normal * ((near - centre) @ normal)
    return [near, mirrored, near + normal, near - normal]


def _solutions(places: F, ranges: F, starts: list[F], *, timed: bool) -> list[tuple[float, F]]:
    """Cost and parameters (x, y, z, latency in metres) from each start."""
    found = []
    for start in starts:
        first = np.append(start, 0.0)
        if not timed:
            first[3] = float(np.mean(ranges - np.linalg.norm(start - places, axis=1)))
        free = 3 if timed else 4

        def left(moved: F, free: int = free, first: F = first) -> F:
            return _residual(np.append(moved, first[free:]), places, ranges)

        def slope(moved: F, free: int = free, first: F = first) -> F:
            return _slope(np.append(moved, first[free:]), places)[:, :free]

        solved = scipy.optimize.least_squares(
            left, first[:free], jac=slope, method="trf", xtol=1e-12
        )
        found.append((float(solved.cost), np.append(solved.x, first[free:])))
    return found


def _nearest(found: list[tuple[float, F]], near: F) -> F:
    """Of the solutions that fit about equally the one nearest to the plan."""
    least = min(cost for cost, _ in found)
    fits = [parameters for cost, parameters in found if cost <= 1.01 * least + 1e-12]
    return min(fits, key=lambda parameters: float(np.linalg.norm(parameters[:3] - near))).copy()


def _residual(parameters: F, places: F, ranges: F) -> F:
    distances = np.linalg.norm(parameters[:3] - places, axis=1)
    return np.asarray(distances + parameters[3] - ranges)


def _slope(parameters: F, places: F) -> F:
    away = parameters[:3] - places
    unit = away / np.maximum(np.linalg.norm(away, axis=1, keepdims=True), 1e-9)
    return np.hstack((unit, np.ones((len(places), 1))))


def _spread(parameters: F, places: F, *, timed: bool) -> F:
    """Standard deviations of all that is found, for ranges of standard deviation 1."""
    slope = _slope(parameters, places)[:, : 3 if timed else 4]
    _, singular, rows = np.linalg.svd(slope, full_matrices=False)
    weak = singular < 1e-6 * singular[0]
    inverse = np.where(weak, 0.0, 1.0 / np.maximum(singular, 1e-300))
    deviation: F = np.sqrt(np.sum((rows * inverse[:, None]) ** 2, axis=0))
    unseen = (np.abs(rows[weak]) > 1e-3).any(axis=0)
    return np.where(unseen, _NO_BOUND, deviation)
