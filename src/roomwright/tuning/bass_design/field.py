"""The low-frequency field that a bass design starts from, wherever it came from."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from roomwright._checks import finite
from roomwright._errors import InputError
from roomwright.model import Finding

F = NDArray[np.float64]
C = NDArray[np.complex128]

#: Singular values below this share of the largest say nothing that noise does not.
_RANK = 1e-6

#: A source this far below the loudest is as good as silent.
_SILENT = 1e-6


@dataclass(frozen=True, slots=True)
class BassField:
    """Complex responses (S, P, F) of S sources at P points and F frequencies.

    Computed or measured: the solvers do not ask. `frequencies_hz` (F,) rises, best in equal steps
    of log frequency, since means over frequency weigh all alike. Every response has the same time
    zero; with `timed` False relative delays are unknown and the field is refused.
    """

    frequencies_hz: F
    response: C
    timed: bool = True

    def __post_init__(self) -> None:
        """Check shapes and numbers, and freeze the arrays."""
        frequency = finite(self.frequencies_hz, "the frequencies of the bass field")
        response = finite(self.response, "the bass field").astype(np.complex128)
        if frequency.ndim != 1 or response.ndim != 3 or response.shape[2] != frequency.size:
            raise InputError(
                f"a bass field of shape {response.shape} at {frequency.shape} frequencies cannot "
                "be used; it must be (sources, points, frequencies) at (frequencies,)"
            )
        if 0 in response.shape:
            raise InputError("a bass field needs a source, a point and a frequency at least")
        if frequency[0] <= 0 or np.any(np.diff(frequency) <= 0):
            raise InputError("the frequencies of a bass field must rise from above 0 Hz")
        if not self.timed:
            raise InputError(
                "the responses have no common time reference, so relative delays are unknown; "
                "measure all subwoofers with the reference connected"
            )
        energy = np.sum(np.abs(response) ** 2, axis=(1, 2))
        silent = np.flatnonzero(energy <= _SILENT**2 * energy.max())
        if silent.size:
            raise InputError(f"source {silent[0]} of the bass field is silent; leave it out")
        for name, values in (("frequencies_hz", frequency), ("response", response)):
            kept = np.array(values, order="C")
            kept.flags.writeable = False
            object.__setattr__(self, name, kept)

    @property
    def sources(self) -> int:
        """Number of sources."""
        return int(self.response.shape[0])

    def of(self, chosen: NDArray[np.intp] | list[int]) -> BassField:
        """The field of some of the sources."""
        return BassField(self.frequencies_hz, self.response[chosen])


def field_findings(field: BassField) -> tuple[Finding, ...]:
    """What makes a field a poor base for filters: sources that do the same at every point."""
    matrices = np.moveaxis(field.response, 2, 0)
    singular = np.linalg.svd(matrices, compute_uv=False)
    rank = np.sum(singular > _RANK * singular[:, :1], axis=1)
    full = min(matrices.shape[1:])
    short = np.flatnonzero(rank < full)
    if not short.size:
        return ()
    worst = int(short[np.argmin(rank[short])])
    return (
        Finding(
            severity="doubt",
            where="subwoofers",
            text=f"at {field.frequencies_hz[worst]:.0f} Hz the {field.sources} sources do no more "
            f"at these points than {rank[worst]} would; move one, or measure at further points",
        ),
    )
