"""Random private cinemas for the bass benchmark: room, walls, seats, and where a subwoofer fits.

Everything follows from the seed. Development rooms have the seeds 1000, 1001, ..., judged rooms
1, 2, ..., so that nothing is ever chosen on a room that it is judged by.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np

from roomwright.acoustics import green_walls
from roomwright.layout import CandidateRules, Exclusion, bass_candidates
from roomwright.model import Room, Surface

SPEED_M_S = 343.0
#: From a wall to the middle of a subwoofer, and its middle above the floor.
FROM_WALL_M, LOW_M = 0.3, 0.3
SEAT_M, EAR_M, RISER_M = 0.65, 1.15, 0.25


@dataclass(frozen=True)
class RandomRoom:
    """A box, its walls' admittances (6,), its seats' ears (n, 3) and what stands in the way.

    `heights_m` are those at which subwoofers may stand along the walls, `strip_m` the width of the
    strip of floor on which they may stand further in, 0 for the walls alone.
    """

    seed: int
    size_m: tuple[float, float, float]
    admittance: np.ndarray
    rows: int
    seats_m: np.ndarray
    exclusions: tuple[Exclusion, ...]
    strip_m: float

    @cached_property
    def candidates_m(self) -> np.ndarray:
        """Where a subwoofer can stand, (n, 3)."""
        width, length, height = self.size_m
        surface = Surface(material="lined", absorption=(0.2,) * 8)
        room = Room(
            outline_m=((0.0, 0.0), (width, 0.0), (width, length), (0.0, length)),
            height_m=height,
            floor=surface,
            ceiling=surface,
            walls=(surface,) * 4,
        )
        rules = CandidateRules(
            spacing_m=0.6,
            from_wall_m=FROM_WALL_M,
            wall_heights_m=(LOW_M,),
            strip_m=self.strip_m,
        )
        feet = [(x, y, LOW_M) for x, y, _ in self.seats_m]
        places = bass_candidates(room, rules, self.exclusions, away_from=feet, clearance_m=0.6)
        return np.array(places)

    def stations_m(self) -> np.ndarray:
        """Where the designs may look: four corners of the box of every head, (4 n, 3)."""
        steps = np.array([(1, 1, 1), (1, -1, -1), (-1, 1, -1), (-1, -1, 1)]) * (0.2, 0.15, 0.1)
        return (self.seats_m[:, None] + steps).reshape(-1, 3)

    def held_back_m(self) -> np.ndarray:
        """Where they are judged: two places of every head, anywhere within its seat, (2 n, 3)."""
        rng = np.random.default_rng((self.seed, 7))
        steps = rng.uniform((-0.3, -0.2, -0.1), (0.3, 0.2, 0.1), (len(self.seats_m), 2, 3))
        return (self.seats_m[:, None] + steps).reshape(-1, 3)

    def field(
        self,
        sources_m: np.ndarray,
        points_m: np.ndarray,
        frequencies_hz: np.ndarray,
        speed_m_s: float = SPEED_M_S,
    ) -> np.ndarray:
        """Field re the free field at 1 m, (S, P, F)."""
        walls = np.repeat(self.admittance[:, None], frequencies_hz.size, axis=1)
        return (
            4
            * np.pi
            * green_walls(self.size_m, sources_m, points_m, frequencies_hz, walls, speed_m_s)
        )

    def textbook_m(self, count: int) -> np.ndarray:
        """Places for 1 to 8 subwoofers as the books have them, (count, 3).

        A corner; the middles of front and back wall; these and one corner in front; the corners;
        the corners and the middle of the front wall, of front and back, and of all walls.
        """
        width, length, _ = self.size_m
        left, right, front, back = (
            FROM_WALL_M,
            width - FROM_WALL_M,
            FROM_WALL_M,
            length - FROM_WALL_M,
        )
        corners = [(left, front), (right, front), (left, back), (right, back)]
        middles = [(width / 2, front), (width / 2, back), (left, length / 2), (right, length / 2)]
        flat = {
            1: corners[:1],
            2: middles[:2],
            3: [*middles[:2], corners[0]],
            4: corners,
        }.get(count) or corners + middles[: count - 4]
        return np.array([(x, y, LOW_M) for x, y in flat])


def draw_room(seed: int) -> RandomRoom:
    """The room of a seed."""
    rng = np.random.default_rng(seed)
    length = rng.uniform(4.8, 8.0)
    width = rng.uniform(3.4, min(5.6, length / 1.1))
    size = (width, length, rng.uniform(2.3, 3.0))
    admittance = np.exp(rng.uniform(np.log(0.008), np.log(0.06), 6))
    rows, seats = _seats(size, rng)
    exclusions = (*_on_the_front_wall(size, rng), _door(size, rng), *_furniture(size, rng))
    strip = 0.6 * rng.integers(0, 2)
    return RandomRoom(seed, size, admittance, rows, seats, exclusions, float(strip))


def _seats(size: tuple[float, float, float], rng: np.random.Generator) -> tuple[int, np.ndarray]:
    """One to three rows, as many as the room has depth for; half of them off the middle."""
    width, length, _ = size
    pitch, behind = rng.uniform(1.0, 1.3), rng.uniform(0.4, 1.3)
    depth = length - behind - 2.2
    rows = int(rng.integers(1, min(3, 1 + int(depth / pitch)) + 1))
    across = int(rng.integers(3, min(6, int((width - 1.0) / SEAT_M)) + 1))
    room_aside = (width - 0.8 - across * SEAT_M) / 2
    aside = rng.choice([0.0, 1.0]) * rng.uniform(-room_aside, room_aside)
    x = width / 2 + aside + SEAT_M * (np.arange(across) - (across - 1) / 2)
    seats = [
        (a, length - behind - pitch * row, EAR_M + RISER_M * (rows - 1 - row))
        for row in range(rows)
        for a in x
    ]
    return rows, np.array(seats)


def _on_the_front_wall(
    size: tuple[float, float, float], rng: np.random.Generator
) -> tuple[Exclusion, ...]:
    """Nothing behind a screen that lets sound through; else a cabinet under the screen."""
    if rng.random() < 0.5:
        return ()
    half = size[0] * rng.uniform(0.2, 0.35)
    return (Exclusion((size[0] / 2 - half, 0.0), (size[0] / 2 + half, 0.7)),)


def _door(size: tuple[float, float, float], rng: np.random.Generator) -> Exclusion:
    """A door of 0.9 m and the way through it, in a side wall or in the back wall."""
    width, length, _ = size
    wall = rng.choice(["left", "right", "back"])
    if wall == "back":
        at = rng.uniform(0.1, width - 1.1)
        return Exclusion((at, length - 1.0), (at + 1.0, length))
    at = rng.uniform(0.5, length - 1.1)
    near, far = (0.0, 0.8) if wall == "left" else (width - 0.8, width)
    return Exclusion((near, at), (far, at + 1.0))


def _furniture(size: tuple[float, float, float], rng: np.random.Generator) -> tuple[Exclusion, ...]:
    """Up to two racks or cabinets of 0.6 to 1.6 m along the side walls."""
    pieces = []
    for _ in range(rng.integers(0, 3)):
        long, at = rng.uniform(0.6, 1.6), rng.uniform(0.0, size[1] - 1.6)
        near, far = (0.0, 0.6) if rng.random() < 0.5 else (size[0] - 0.6, size[0])
        pieces.append(Exclusion((near, at), (far, at + long)))
    return tuple(pieces)
