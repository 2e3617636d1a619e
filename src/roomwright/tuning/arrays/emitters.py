"""The subwoofers of a plane-wave array: which launch the wave and which absorb it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from roomwright._checks import finite
from roomwright._errors import InputError

F = NDArray[np.float64]

FEWEST_EMITTERS = 4

#: Subwoofers this close to one wall stand on it; common practice, no source.
_ON_WALL_M = 0.6
_WALLS = (("left wall", "right wall"), ("front wall", "back wall"))


@dataclass(frozen=True, slots=True)
class Emitters:
    """S subwoofers of one array in a room of size `size_m`.

    `position_m` is (S, 3). `launches` (S,) marks those that launch the wave; the others absorb it.
    The wave travels along the room's axis `axis` (0 across, 1 back, 2 up), towards rising
    coordinates if `direction` is 1 and falling ones if it is -1.
    """

    names: tuple[str, ...]
    position_m: F
    launches: NDArray[np.bool_]
    size_m: tuple[float, float, float]
    axis: int
    direction: int

    @property
    def travel_m(self) -> float:
        """Way of the wave from wall to wall.

        An emitter and its mirror image in the wall behind it radiate as from the wall itself,
        whatever the gap between them.
        """
        return self.size_m[self.axis]

    def along_m(self, points_m: ArrayLike) -> F:
        """How far the wave has travelled from its wall at points (..., 3), metres."""
        along = np.asarray(points_m, dtype=np.float64)[..., self.axis]
        return along if self.direction > 0 else self.travel_m - along

    @property
    def across(self) -> tuple[int, int]:
        """The two axes across the wave."""
        one, two = (axis for axis in range(3) if axis != self.axis)
        return one, two


def emitters(
    names: Sequence[str],
    position_m: ArrayLike,
    launches: Sequence[bool],
    size_m: tuple[float, float, float],
    seats_m: ArrayLike,
) -> Emitters:
    """The array that the engineer marked, checked.

    Parameters
    ----------
    names
        S names.
    position_m
        (S, 3), metres.
    launches
        S flags: True for those that launch, False for those that absorb.
    size_m
        Of the room; of the box around it where it is none.
    seats_m
        (seats, 3), metres; may be empty.

    Raises
    ------
    InputError
        If fewer than four are marked, none launches or none absorbs, all stand on one wall, both
        groups have the same centre, or a seat is behind the absorbing or the launching ones.
    """
    position = finite(np.asarray(position_m, dtype=np.float64), "the positions of the subwoofers")
    marks = np.asarray(launches, dtype=bool)
    if position.shape != (len(names), 3) or marks.shape != (len(names),):
        raise InputError(
            f"{len(names)} subwoofers need as many positions (x, y, z) and marks; "
            f"got shapes {position.shape} and {marks.shape}"
        )
    _refuse_few(marks)
    _refuse_one_wall(position, size_m)
    way = position[~marks].mean(axis=0) - position[marks].mean(axis=0)
    axis = int(np.argmax(np.abs(way)))
    if abs(way[axis]) < _ON_WALL_M:
        raise InputError(
            f"the absorbing subwoofers stand {abs(way[axis]):.2f} m from the launching ones; mark "
            "those of one wall as launching and those of the opposite wall as absorbing"
        )
    found = Emitters(tuple(names), position, marks, size_m, axis, 1 if way[axis] > 0 else -1)
    _refuse_seats_outside(found, np.asarray(seats_m, dtype=np.float64).reshape(-1, 3))
    return found


def _refuse_few(marks: NDArray[np.bool_]) -> None:
    if marks.size < FEWEST_EMITTERS:
        missing = FEWEST_EMITTERS - marks.size
        raise InputError(
            f"{marks.size} subwoofers are marked as an array, which needs {FEWEST_EMITTERS} or "
            f"more; mark {missing} more, or tune the subwoofers for even seats instead"
        )
    for some, doing in ((marks.any(), "launching"), ((~marks).any(), "absorbing")):
        if not some:
            raise InputError(
                f"no subwoofer is marked as {doing}; an array needs those that launch the wave "
                "on one wall and those that absorb it on the opposite one"
            )


def _refuse_one_wall(position: F, size_m: tuple[float, float, float]) -> None:
    for axis, walls in enumerate(_WALLS):
        from_near = position[:, axis]
        from_far = size_m[axis] - from_near
        for wall, away, from_opposite in (
            (walls[0], from_near, from_far),
            (walls[1], from_far, from_near),
        ):
            if np.all((away <= _ON_WALL_M) & (away < from_opposite)):
                raise InputError(
                    f"all subwoofers of the array stand on the {wall}; move or mark some on the "
                    "opposite wall, where the wave is absorbed"
                )


def _refuse_seats_outside(array: Emitters, seats: F) -> None:
    along = array.along_m(seats)
    launching, absorbing = (
        float(array.along_m(array.position_m)[of].mean())
        for of in (array.launches, ~array.launches)
    )
    behind = int(np.sum(along >= absorbing))
    if behind:
        raise InputError(
            f"{behind} of {along.size} seats stand behind the absorbing subwoofers, where no "
            "wave arrives; move the absorbing ones behind the last row, or swap the two groups"
        )
    before = int(np.sum(along <= launching))
    if before:
        raise InputError(
            f"{before} of {along.size} seats stand behind the launching subwoofers; move the "
            "launching ones to the wall that the seats face"
        )
