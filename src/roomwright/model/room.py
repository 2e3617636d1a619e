"""What the builder made: the room, its surfaces, its seats."""

from __future__ import annotations

from functools import cached_property
from typing import Annotated

from pydantic import Field, field_validator
from shapely import Polygon

from roomwright.model._base import Document, Identifier, Point, Positive

Coefficient = Annotated[float, Field(ge=0, le=1)]


class Surface(Document):
    """One bounding surface with its random-incidence absorption.

    `absorption` holds one coefficient for each octave of `OCTAVE_BANDS_HZ` (63 Hz to 8 kHz).
    """

    material: str
    absorption: tuple[
        Coefficient,
        Coefficient,
        Coefficient,
        Coefficient,
        Coefficient,
        Coefficient,
        Coefficient,
        Coefficient,
    ]


class Room(Document):
    """A prism over a polygon.

    `outline_m` lists the corners of the floor as (x, y) in order; `walls[i]` stands on the
    edge from corner i to corner i + 1. `noise_criterion` is the NC rating of the background
    noise.
    """

    outline_m: Annotated[tuple[tuple[float, float], ...], Field(min_length=3)]
    height_m: Positive
    floor: Surface
    ceiling: Surface
    walls: tuple[Surface, ...]
    temperature_c: Annotated[float, Field(ge=-20, le=50)] = 21.0
    humidity_percent: Annotated[float, Field(ge=0, le=100)] = 45.0
    noise_criterion: Annotated[float, Field(ge=0, le=70)] = 18.0

    @field_validator("outline_m")
    @classmethod
    def _outline_encloses_an_area(
        cls, outline: tuple[tuple[float, float], ...]
    ) -> tuple[tuple[float, float], ...]:
        polygon = Polygon(outline)
        if not polygon.is_valid or polygon.area <= 0:
            raise ValueError("the outline crosses itself or encloses no area")
        return outline

    @cached_property
    def polygon(self) -> Polygon:
        """The floor's outline as a shapely polygon."""
        return Polygon(self.outline_m)

    @property
    def floor_area_m2(self) -> float:
        """Area of the floor."""
        return float(self.polygon.area)

    @property
    def volume_m3(self) -> float:
        """Volume of the air."""
        return self.floor_area_m2 * self.height_m

    @property
    def box_size_m(self) -> Point | None:
        """(Lx, Ly, Lz) if the room is a box with a corner at the origin, else None."""
        x_min, y_min, x_max, y_max = self.polygon.bounds
        is_rectangle = len(self.outline_m) == 4 and all(
            x in (x_min, x_max) and y in (y_min, y_max) for x, y in self.outline_m
        )
        if not is_rectangle or (x_min, y_min) != (0.0, 0.0):
            return None
        return (x_max, y_max, self.height_m)

    @property
    def box_surfaces(self) -> tuple[Surface, Surface, Surface, Surface, Surface, Surface] | None:
        """Surfaces at x=0, x=Lx, y=0, y=Ly, z=0, z=Lz if the room is a box, else None."""
        size = self.box_size_m
        if size is None:
            return None
        corners = (*self.outline_m, self.outline_m[0])
        by_plane: dict[tuple[int, float], Surface] = {}
        for (x0, y0), (x1, _), wall in zip(corners, corners[1:], self.walls, strict=False):
            by_plane[(0, x0) if x0 == x1 else (1, y0)] = wall
        return (
            by_plane[0, 0.0],
            by_plane[0, size[0]],
            by_plane[1, 0.0],
            by_plane[1, size[1]],
            self.floor,
            self.ceiling,
        )

    def surfaces_with_areas(self) -> tuple[tuple[str, Surface, float], ...]:
        """Every surface as (name, surface, area in square metres): floor, ceiling, walls."""
        corners = (*self.outline_m, self.outline_m[0])
        walls = tuple(
            (
                f"wall {number}",
                wall,
                self.height_m * ((x1 - x0) ** 2 + (y1 - y0) ** 2) ** 0.5,
            )
            for number, ((x0, y0), (x1, y1), wall) in enumerate(
                zip(corners, corners[1:], self.walls, strict=False), start=1
            )
        )
        area = self.floor_area_m2
        return (("floor", self.floor, area), ("ceiling", self.ceiling, area), *walls)


class Seat(Document):
    """One seat: `position_m` is the point between a seated listener's ears."""

    id: Identifier
    position_m: Point
    row: Annotated[int, Field(ge=1)] = 1
