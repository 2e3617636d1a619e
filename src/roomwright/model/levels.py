"""How loud a survey is: reference level, offsets, ceilings, trims, and what to come back to."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field, model_validator

from roomwright.model._base import Document, Identifier, NonNegative, Positive

#: What outputs are grouped by: the role of their channel; subwoofers are a group of their own.
LevelGroup = Literal["front", "surround", "height", "subwoofers"]

_Decibels = Annotated[float, Field(ge=-60, le=60)]
_Dbfs = Annotated[float, Field(ge=-90, le=0)]


class NoiseBand(Document):
    """A band of pink noise."""

    low_hz: Positive
    high_hz: Positive

    @model_validator(mode="after")
    def _ordered(self) -> NoiseBand:
        if self.low_hz >= self.high_hz:
            raise ValueError(
                f"the noise goes from {self.low_hz:g} to {self.high_hz:g} Hz; it must start below "
                "where it ends"
            )
        return self


class GroupOffset(Document):
    """By how much a group is to be louder than the reference level."""

    group: LevelGroup
    offset_db: Annotated[float, Field(ge=-30, le=30)]


class LevelTrim(Document):
    """By how much an output plays louder in the survey than the noise's level says."""

    drives: Identifier
    trim_db: _Decibels


class LevelReference(Document):
    """One take of noise to come back to: what played it how, and what level it gave where.

    `level_db` is C-weighted, dB re 20 uPa. It was made with noise of `noise_dbfs` raised by
    `trim_db` and `playback_db`, and with a microphone of which `sensitivity_pa` (peak) reached
    full scale.
    """

    drives: Identifier
    station: Identifier
    level_db: float
    noise_dbfs: _Dbfs
    trim_db: _Decibels
    playback_db: _Decibels
    band: NoiseBand
    sensitivity_pa: Positive


class LevelPlan(Document):
    """The levels of a survey.

    Each output plays pink noise of `noise_dbfs` (its rms re that of a full-scale sine) in the
    band of its kind, raised by its trim and by `playback_db`, which is common to all; at the
    station that gives `reference_db` (C-weighted, dB re 20 uPa) plus its group's offset. No
    sample is above `ceiling_dbfs`, and no level above `ceiling_db` is aimed at. Noise rises from
    silence over `ramp_s`.

    Level, noise and the band of the mains are common practice of home cinemas (as in
    `roomwright.standards.reference_levels`), the rest common practice; no source.
    """

    reference_db: Annotated[float, Field(ge=30, le=110)] = 75.0
    noise_dbfs: _Dbfs = -30.0
    offsets: tuple[GroupOffset, ...] = ()
    mains: NoiseBand = NoiseBand(low_hz=500.0, high_hz=2000.0)
    subwoofers: NoiseBand = NoiseBand(low_hz=30.0, high_hz=80.0)
    ceiling_dbfs: _Dbfs = -6.0
    ceiling_db: Annotated[float, Field(ge=40, le=120)] = 90.0
    ramp_s: NonNegative = 1.0
    playback_db: _Decibels = 0.0
    trims: tuple[LevelTrim, ...] = ()
    reference: LevelReference | None = None

    @model_validator(mode="after")
    def _each_once(self) -> LevelPlan:
        groups = [offset.group for offset in self.offsets]
        driven = [trim.drives for trim in self.trims]
        for what, names in (("a group", groups), ("an output", driven)):
            if len(set(names)) < len(names):
                raise ValueError(f"{what} is listed twice among the levels; each comes once")
        return self

    @model_validator(mode="after")
    def _below_the_ceiling(self) -> LevelPlan:
        highest = self.reference_db + max((o.offset_db for o in self.offsets), default=0.0)
        if max(highest, self.reference_db) > self.ceiling_db:
            raise ValueError(
                f"{max(highest, self.reference_db):g} dB is wanted, above the ceiling of "
                f"{self.ceiling_db:g} dB SPL"
            )
        return self

    def offset_db(self, group: LevelGroup) -> float:
        """The engineer's offset of a group; 0 if there is none."""
        return next((o.offset_db for o in self.offsets if o.group == group), 0.0)

    def trim_db(self, drives: str) -> float:
        """The trim of what an output drives; 0 if none was set."""
        return next((trim.trim_db for trim in self.trims if trim.drives == drives), 0.0)
