"""Changes of what a room's surfaces are made of: each takes a job and returns another."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence

from roomwright._errors import InputError
from roomwright.commissioning.create import mixture
from roomwright.commissioning.edits.room import changed_room
from roomwright.model import OCTAVE_BANDS_HZ, Job, Room, Surface
from roomwright.standards.materials import MATERIALS, material

_SHARE = re.compile(r"(\d+) % ")


def with_surface(job: Job, where: str, shares: Mapping[str, float]) -> Job:
    """The job with a surface covered by shares of known materials.

    Parameters
    ----------
    job
        The job.
    where
        "floor", "ceiling", "wall 1" ..., or "all walls".
    shares
        Material to its share of the area; they add up to 1.

    Raises
    ------
    InputError
        If there is no such surface or material, or the shares do not add up to 1.
    """
    wanted = {name: share for name, share in shares.items() if share > 0}
    for name in wanted:
        material(name)
    total = sum(wanted.values())
    if any(share < 0 for share in shares.values()) or abs(total - 1.0) > 0.006:
        raise InputError(
            f"the shares of {where} add up to {100 * total:.0f} %; they must be 0 or more and "
            "add up to 100 %"
        )
    return _covered(job, where, mixture({name: s / total for name, s in wanted.items()}))


def with_absorption(job: Job, where: str, name: str, absorption: Sequence[float]) -> Job:
    """The job with a surface of stated absorption at the octaves from 63 Hz to 8 kHz.

    Raises
    ------
    InputError
        If there is no such surface, a coefficient is outside 0 to 1, or there are not eight.
    """
    bands = len(OCTAVE_BANDS_HZ)
    if len(absorption) != bands or not all(0 <= value <= 1 for value in absorption):
        raise InputError(
            f"the absorption of {where} must be {bands} numbers from 0 to 1, one for each octave "
            "from 63 Hz to 8 kHz"
        )
    surface = Surface.model_validate({"material": name or "stated", "absorption": absorption})
    return _covered(job, where, surface)


def shares_of(surface: Surface) -> dict[str, float]:
    """The materials a surface is covered with and their shares; empty where they are not known."""
    pieces = _SHARE.split(surface.material)
    if len(pieces) == 1:
        shares = {surface.material: 1.0}
    else:
        names = [name.strip().rstrip(",") for name in pieces[2::2]]
        shares = {name: int(part) / 100 for part, name in zip(pieces[1::2], names, strict=True)}
    return shares if set(shares) <= set(MATERIALS) else {}


def surface_names(job: Job) -> tuple[tuple[str, str], ...]:
    """Every surface's key, as `with_surface` takes it, and what to call it."""
    named = [("floor", "floor"), ("ceiling", "ceiling")]
    for number in range(len(job.room.outline_m)):
        facing = _facing(job.room, number)
        others = [n for n in range(len(job.room.outline_m)) if _facing(job.room, n) == facing]
        title = facing if len(others) == 1 else f"{facing} ({others.index(number) + 1})"
        named.append((f"wall {number + 1}", title))
    return tuple(named)


def _covered(job: Job, where: str, surface: Surface) -> Job:
    walls = list(job.room.walls)
    if where in {"floor", "ceiling"}:
        return job.model_copy(update={"room": changed_room(job, **{where: surface})})
    if where == "all walls":
        walls = [surface] * len(walls)
    else:
        names = [f"wall {number}" for number in range(1, len(walls) + 1)]
        if where not in names:
            known = ", ".join(("floor", "ceiling", "all walls", *names))
            raise InputError(f"there is no surface {where!r}; there are {known}")
        walls[names.index(where)] = surface
    return job.model_copy(update={"room": changed_room(job, walls=tuple(walls))})


def _facing(room: Room, number: int) -> str:
    """Which wall an edge belongs to, by where its outer side faces."""
    corners = room.outline_m
    (x0, y0), (x1, y1) = corners[number], corners[(number + 1) % len(corners)]
    turn = 1.0 if room.polygon.exterior.is_ccw else -1.0
    out_x, out_y = turn * (y1 - y0), turn * (x0 - x1)
    if abs(out_y) >= abs(out_x):
        return "front wall" if out_y < 0 else "back wall"
    return "left wall" if out_x < 0 else "right wall"
