"""What a live input shows: sound level, third octaves, and what people have heard."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final, Literal, cast, get_args

import numpy as np
from numpy.typing import NDArray

from roomwright._errors import InputError
from roomwright.commissioning.levels.exposure_today import ExposureToday
from roomwright.measurement.exposure import Exposure, exposure
from roomwright.measurement.metering import (
    BandLevels,
    SoundLevel,
    SoundLevelMeter,
    TimeWeighting,
)
from roomwright.signals import WeightingKind

#: A level as it is written: frequency weighting, time weighting.
LevelName = Literal["LAF", "LAS", "LCF", "LCS", "LZF", "LZS"]
LEVEL_NAMES: Final[tuple[LevelName, ...]] = get_args(LevelName)

_TIMES: Final[dict[str, TimeWeighting]] = {"F": "fast", "S": "slow"}

#: Time constant of the bands: quick enough to follow, slow enough to be read. Common practice.
_BANDS_S: Final = 0.5

#: The exposure is added up in pieces of this, seconds.
_PIECE_S: Final = 1.0


@dataclass(frozen=True, slots=True, eq=False)
class MeterView:
    """What the meter shows.

    Attributes
    ----------
    name
        Which level is shown.
    level
        Level, Leq, peak, whether the input clipped.
    mid_hz, bands_db, peaks_db
        Third octaves now and held, shape (bands,).
    exposure
        Of who stands at the microphone; None if its sensitivity is not known.
    exposure_says
        The same as a sentence.
    """

    name: LevelName
    level: SoundLevel
    mid_hz: NDArray[np.float64]
    bands_db: NDArray[np.float64]
    peaks_db: NDArray[np.float64]
    exposure: Exposure | None
    exposure_says: str


class LiveMeter:
    """Follows a live input block by block.

    Parameters
    ----------
    sampling_rate_hz
        Hertz.
    sensitivity_pa
        Pressure (peak) in pascal at digital full scale; None leaves levels re full scale.
    name
        The level shown at first.
    today
        Where the exposure is added up over the day; None for sound that nobody hears, which is
        added up from nothing.

    Raises
    ------
    InputError
        If the rate or the sensitivity is not allowed.
    """

    def __init__(
        self,
        sampling_rate_hz: int,
        sensitivity_pa: float | None,
        name: LevelName = "LCS",
        today: ExposureToday | None = None,
    ) -> None:
        self._rate, self._sensitivity_pa = sampling_rate_hz, sensitivity_pa
        self._bands = BandLevels(sampling_rate_hz, sensitivity_pa, averaging_s=_BANDS_S)
        self._heard = self._meter("LAF")
        self._guard = self._meter("LCF")
        self._today = today
        self._exposure = Exposure() if today is None else today.total
        self.choose(name)

    def choose(self, name: str) -> None:
        """Show another level; its Leq and peak start anew.

        Raises
        ------
        InputError
            If there is no such level.
        """
        if name not in LEVEL_NAMES:
            raise InputError(f"there is no level {name!r}; there are {', '.join(LEVEL_NAMES)}")
        self._name: LevelName = name
        self._shown = self._meter(self._name)

    def restart(self) -> None:
        """Forget Leq, maximum, peak and peak hold; the exposure stays."""
        self._shown.restart()
        self._bands.restart()

    def follow(self, samples: NDArray[np.floating]) -> None:
        """Take in the next block of the input, shape (n,), 1.0 = digital full scale."""
        for meter in (self._shown, self._heard, self._guard):
            meter.follow(samples)
        self._bands.follow(samples)
        piece = self._heard.show()
        if self._sensitivity_pa is not None and piece.duration_s >= _PIECE_S:
            self._add(exposure(piece.equivalent_db, piece.duration_s))
            self._heard.restart()

    def _add(self, more: Exposure) -> None:
        if self._today is None:
            self._exposure += more
        else:
            self._today.add(more)
            self._exposure = self._today.total

    def passes(self, ceiling_db: float) -> bool:
        """Whether the C-weighted fast level is above a ceiling in dB SPL; or the input clips."""
        now = self._guard.show()
        over = now.absolute and now.level_db > ceiling_db
        clipped = now.clipped
        self._guard.restart()
        return over or clipped

    def show(self) -> MeterView:
        """Everything at the end of the last block."""
        absolute = self._sensitivity_pa is not None
        return MeterView(
            name=self._name,
            level=self._shown.show(),
            mid_hz=self._bands.mid_hz,
            bands_db=self._bands.levels_db(),
            peaks_db=self._bands.peaks_db(),
            exposure=self._exposure if absolute else None,
            exposure_says=self._says() if absolute else "not known: calibrate the microphone",
        )

    def _says(self) -> str:
        now = self._heard.show().level_db
        return self._exposure.sentence(now if np.isfinite(now) else 0.0)

    def _meter(self, name: LevelName) -> SoundLevelMeter:
        return SoundLevelMeter(
            self._rate,
            self._sensitivity_pa,
            weighting=cast("WeightingKind", name[1]),
            time_weighting=_TIMES[name[2]],
        )
