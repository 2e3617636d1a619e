"""The straight line through equally spaced points."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray


def line_through(values: NDArray[np.float64]) -> tuple[float, float, float]:
    """Least-squares line through values at 0, 1, 2 ...: slope, value at 0, correlation.

    Parameters
    ----------
    values
        Shape (n,), n at least 2; the correlation of equal values is 0.
    """
    mean = float(values.mean())
    place = np.arange(values.size) - (values.size - 1) / 2
    departure = values - mean
    covariance, spread = float(place @ departure), float(place @ place)
    slope = covariance / spread
    extent = float(np.sqrt(spread * float(departure @ departure)))
    correlation = covariance / extent if extent > 0 else 0.0
    return slope, mean - slope * (values.size - 1) / 2, correlation
