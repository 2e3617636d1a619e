"""Microphone positions for bass control: a grid over the seating area that sees every wave.

Below the upper frequency of control nothing may hide between two stations. Across and along the
room they therefore stand closer than half the shortest wavelength (sampling theorem). Upwards
there are few modes, cos(pi n z / H): with the highest order n below that frequency, n + 1 layers
tell them apart wherever the layers lie, because a polynomial in cos(pi z / H) of degree n is
fixed by n + 1 of its values.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray
from shapely import Polygon, box, contains_xy

from roomwright import _checks
from roomwright._errors import InputError
from roomwright.model import KeepClear, Point, Room, Seat, Station

F = NDArray[np.float64]

#: The widest grid, metres, a bass tuning is trusted with, whatever the wavelength: seats that
#: stand closer would share a station. Steps upwards: from a sitting ear to a standing one.
#: Distances that a microphone stand can keep to walls, floor and ceiling. Common practice, no
#: source.
WIDEST_M: Final = 1.0
LAYER_STEP_M: Final = 0.5
CLEAR_OF_WALLS_M: Final = 0.3
CLEAR_OF_CEILING_M: Final = 0.3

#: The grid covers the ears and this much around them, metres.
_MARGIN_M: Final = 0.5

#: Where a seat's back stands, re the ears: this far to both sides, from here to there behind
#: them, up to this much above them. Common practice, no source.
_BACK_ACROSS_M: Final = 0.3
_BACK_BEHIND_M: Final = (0.03, 0.35)
_BACK_ABOVE_M: Final = 0.1

_HANDY_M: Final = 0.1
_SLIDE_M: Final = 0.05


@dataclass(frozen=True, slots=True)
class BassGrid:
    """A grid for bass control.

    Attributes
    ----------
    points_m
        Places, spot by spot, each with all its layers from below.
    spacing_m
        Across and along.
    layers_m
        Heights above the floor.
    left_out
        How many places of the grid stand in a seat's back, in a box that is kept clear, or too
        near a wall.
    """

    points_m: tuple[Point, ...]
    spacing_m: float
    layers_m: tuple[float, ...]
    left_out: int


def grid_spacing_m(upper_hz: float, speed_m_s: float = 343.0) -> float:
    """The widest handy spacing under half a wavelength: whole 0.1 m, at most `WIDEST_M`.

    Parameters
    ----------
    upper_hz
        Upper frequency of control, hertz.
    speed_m_s
        Of sound.

    Raises
    ------
    InputError
        If the frequency is so high that 0.1 m is too wide.
    """
    half_m = speed_m_s / (2.0 * _checks.positive(upper_hz, "the upper frequency of control"))
    steps = math.ceil(half_m / _HANDY_M - 1e-9) - 1
    if steps < 1:
        raise InputError(
            f"a grid for {upper_hz:g} Hz needs stations less than {half_m:.2f} m apart; "
            f"allowed are frequencies below {speed_m_s / (2 * _HANDY_M):.0f} Hz"
        )
    return min(round(steps * _HANDY_M, 1), WIDEST_M)


def grid_layers_m(
    height_m: float, ears_m: Sequence[float], upper_hz: float, speed_m_s: float = 343.0
) -> tuple[float, ...]:
    """Heights above the floor at which a bass grid is measured.

    As many as tell the vertical modes below `upper_hz` apart, from the lowest ears up in steps
    of 0.5 m, closer under a low ceiling; more of them where the highest ears sit above.

    Parameters
    ----------
    height_m
        Of the ceiling.
    ears_m
        Heights of the listeners' ears.
    upper_hz, speed_m_s
        Upper frequency of control, and speed of sound.

    Raises
    ------
    InputError
        If there is no ear, or the lowest are too near the ceiling.
    """
    height = _checks.positive(height_m, "the room's height")
    upper = _checks.positive(upper_hz, "the upper frequency of control")
    if not ears_m:
        raise InputError("a bass grid needs a seat to stand around")
    lowest, top = min(ears_m), height - CLEAR_OF_CEILING_M
    if lowest >= top:
        raise InputError(
            f"the lowest ears are {lowest:.2f} m above the floor under a ceiling of {height:.2f} m;"
            f" stations keep {CLEAR_OF_CEILING_M:g} m clear of it"
        )
    order = math.floor(2.0 * height * upper / speed_m_s)
    up_to_ears = math.ceil((min(max(ears_m), top) - lowest) / LAYER_STEP_M - 1e-9)
    steps = max(order, up_to_ears)
    step = min(LAYER_STEP_M, (top - lowest) / steps) if steps else 0.0
    return tuple(round(lowest + number * step, 2) for number in range(steps + 1))


def bass_grid_points(
    room: Room,
    seats: Sequence[Seat],
    upper_hz: float,
    speed_m_s: float = 343.0,
    keep_clear: Sequence[KeepClear] = (),
) -> BassGrid:
    """The grid over the ears and 0.5 m around them, clear of walls, ceiling and seats' backs.

    Every place of that area lies within half a spacing of a row and of a column. The whole grid
    slides within it to where the fewest places meet the back of a seat or a box; those that still
    do are left out. Furniture that the job does not know of must be kept clear by hand.

    Parameters
    ----------
    room, seats
        Where.
    upper_hz
        Upper frequency of control, hertz.
    speed_m_s
        Of sound.
    keep_clear
        Boxes of furniture.

    Raises
    ------
    InputError
        If there is no seat, the frequency is too high, or nothing stands clear of the walls.
    """
    spacing = grid_spacing_m(upper_hz, speed_m_s)
    layers = grid_layers_m(
        room.height_m, [seat.position_m[2] for seat in seats], upper_hz, speed_m_s
    )
    # A place on the very edge counts: 1 mm is below any tape measure.
    clear = room.polygon.buffer(1e-3 - CLEAR_OF_WALLS_M, join_style="mitre")
    area = _seating_area(seats).intersection(clear)
    if area.is_empty:
        raise InputError(
            f"no seat stands {CLEAR_OF_WALLS_M:g} m clear of the walls; a bass grid does not fit"
        )
    x0, y0, x1, y1 = area.bounds
    columns = _centred(x0, x1, spacing)

    def is_free(x: float, y: float, z: float) -> bool:
        in_box = any(_in_box(x, y, z, one) for one in keep_clear)
        return not in_box and not _in_a_back(x, y, z, seats)

    rows = min(
        _slid(y0, y1, spacing),
        key=lambda ys: (
            sum(not is_free(x, y, z) for x in columns for y in ys for z in layers),
            abs(ys[0] + ys[-1] - y0 - y1),
        ),
    )
    every = [(x, y, z) for y in rows for x in columns for z in layers]
    points = tuple(
        (round(float(x), 2), round(float(y), 2), z)
        for x, y, z in every
        if contains_xy(clear, x, y) and is_free(x, y, z)
    )
    return BassGrid(points, spacing, layers, len(every) - len(points))


def bass_stations(points_m: Iterable[Point], taken: Iterable[str] = ()) -> tuple[Station, ...]:
    """Stations "B1", "B2", ... at places, without the names already `taken`."""
    used = set(taken)
    numbers = (number for number in range(1, 100_000) if f"B{number}" not in used)
    return tuple(
        Station(id=f"B{number}", position_m=at)
        for number, at in zip(numbers, points_m, strict=False)
    )


def _seating_area(seats: Sequence[Seat]) -> Polygon:
    x = [seat.position_m[0] for seat in seats]
    y = [seat.position_m[1] for seat in seats]
    return box(min(x) - _MARGIN_M, min(y) - _MARGIN_M, max(x) + _MARGIN_M, max(y) + _MARGIN_M)


def _count(low: float, high: float, spacing: float) -> int:
    """Places that cover a stretch; two at least where they fit, to see a slope."""
    length = high - low
    return max(math.ceil(length / spacing - 1e-9), 2 if length >= spacing else 1)


def _centred(low: float, high: float, spacing: float) -> F:
    count = _count(low, high, spacing)
    steps = np.arange(count, dtype=np.float64) - (count - 1) / 2
    return np.asarray((low + high) / 2 + spacing * steps)


def _slid(low: float, high: float, spacing: float) -> list[F]:
    """The centred places, and these slid to both sides as far as the stretch stays covered."""
    centred = _centred(low, high, spacing)
    spare = (spacing * len(centred) - (high - low)) / 2
    steps = math.floor(min(spare, float(centred[0]) - low) / _SLIDE_M + 1e-9)
    return [centred + _SLIDE_M * step for step in range(-steps, steps + 1)]


def _in_a_back(x: float, y: float, z: float, seats: Sequence[Seat]) -> bool:
    near, far = _BACK_BEHIND_M
    return any(
        abs(x - ear[0]) < _BACK_ACROSS_M and near < y - ear[1] < far and z < ear[2] + _BACK_ABOVE_M
        for ear in (seat.position_m for seat in seats)
    )


def _in_box(x: float, y: float, z: float, one: KeepClear) -> bool:
    (x0, x1), (y0, y1) = (sorted(ends) for ends in zip(one.from_m, one.to_m, strict=True))
    highest = math.inf if one.high_m is None else one.high_m
    return x0 <= x <= x1 and y0 <= y <= y1 and one.low_m <= z <= highest
