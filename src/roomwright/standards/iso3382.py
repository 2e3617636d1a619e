"""Evaluation ranges and just noticeable differences of ISO 3382-1:2009 and ISO 3382-2:2008.

Transcribed from a public library's account of the standards; the standards were not opened.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType


@dataclass(frozen=True, slots=True)
class DecayRange:
    """Part of a decay that is fitted by a line, in dB below its start.

    `needed_range_db` is how far the noise must lie below the peak for the range to be usable.
    """

    name: str
    start_db: float
    stop_db: float
    needed_range_db: float


EDT = DecayRange("EDT", 0.0, -10.0, 25.0)
T20 = DecayRange("T20", -5.0, -25.0, 35.0)
T30 = DecayRange("T30", -5.0, -35.0, 45.0)

#: Just noticeable differences (ISO 3382-1 Table A.1); `strength_db`, `lateral_fraction` and
#: `interaural_correlation` from memory.
JUST_NOTICEABLE: Mapping[str, float] = MappingProxyType(
    {
        "reverberation_percent": 5.0,
        "clarity_db": 1.0,
        "definition": 0.05,
        "centre_time_s": 0.010,
        "strength_db": 1.0,
        "lateral_fraction": 0.05,
        "interaural_correlation": 0.075,
    }
)

#: Curvature 100 (T30 / T20 - 1) above which a decay is not one straight line (ISO 3382-2).
CURVATURE_LIMIT_PERCENT = 10.0

#: Bandwidth times reverberation time must exceed this (ISO 3382-2, 7.3).
SHORTEST_BT_FORWARD = 16.0
SHORTEST_BT_REVERSED = 4.0
