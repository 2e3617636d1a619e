"""Main channels and their bass where they meet: what of their sum is lost around the crossover."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from roomwright._errors import InputError
from roomwright.signals import from_amplitude_db

F = NDArray[np.float64]
C = NDArray[np.complex128]

#: Frequencies at which the summation loss is taken, evenly over log frequency.
_POINTS = 48

#: Two responses further apart than this do not interfere enough to matter.
_WITHIN_DB = 10.0

#: A sum is taken to be at least this part of what it could be, in power: -80 dB.
_LEAST = 1e-8

#: Phases tried for the one that suits all stations best.
_PHASES = 72


@dataclass(frozen=True, slots=True, eq=False)
class Meeting:
    """N main channels with their bass at P stations, at F frequencies around each crossover.

    `product` (N, P, F) is M* S and `energy` |M|^2 + |S|^2 re (|M| + |S|)^2, `weight` what each
    counts: it adds up to 1 over stations and frequencies of a channel, or to 0 where main and
    bass never come within 10 dB of each other. `crossover_hz` is (N,), `frequencies_hz` (N, F).
    """

    frequencies_hz: F
    crossover_hz: F
    product: C
    energy: F
    weight: F

    @staticmethod
    def of(mains: C, bass: C, frequencies_hz: F, weights: F, crossover_hz: F) -> Meeting:
        """The meeting of responses (N, P, F) at stations that count `weights` (P,)."""
        energy = np.abs(mains) ** 2 + np.abs(bass) ** 2
        product = mains.conj() * bass
        louder = np.maximum(np.abs(mains), np.abs(bass))
        close = np.abs(product) >= louder**2 * from_amplitude_db(-_WITHIN_DB)
        counts = np.where(
            close & (energy > 0), 2 * np.abs(product) / np.maximum(energy, 1e-300), 0.0
        )
        total = counts.sum(axis=-1, keepdims=True)
        of_station = weights[:, None] / weights.sum() if weights.any() else weights[:, None]
        weight = of_station * counts / np.where(total > 0, total, 1.0)
        largest = energy + 2 * np.abs(product)
        safe = np.where(largest > 0, largest, 1.0)
        return Meeting(frequencies_hz, crossover_hz, product / safe, energy / safe, weight)

    def some(self, rows: list[int]) -> Meeting:
        """The meeting of some of the channels only."""
        return Meeting(
            self.frequencies_hz[rows],
            self.crossover_hz[rows],
            self.product[rows],
            self.energy[rows],
            self.weight[rows],
        )

    def turned(self, turn: C) -> Meeting:
        """The meeting with the bass of each channel turned by `turn` (N, F)."""
        return replace(self, product=self.product * turn[:, None])

    def loss_db(self, turn: C) -> F:
        """Summation loss (N, P) with the bass of each channel turned by `turn` (N, F).

        The mean over frequency of 20 lg(|M + S| / (|M| + |S|)), weighted by
        2 |M||S| / (|M|^2 + |S|^2), where the two are within 10 dB of each other; 0 dB where they
        never are.
        """
        weight = self.weight.sum(axis=-1)
        parts = (self.weight * self._lost_db(self.product * turn[:, None])).sum(axis=-1)
        return np.asarray(parts / np.where(weight > 0, weight, 1.0))

    def mean_loss_db(self, turns: C) -> F:
        """Summation loss (D,), the mean over stations and channels, for turns (D, N, F)."""
        return np.asarray(self.losses_db(turns).mean(axis=-1))

    def losses_db(self, turns: C) -> F:
        """Summation loss (D, N) of each channel, as stations weigh, for turns (D, N, F)."""
        losses = np.empty(turns.shape[:2])
        for row, (product, energy, weight) in enumerate(
            zip(self.product, self.energy, self.weight, strict=True)
        ):
            # The sum over stations is taken last, as a product of matrices.
            part = 2 * (product * turns[:, row, None]).real + energy
            losses[:, row] = _decibels(part).reshape(len(turns), -1) @ weight.ravel()
        return losses

    def least_loss_db(self) -> F:
        """Summation loss (N,) that no delay and no all-pass could undercut.

        At each frequency the phase between main and bass that suits all stations best is taken.
        What then remains is the stations' disagreement.
        """
        phases = np.exp(2j * np.pi * np.arange(_PHASES) / _PHASES)
        best = np.full((len(self.product), self.product.shape[-1]), -np.inf)
        for phase in phases:
            best = np.maximum(best, (self.weight * self._lost_db(phase * self.product)).sum(axis=1))
        return np.asarray(best.sum(axis=-1))

    def _lost_db(self, product: C) -> F:
        return _decibels(2 * product.real + self.energy)


def meeting(mains: C, bass: C, frequencies_hz: F, weights: F, crossover_hz: float | F) -> Meeting:
    """The meeting of main channels and their bass from half to twice each crossover.

    Parameters
    ----------
    mains
        Responses through all settings, shape (N, P, bins).
    bass
        Response of the subwoofers through theirs and the low-pass, (P, bins) or (N, P, bins).
    frequencies_hz
        Evenly spaced, shape (bins,).
    weights
        Weight of each station, shape (P,).
    crossover_hz
        Crossover frequency, or each channel's, shape (N,).

    Raises
    ------
    InputError
        If fewer than four bins lie between half and twice a crossover.
    """
    crossovers = np.broadcast_to(np.asarray(crossover_hz, dtype=np.float64), (len(mains),))
    bins = np.stack([_bins(frequencies_hz, float(crossover)) for crossover in crossovers])
    taken = bins[:, None, :]
    return Meeting.of(
        np.take_along_axis(mains, taken, -1),
        np.take_along_axis(np.broadcast_to(bass, mains.shape), taken, -1),
        frequencies_hz[bins],
        weights,
        crossovers,
    )


def _bins(frequencies_hz: F, crossover_hz: float) -> NDArray[np.intp]:
    """The bins nearest to points evenly over log frequency around a crossover."""
    within = np.flatnonzero(
        (frequencies_hz >= crossover_hz / 2) & (frequencies_hz <= crossover_hz * 2)
    )
    if within.size < 4:
        raise InputError(
            f"there are {within.size} frequencies around the crossover at {crossover_hz:g} Hz; "
            "at least 4 are needed, so longer responses"
        )
    f = frequencies_hz[within]
    wanted = np.geomspace(f[0], f[-1], _POINTS)
    return within[np.searchsorted((f[1:] + f[:-1]) / 2, wanted)]


def _decibels(ratio: F) -> F:
    return np.asarray(10 * np.log10(np.maximum(ratio, _LEAST)))
