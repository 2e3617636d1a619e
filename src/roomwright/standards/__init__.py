"""Tables of published standards, each with its source; pure data and small look-ups.

Where a docstring says *from memory* the document was not opened; *common practice, no source*
means just that.
"""

from roomwright.standards import (
    bs1116,
    bs2051,
    bt1359,
    decay,
    domestic,
    ebu3276,
    iso3382,
    labels,
    materials,
    nc,
    nr,
    reference_levels,
)
from roomwright.standards.bs2051 import Position
from roomwright.standards.noise_rating import NoiseRating

__all__ = [
    "NoiseRating",
    "Position",
    "bs1116",
    "bs2051",
    "bt1359",
    "decay",
    "domestic",
    "ebu3276",
    "iso3382",
    "labels",
    "materials",
    "nc",
    "nr",
    "reference_levels",
]
