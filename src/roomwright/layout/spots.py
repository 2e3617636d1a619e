"""The search for places: rays at allowed directions, and which of the places they meet is best."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from roomwright.layout.enclosure import SURFACES, Enclosure, hits
from roomwright.model import Point
from roomwright.standards import Position, bs2051

#: No two loudspeakers stand closer than this, metres.
SPACING_M = 0.3

#: Ears should be at least this far from a loudspeaker, metres.
FROM_EARS_M = 0.5

_STEP_DEG = 1.0
_BEYOND_DEG = 60.0

F = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Spot:
    """The place found for one position, the surface it is on, and how good a surface that is.

    `rank` is 0 on the surface where the position belongs.
    """

    position: Position
    place_m: Point
    surface: str
    rank: int


@dataclass(frozen=True, slots=True)
class _Scene:
    enclosure: Enclosure
    main_m: Point
    ears_m: F


def find_spots(
    enclosure: Enclosure,
    main_m: Point,
    ears_m: Sequence[Point],
    positions: Sequence[Position],
    taken_m: Sequence[Point] = (),
) -> tuple[Spot, ...]:
    """Places for all positions, in their order, each clear of those found before it.

    They are clear of the places `taken_m` too.

    A left and a right position of the same angles are placed together, at mirrored directions,
    wherever both sides allow it.
    """
    scene = _Scene(enclosure, main_m, np.asarray(ears_m))
    found: dict[str, Spot] = {}
    for sides in _pairs(positions):
        taken = [*taken_m, *(spot.place_m for spot in found.values())]
        for spot in _settle(scene, sides, taken):
            found[spot.position.label] = spot
    return tuple(found[position.label] for position in positions)


def _pairs(positions: Sequence[Position]) -> Iterator[tuple[Position, ...]]:
    """Each position with its mirror image, the left one first, every other one alone."""
    waiting = list(positions)
    while waiting:
        position = waiting.pop(0)
        mirror = next((other for other in waiting if _mirrored(position, other)), None)
        if mirror is None:
            yield (position,)
        else:
            waiting.remove(mirror)
            yield (position, mirror) if position.azimuth_deg > 0 else (mirror, position)


def _mirrored(one: Position, other: Position) -> bool:
    return (one.azimuth_deg, one.elevation_deg, one.is_lfe) == (
        -other.azimuth_deg,
        other.elevation_deg,
        other.is_lfe,
    )


def _settle(scene: _Scene, sides: tuple[Position, ...], taken: list[Point]) -> list[Spot]:
    """Spots for one position or a mirrored pair: allowed if possible, else near to allowed."""
    together = _best(scene, sides, _allowed(sides[0]), taken)
    if together:
        return together
    if len(sides) == 2:
        left = _settle(scene, sides[:1], taken)
        return left + _settle(scene, sides[1:], [*taken, left[0].place_m])
    return _best(scene, sides, _beyond(sides[0]), taken) or _clearest(scene, sides[0], taken)


def _best(
    scene: _Scene, sides: tuple[Position, ...], directions: tuple[F, F], taken: list[Point]
) -> list[Spot]:
    """Best spots among directions given for the first side; none if no place is free."""
    azimuth, elevation = directions
    met = [
        hits(scene.enclosure, scene.main_m, sign * azimuth, elevation)
        for sign in (1.0, -1.0)[: len(sides)]
    ]
    ranks = [_ranks(position)[one.surface] for position, one in zip(sides, met, strict=True)]
    clearance = np.minimum.reduce([_nearest_m(one.points_m, np.array(taken)) for one in met])
    if len(met) == 2:
        apart = np.linalg.norm(met[0].points_m - met[1].points_m, axis=-1)
        clearance = np.minimum(clearance, apart)
    near_ears = np.minimum.reduce([_nearest_m(one.points_m, scene.ears_m) for one in met])
    order = np.lexsort(
        (
            _turn_deg(azimuth, elevation, sides[0]),
            np.maximum.reduce(ranks),
            near_ears < FROM_EARS_M,
        )
    )
    # Places are rounded later: a millimetre is kept in hand.
    free = order[clearance[order] >= SPACING_M + 0.001]
    if not free.size:
        return []
    return [
        _spot(position, one.points_m[free[0]], int(one.surface[free[0]]))
        for position, one in zip(sides, met, strict=True)
    ]


def _clearest(scene: _Scene, position: Position, taken: list[Point]) -> list[Spot]:
    """The allowed spot that is furthest from everything taken."""
    azimuth, elevation = _allowed(position)
    met = hits(scene.enclosure, scene.main_m, azimuth, elevation)
    best = int(_nearest_m(met.points_m, np.array(taken)).argmax())
    return [_spot(position, met.points_m[best], int(met.surface[best]))]


def _spot(position: Position, point: F, surface: int) -> Spot:
    x, y, z = (round(float(value), 3) for value in point)
    return Spot(position, (x, y, z), SURFACES[surface], int(_ranks(position)[surface]))


def _ranks(position: Position) -> NDArray[np.intp]:
    """How well each of `SURFACES` suits a position; 0 is best."""
    if position.is_lfe:
        return np.array([0, 0, 0, 0, 1, 2])
    if bs2051.layer(position.label) == "upper":
        return np.array([1, 1, 1, 1, 1, 0])
    if abs(position.azimuth_deg) <= 45:
        return np.array([0, 1, 1, 1, 2, 2])
    return np.array([0, 0, 0, 0, 1, 1])


def _allowed(position: Position) -> tuple[F, F]:
    """Azimuths and elevations (n,) within a position's ranges, a degree apart."""
    azimuths = (
        np.array([position.azimuth_deg])
        if position.azimuth_range_deg == bs2051.ANY_AZIMUTH_DEG
        else _steps(*position.azimuth_range_deg, position.azimuth_deg)
    )
    elevations = _steps(*position.elevation_range_deg, position.elevation_deg)
    azimuth, elevation = np.meshgrid(azimuths, elevations)
    return azimuth.ravel(), elevation.ravel()


def _beyond(position: Position) -> tuple[F, F]:
    """Azimuths and elevations (n,) up to `_BEYOND_DEG` from a position's nominal direction."""
    azimuth, elevation = np.meshgrid(
        _steps(-_BEYOND_DEG, _BEYOND_DEG, 0.0) + position.azimuth_deg,
        _steps(-_BEYOND_DEG, _BEYOND_DEG, 0.0) + position.elevation_deg,
    )
    upright = np.abs(elevation) <= 90.0
    return azimuth[upright], elevation[upright]


def _steps(low: float, high: float, nominal: float) -> F:
    return np.unique([nominal, *np.arange(low, high, _STEP_DEG), high])


def _turn_deg(azimuth_deg: F, elevation_deg: F, position: Position) -> F:
    """Angle (n,) between each direction and the nominal one, rounded so that mirrors tie."""
    azimuth = np.radians(azimuth_deg - position.azimuth_deg)
    elevation, nominal = np.radians(elevation_deg), np.radians(position.elevation_deg)
    cosine = np.sin(elevation) * np.sin(nominal) + np.cos(elevation) * np.cos(nominal) * np.cos(
        azimuth
    )
    turn: F = np.degrees(np.arccos(np.clip(cosine, -1.0, 1.0))).round(6)
    return turn


def _nearest_m(points: F, others: F) -> F:
    """Distance (n,) from each point (n, 3) to the nearest of others (m, 3); inf without any."""
    if not others.size:
        return np.full(len(points), np.inf)
    nearest: F = np.linalg.norm(points[:, None] - others, axis=-1).min(axis=1)
    return nearest
