"""Generic loudspeaker types that stand in until the engineer enters the data sheets in hand.

The figures are those of ordinary active cinema loudspeakers; common practice, no source.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Final

from roomwright.model import LoudspeakerModel

GENERIC_MODELS: Final = (
    LoudspeakerModel(
        name="generic front loudspeaker",
        sensitivity_db=95.0,
        maximum_level_db=116.0,
        low_hz=45.0,
        high_hz=20000.0,
        directivity="narrow",
    ),
    LoudspeakerModel(
        name="generic surround loudspeaker",
        sensitivity_db=92.0,
        maximum_level_db=112.0,
        low_hz=55.0,
        high_hz=20000.0,
        directivity="medium",
    ),
    LoudspeakerModel(
        name="generic height loudspeaker",
        sensitivity_db=91.0,
        maximum_level_db=110.0,
        low_hz=60.0,
        high_hz=20000.0,
        directivity="wide",
    ),
    LoudspeakerModel(
        name="generic subwoofer",
        sensitivity_db=94.0,
        maximum_level_db=118.0,
        low_hz=20.0,
        high_hz=250.0,
        low_slope_db=24,
        directivity="omni",
    ),
)

#: Which generic type plays which part.
GENERIC_ROLES: Final[Mapping[str, str]] = {
    "front": "generic front loudspeaker",
    "surround": "generic surround loudspeaker",
    "height": "generic height loudspeaker",
    "subwoofer": "generic subwoofer",
}
