"""Typical random-incidence absorption of finishes, eight octaves from 63 Hz to 8 kHz.

Values like those of the handbooks (Harris; Everest), from memory: good enough for a first
prediction, no substitute for a test report. Handbook tables run from 125 Hz to 4 kHz; the values
at 63 Hz and 8 kHz are extrapolated here by eye for every material. The rows for treatment
(absorbers, diffuser, bass panel) are common practice, no source: products differ widely.
"""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType

from roomwright._errors import InputError

Absorption = tuple[float, float, float, float, float, float, float, float]

#: Material to absorption at 63, 125, 250, 500, 1000, 2000, 4000 and 8000 Hz.
MATERIALS: Mapping[str, Absorption] = MappingProxyType(
    {
        "acoustic door": (0.20, 0.15, 0.10, 0.08, 0.08, 0.08, 0.08, 0.08),
        "bass absorber panel": (0.45, 0.60, 0.40, 0.20, 0.12, 0.10, 0.08, 0.08),
        "carpet on concrete": (0.02, 0.02, 0.06, 0.14, 0.37, 0.60, 0.65, 0.65),
        "carpet on underlay": (0.04, 0.08, 0.24, 0.57, 0.69, 0.71, 0.73, 0.73),
        "diffuser, timber": (0.12, 0.15, 0.20, 0.22, 0.20, 0.18, 0.15, 0.15),
        "fabric-wrapped 50 mm absorber": (0.08, 0.20, 0.60, 0.95, 0.98, 0.98, 0.96, 0.95),
        "glass": (0.35, 0.35, 0.25, 0.18, 0.12, 0.07, 0.04, 0.04),
        "heavy drape": (0.06, 0.14, 0.35, 0.55, 0.72, 0.70, 0.65, 0.60),
        "mineral-wool 100 mm absorber": (0.25, 0.50, 0.90, 0.98, 0.98, 0.98, 0.97, 0.95),
        "painted plasterboard on studs": (0.25, 0.29, 0.10, 0.05, 0.04, 0.07, 0.09, 0.09),
        "plastered masonry": (0.01, 0.01, 0.02, 0.02, 0.03, 0.04, 0.05, 0.05),
        "wood floor": (0.15, 0.15, 0.11, 0.10, 0.07, 0.06, 0.07, 0.07),
        "wood panelling": (0.25, 0.28, 0.22, 0.17, 0.09, 0.10, 0.11, 0.11),
    }
)


def material(name: str) -> Absorption:
    """Absorption of a material at the eight octaves from 63 Hz to 8 kHz.

    Raises
    ------
    InputError
        If the material is not in `MATERIALS`; the message lists those that are.
    """
    if name not in MATERIALS:
        raise InputError(f"{name!r} is no known material; those are {'; '.join(MATERIALS)}")
    return MATERIALS[name]
