"""The measured grid of an array: what is refused, and which stations are held back."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from roomwright._checks import finite
from roomwright._errors import InputError
from roomwright.model import Finding

F = NDArray[np.float64]
C = NDArray[np.complex128]

FEWEST_STATIONS = 6
#: Least eigenvalue of the emitters' correlations over stations and band, of S in all.
_DEPENDENT = 1e-7


@dataclass(frozen=True, slots=True)
class StationGrid:
    """Responses (S, P, n) of the array at P stations.

    Time zero of every response is the moment its signal left the output. `weights` (P,) is what
    each station counts in the design, above 0.
    """

    samples: NDArray[np.float32]
    sampling_rate_hz: int
    position_m: F
    weights: F

    def __post_init__(self) -> None:
        """Refuse arrays that do not fit each other or hold no numbers."""
        finite(self.samples, "the responses of the array")
        finite(self.position_m, "the positions of the stations")
        stations = self.samples.shape[1]
        if self.position_m.shape != (stations, 3) or self.weights.shape != (stations,):
            raise InputError(
                f"{stations} stations need as many positions (x, y, z) and weights; got shapes "
                f"{self.position_m.shape} and {self.weights.shape}"
            )
        if finite(self.weights, "the weights of the stations").min() <= 0:
            raise InputError("each station of the array must count more than 0; leave others out")
        if stations < FEWEST_STATIONS:
            raise InputError(
                f"the array was measured at {stations} stations; filters need {FEWEST_STATIONS} "
                "or more, of which a quarter is held back to judge them"
            )


def station_grid(
    samples: NDArray[np.float32],
    sampling_rate_hz: int,
    position_m: ArrayLike,
    *,
    timed: bool,
    weights: ArrayLike | None = None,
) -> StationGrid:
    """The measured grid, refused if its responses share no time reference.

    Raises
    ------
    InputError
        If they do not, a value is not a number, shapes do not fit, or there are too few stations.
    """
    if not timed:
        raise InputError(
            "the responses have no common time reference, so the delays between the subwoofers "
            "are unknown; measure again with a reference channel"
        )
    count = np.ones(samples.shape[1]) if weights is None else np.asarray(weights, np.float64)
    return StationGrid(samples, sampling_rate_hz, np.asarray(position_m, np.float64), count)


def refuse_dependent(field: C, names: tuple[str, ...]) -> None:
    """Refuse subwoofers of which one can be replaced by others at every station and bin.

    Parameters
    ----------
    field
        (S, P, bins) in the band.
    names
        S names.

    Raises
    ------
    InputError
        If one is silent, or the correlations of all have an eigenvalue near 0.
    """
    flat = field.reshape(field.shape[0], -1)
    power = np.sqrt(np.sum(np.abs(flat) ** 2, axis=1))
    silent = [name for name, level in zip(names, power, strict=True) if level == 0]
    if silent:
        raise InputError(
            f"{', '.join(silent)} gives nothing at any station; check the output and measure "
            "again, or leave it out of the array"
        )
    flat = flat / power[:, None]
    values, vectors = np.linalg.eigh(flat @ flat.conj().T)
    if values[0] < _DEPENDENT:
        share = np.abs(vectors[:, 0])
        alike = [name for name, part in zip(names, share, strict=True) if part > 0.5 * share.max()]
        raise InputError(
            f"the responses of {', '.join(alike)} cannot be told apart at any station; they may "
            "be driven by one output or stand in one place: leave one of them out of the array"
        )


def station_doubts(stations: int, emitters: int) -> tuple[Finding, ...]:
    """What is doubtful of a grid of that many stations for the design."""
    if stations >= emitters:
        return ()
    text = (
        f"{emitters} subwoofers are fitted to {stations} stations, fewer than there are "
        "subwoofers; add stations, or the filters fit these alone"
    )
    return (Finding(severity="doubt", where="stations", text=text),)
