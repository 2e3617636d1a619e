"""What the engineer wants of the bass: where subwoofers may stand, and how they are to be fed."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field, model_validator

from roomwright.model._base import Document, Identifier, NonNegative, Positive

#: How the subwoofers are fed: `matched` in level and arrival and all alike, `even_seats` each for
#: the least spread over the seats, `array` as a plane wave that is absorbed at the far wall,
#: `mixture` as an array up to a frequency and for even seats above it.
BassMethod = Literal["matched", "even_seats", "array", "mixture"]

#: What even seats may use of each output.
BassMeans = Literal["gain_and_delay", "biquads", "fir"]


class KeepClear(Document):
    """A box where no subwoofer may stand: a door, the screen, furniture.

    Given by two opposite corners on the plan; from floor to ceiling where `high_m` is None.
    """

    name: Annotated[str, Field(min_length=1, max_length=40)]
    from_m: tuple[float, float]
    to_m: tuple[float, float]
    low_m: NonNegative = 0.0
    high_m: NonNegative | None = None

    @model_validator(mode="after")
    def _has_height(self) -> KeepClear:
        if self.high_m is not None and self.high_m <= self.low_m:
            raise ValueError("a box to keep clear must end above where it begins")
        return self


class SubwooferPlaces(Document):
    """Where subwoofers may stand; lengths from the surfaces to the middle of the subwoofer.

    `wall_heights_m` are the heights along the walls, `strip_m` how far in from the walls they may
    stand on the floor, `on_ceiling` allows them under the ceiling. `mirrored` asks for pairs that
    mirror each other left for right and are fed alike. Defaults are common practice, no source.
    """

    spacing_m: Annotated[float, Field(ge=0.2, le=5.0)] = 0.6
    from_wall_m: Annotated[float, Field(gt=0, le=2.0)] = 0.3
    wall_heights_m: tuple[Positive, ...] = (0.3,)
    strip_m: NonNegative = 0.0
    on_ceiling: bool = False
    from_ceiling_m: Annotated[float, Field(gt=0, le=2.0)] = 0.3
    mirrored: bool = False


class BassWishes(Document):
    """What is wanted of the bass of a cinema.

    `count` subwoofers are placed within `places`, none in a box of `keep_clear`. `band_hz` is
    where the bass is designed. `level_weight` is what a decibel of level per drive is worth, in
    squared decibels of spread. `method` and `means` say how the subwoofers are fed; `launching`
    and `absorbing` name those of an array, which a mixture uses up to `array_up_to_hz` and fades
    out over the octave above. Stations `held_back` are used by no design, only to judge; where
    none is named and a method other than `matched` is chosen, a quarter of them is held back.
    """

    count: Annotated[int, Field(ge=1, le=24)] = 4
    places: SubwooferPlaces = SubwooferPlaces()
    keep_clear: tuple[KeepClear, ...] = ()
    band_hz: tuple[Positive, Positive] = (20.0, 120.0)
    level_weight: Annotated[float, Field(ge=0, le=100)] = 0.3
    method: BassMethod = "matched"
    means: BassMeans = "gain_and_delay"
    launching: tuple[Identifier, ...] = ()
    absorbing: tuple[Identifier, ...] = ()
    array_up_to_hz: Positive = 80.0
    held_back: tuple[Identifier, ...] = ()

    @model_validator(mode="after")
    def _rising(self) -> BassWishes:
        low, high = self.band_hz
        if not 10.0 <= low < high <= 300.0:
            raise ValueError("the band of the bass must rise within 10 to 300 Hz")
        return self

    @model_validator(mode="after")
    def _one_part(self) -> BassWishes:
        both = sorted(set(self.launching) & set(self.absorbing))
        if both:
            raise ValueError(f"{', '.join(both)} cannot both launch and absorb")
        return self
