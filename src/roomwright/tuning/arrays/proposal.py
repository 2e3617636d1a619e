"""A plane-wave array proposed for a box room: how many, where, with what delay and gain."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from roomwright._checks import positive, within
from roomwright.model import Point
from roomwright.tuning.arrays.emitters import Emitters, emitters
from roomwright.tuning.arrays.near_field import near_field
from roomwright.tuning.arrays.transverse_modes import first_surviving_mode
from roomwright.tuning.arrays.wave_front import six_walls

F = NDArray[np.float64]

_FROM_WALL_M = 0.15
#: Whole numbers that rounding errors have lifted a little are not rounded up.
_ROUNDING = 1e-9
#: A single column of two serves a narrow room; with one emitter a wall there is no array.
_FEWEST_A_WALL = 2


@dataclass(frozen=True, slots=True)
class Proposal:
    """An array of `across` x `up` emitters on either wall.

    `plane_up_to_hz` is the cut-off of the first mode across that they drive, None if above 500 Hz;
    `robust_up_to_hz` is half of it, from where modes appear that errors of place and gain drive.
    `delay_s` and `gain` are those of the absorbing ones, whose polarity is inverted. `near_field`
    is the most that a seat hears of single emitters at `highest_hz`, re the wave; 0 without seats.
    """

    array: Emitters
    across: int
    up: int
    plane_up_to_hz: float | None
    robust_up_to_hz: float | None
    delay_s: float
    gain: float
    near_field: float


def emitters_needed(side_m: float, highest_hz: float, c: float = 343.0, *, robust: bool) -> int:
    """Emitters along one side of the wall for a plane wave up to a frequency.

    N at (2 i - 1) W / 2N drive no mode below c N / W if all are alike (ceil of W f / c), and
    none even with errors of place and gain below half of that (ceil of 2 W f / c).

    Raises
    ------
    InputError
        If a number is not above 0.
    """
    waves = positive(side_m, "side_m") * positive(highest_hz, "highest_hz") / positive(c, "c")
    return max(1, math.ceil((2.0 if robust else 1.0) * waves - _ROUNDING))


def places_on_wall(
    size_m: Point, axis: int, at_m: float, across: int, up: int
) -> tuple[Point, ...]:
    """Places of `across` x `up` emitters on the plane `at_m` along `axis`, row by row.

    The gap to the side walls is half the spacing, so that mirror images continue the row.
    """
    one, two = (other for other in range(3) if other != axis)
    places = []
    for row in range(up):
        for column in range(across):
            place = [0.0, 0.0, 0.0]
            place[axis] = at_m
            place[one] = size_m[one] * (2 * column + 1) / (2 * across)
            place[two] = size_m[two] * (2 * row + 1) / (2 * up)
            places.append((place[0], place[1], place[2]))
    return tuple(places)


def absorbing_gain(
    size_m: Point, admittance: ArrayLike, travel_m: float, *, axis: int = 1, direction: int = 1
) -> float:
    """Gain of the absorbing emitters, re the launching ones, in a box with locally reacting walls.

    What reaches the far wall has lost exp(-a travel) to the walls it grazes, a = half their
    admittance times their area over the volume, and is reflected with (1 - b) / (1 + b); an
    emitter at a wall of admittance b launches 1 / (1 + b). So the gain is
    exp(-a travel) (1 - b_far) / (1 + b_near).

    Parameters
    ----------
    size_m
        Of the room.
    admittance
        (6,) real specific admittances in the order of `Room.box_surfaces`, 0 to 1.
    travel_m
        Way of the wave from wall to wall.
    axis, direction
        As in `Emitters`.

    Raises
    ------
    InputError
        If there are not six, or one is outside 0 to 1.
    """
    beta = six_walls(admittance)
    grazed = [other for other in range(3) if other != axis]
    loss_per_m = sum(beta[2 * g : 2 * g + 2].sum() / (2.0 * size_m[g]) for g in grazed)
    near, far = beta[2 * axis : 2 * axis + 2][::direction]
    return float(np.exp(-loss_per_m * travel_m) * (1.0 - far) / (1.0 + near))


def proposed_array(
    size_m: Point,
    admittance: ArrayLike,
    highest_hz: float,
    *,
    robust: bool = False,
    seats_m: ArrayLike = (),
    c: float = 343.0,
) -> Proposal:
    """An array from the front wall to the back wall of a box room.

    Parameters
    ----------
    size_m
        Of the room.
    admittance
        (6,) of its walls in the band, see `absorbing_gain`.
    highest_hz
        Up to where the wave shall be plane, 20 to 500 Hz.
    robust
        Whether that shall hold with errors of place and gain.
    seats_m
        (seats, 3), to be between the two groups.
    c
        Speed of sound, m/s.

    Raises
    ------
    InputError
        If `highest_hz` is outside its range, or a seat is not between the two groups.
    """
    highest = within(highest_hz, 20.0, 500.0, "highest_hz")
    across = emitters_needed(size_m[0], highest, c, robust=robust)
    up = emitters_needed(size_m[2], highest, c, robust=robust)
    across = max(across, _FEWEST_A_WALL if up == 1 else 1)
    front = places_on_wall(size_m, 1, _FROM_WALL_M, across, up)
    back = places_on_wall(size_m, 1, size_m[1] - _FROM_WALL_M, across, up)
    names = [f"{side}{k}" for side in "FB" for k in range(1, across * up + 1)]
    marks = [True] * len(front) + [False] * len(back)
    array = emitters(names, [*front, *back], marks, size_m, seats_m)
    mode = first_surviving_mode(array, c=c)
    plane_hz = None if mode is None else mode[1]
    return Proposal(
        array=array,
        across=across,
        up=up,
        plane_up_to_hz=plane_hz,
        robust_up_to_hz=None if plane_hz is None else plane_hz / 2.0,
        delay_s=array.travel_m / c,
        gain=absorbing_gain(size_m, admittance, array.travel_m),
        near_field=float(near_field(array, seats_m, highest, c).max(initial=0.0)),
    )
