"""The octave bands in which the quality of takes and the background noise are stated."""

from __future__ import annotations

from typing import Final

import numpy as np
from numpy.typing import NDArray

from roomwright.signals import midbands

#: Exact base-10 midbands (IEC 61260-1) of the ten octaves from 16 Hz to 8 kHz, those of the
#: noise-criterion tables.
OCTAVES_HZ: Final[NDArray[np.float64]] = midbands(1, 16.0, 8000.0)
OCTAVES_HZ.flags.writeable = False
