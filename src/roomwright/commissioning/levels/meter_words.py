"""What a live meter shows, as figures and words for a screen."""

from __future__ import annotations

from dataclasses import asdict, dataclass
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from roomwright.commissioning.levels.live_meter import MeterView

#: The spectrum's scale: dB SPL, or dB re full scale while the sensitivity is not known.
_ABSOLUTE_DB: Final = (0.0, 120.0)
_RELATIVE_DB: Final = (-120.0, 0.0)

#: A level lower than this is written as nothing: digital silence.
_SILENT_DB: Final = -200.0


@dataclass(frozen=True, slots=True)
class MeterReading:
    """The large figure with its unit, further figures by name, and the spectrum."""

    figure: str
    unit: str
    more: tuple[tuple[str, str], ...]
    clipped: bool
    spectrum: str
    mid_hz: tuple[float, ...]
    bands_db: tuple[float | None, ...]
    peaks_db: tuple[float | None, ...]
    low_db: float
    high_db: float

    def sent(self) -> dict[str, Any]:
        """All of it as plain data."""
        return asdict(self)


def meter_reading(view: MeterView) -> MeterReading:
    """A meter's view as figures and words."""
    level, letter = view.level, view.name[1]
    low_db, high_db = _ABSOLUTE_DB if level.absolute else _RELATIVE_DB
    loudest = int(np.argmax(view.bands_db))
    unit = "dB" if level.absolute else "dB re full scale"
    return MeterReading(
        figure=_number(level.level_db),
        unit=f"{unit} {view.name}",
        more=(
            (f"L{letter}eq", _number(level.equivalent_db)),
            ("max", _number(level.maximum_db)),
            (f"L{letter}peak", _number(level.peak_db)),
            ("over", _duration(level.duration_s)),
        ),
        clipped=level.clipped,
        spectrum=f"third-octave spectrum, loudest around {view.mid_hz[loudest]:.0f} Hz",
        mid_hz=tuple(float(mid) for mid in view.mid_hz),
        bands_db=_levels(view.bands_db),
        peaks_db=_levels(view.peaks_db),
        low_db=low_db,
        high_db=high_db,
    )


def _levels(values: NDArray[np.float64]) -> tuple[float | None, ...]:
    return tuple(
        round(float(value), 1) if value > _SILENT_DB else None for value in np.asarray(values)
    )


def _number(value: float) -> str:
    return f"{value:.1f}" if np.isfinite(value) and value > _SILENT_DB else "–"


def _duration(seconds: float) -> str:
    return f"{seconds:.0f} s" if seconds < 120.0 else f"{seconds / 60.0:.0f} min"
