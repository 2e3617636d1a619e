"""Where subwoofers may stand, on the plan: places left, boxes to keep clear, how these move."""

from __future__ import annotations

from dataclasses import replace

from roomwright._errors import InputError
from roomwright.commissioning.bass.wishes import candidate_places, with_keep_clear
from roomwright.commissioning.plan_view import PlanBox, PlanItem, PlanSpot, PlanView
from roomwright.model import Job, KeepClear, Point

#: A box is at least this wide and long.
_LEAST_M = 0.1

_NEW_BOX_M = (1.0, 0.6)

Flat = tuple[float, float]


def with_places(view: PlanView, job: Job, chosen: tuple[Point, ...] = ()) -> PlanView:
    """A plan with the boxes to keep clear, what moves them, and all places left for subwoofers.

    `chosen` are the places of a choice of a search, which are drawn besides.
    """
    handles = [item for box in job.bass.keep_clear for item in _handles(box)]
    spots = [PlanSpot(place) for place in _left(job) if place not in chosen]
    return replace(
        view,
        items=(*view.items, *handles),
        boxes=tuple(_box(box, job.room.height_m) for box in job.bass.keep_clear),
        spots=(*spots, *(PlanSpot(place, chosen=True) for place in chosen)),
    )


def places_say(job: Job) -> str:
    """How many places are left for subwoofers, in words; or why there is none."""
    try:
        count = len(candidate_places(job))
    except InputError as error:
        return str(error)
    return f"{count} places left"


def is_of_box(item_id: str) -> bool:
    """Whether an item of the plan moves a box."""
    return item_id.startswith(("clear ", "corner "))


def box_of(item_id: str) -> str:
    """The name of the box that an item of the plan moves."""
    kind, _, rest = item_id.partition(" ")
    return rest.partition(" ")[2] if kind == "corner" else rest


def with_box_moved(job: Job, item_id: str, to_m: Point) -> Job:
    """The job with a box moved by its middle ("clear NAME") or a corner ("corner 1 NAME").

    Raises
    ------
    InputError
        If there is no such box, or it would be too small.
    """
    name = box_of(item_id)
    box = named_box(job, name)
    x, y = to_m[:2]
    if item_id.startswith("clear "):
        middle = _middle(box)
        by = (x - middle[0], y - middle[1])
        corners = tuple((c[0] + by[0], c[1] + by[1]) for c in (box.from_m, box.to_m))
    else:
        corners = ((x, y), box.to_m) if item_id.startswith("corner 1 ") else (box.from_m, (x, y))
    return with_box(job, name, corners[0], corners[1], box.low_m, box.high_m)


def with_box(
    job: Job,
    name: str,
    from_m: Flat,
    to_m: Flat,
    low_m: float = 0.0,
    high_m: float | None = None,
) -> Job:
    """As `with_keep_clear`, for a box no narrower than 0.1 m, in its place among the others.

    Raises
    ------
    InputError
        If the box is too small, or not allowed.
    """
    if min(abs(a - b) for a, b in zip(from_m, to_m, strict=True)) < _LEAST_M - 1e-9:
        raise InputError(f"a box to keep clear must be at least {_LEAST_M:g} m wide and long")
    order = [box.name for box in job.bass.keep_clear]
    rounded = [(round(x, 3), round(y, 3)) for x, y in (from_m, to_m)]
    changed = with_keep_clear(job, name, rounded[0], rounded[1], low_m, high_m)
    if name not in order:
        return changed
    boxes = sorted(changed.bass.keep_clear, key=lambda box: order.index(box.name))
    wishes = changed.bass.model_copy(update={"keep_clear": tuple(boxes)})
    return changed.model_copy(update={"bass": wishes})


def with_new_box(job: Job, from_m: Flat | None = None, to_m: Flat | None = None) -> Job:
    """The job with another box, "box 1" or so; 1.0 x 0.6 m in the middle of the room by default.

    Raises
    ------
    InputError
        If the box is too small.
    """
    if from_m is None or to_m is None:
        x0, y0, x1, y1 = job.room.polygon.bounds
        middle = ((x0 + x1) / 2, (y0 + y1) / 2)
        half = tuple(side / 2 for side in _NEW_BOX_M)
        from_m = (middle[0] - half[0], middle[1] - half[1])
        to_m = (middle[0] + half[0], middle[1] + half[1])
    taken = {box.name for box in job.bass.keep_clear}
    number = next(n for n in range(1, len(taken) + 2) if f"box {n}" not in taken)
    return with_box(job, f"box {number}", from_m, to_m)


def with_box_renamed(job: Job, name: str, to: str) -> Job:
    """The job with a box under another name.

    Raises
    ------
    InputError
        If there is no such box, or another of the new name.
    """
    if to == name:
        return job
    if any(box.name == to for box in job.bass.keep_clear):
        raise InputError(f"there is another box {to}; give this one a name of its own")
    if not 0 < len(to) <= 40:
        raise InputError("a box needs a name of 1 to 40 characters")
    named_box(job, name)
    boxes = tuple(
        box.model_copy(update={"name": to}) if box.name == name else box
        for box in job.bass.keep_clear
    )
    return job.model_copy(update={"bass": job.bass.model_copy(update={"keep_clear": boxes})})


def named_box(job: Job, name: str) -> KeepClear:
    """The box to keep clear of a name.

    Raises
    ------
    InputError
        If there is none.
    """
    found = next((box for box in job.bass.keep_clear if box.name == name), None)
    if found is None:
        raise InputError(f"there is no box {name} to keep clear")
    return found


def _left(job: Job) -> tuple[Point, ...]:
    try:
        return candidate_places(job)
    except InputError:
        return ()


def _middle(box: KeepClear) -> Flat:
    return ((box.from_m[0] + box.to_m[0]) / 2, (box.from_m[1] + box.to_m[1]) / 2)


def _box(box: KeepClear, height_m: float) -> PlanBox:
    high = height_m if box.high_m is None else min(box.high_m, height_m)
    return PlanBox(box.name, box.from_m, box.to_m, box.low_m, high)


def _handles(box: KeepClear) -> tuple[PlanItem, ...]:
    middle = _middle(box)
    corners = (box.from_m, box.to_m)
    return (
        PlanItem(
            id=f"clear {box.name}",
            kind="clear",
            label=box.name,
            position_m=(*middle, box.low_m),
            note="kept clear of subwoofers",
        ),
        *(
            PlanItem(
                id=f"corner {number} {box.name}",
                kind="corner",
                label=box.name,
                position_m=(*corner, box.low_m),
            )
            for number, corner in enumerate(corners, start=1)
        ),
    )
