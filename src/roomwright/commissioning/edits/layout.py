"""Changes of what makes the sound: each takes a job and returns another."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Literal

from roomwright._errors import InputError
from roomwright.commissioning.edits.room import with_seat_at, with_station_at
from roomwright.commissioning.generic_equipment import GENERIC_MODELS, GENERIC_ROLES
from roomwright.commissioning.plan_view import twin_of
from roomwright.commissioning.settle import settled
from roomwright.layout import (
    place,
    place_beside,
    place_channels,
    place_subwoofers,
    read_layout,
    role_of,
)
from roomwright.model import Finding, Job, Loudspeaker, LoudspeakerModel, Point, Subwoofer
from roomwright.standards import bs2051, domestic, labels


def choose_layout(
    job: Job, layout: str, subwoofers: int | None = None
) -> tuple[Job, tuple[Finding, ...]]:
    """The job with a layout placed for its seats, and what is to be known of the places.

    Loudspeakers of a role keep the type that role has; what is gone leaves the job with its takes.

    Parameters
    ----------
    job
        The job.
    layout
        As `layout.read_layout` takes it.
    subwoofers
        How many; by default as many as the layout says, or as there are.

    Raises
    ------
    InputError
        If the layout is unknown or the subwoofers are too many.
    """
    layout = layout.strip()
    if subwoofers is None and not _is_count(layout):
        subwoofers = len(job.subwoofers) or None
    if subwoofers is not None and _is_count(layout):
        layout = _counted(layout, subwoofers)
    models = role_models(job)
    placement = place(job.room, job.seats, job.main_seat, layout, models=models)
    changed = job.model_copy(
        update={
            "layout": layout,
            "loudspeakers": placement.loudspeakers,
            "subwoofers": placement.subwoofers,
            "channels": placement.channels,
        }
    )
    if subwoofers is not None and subwoofers != len(placement.subwoofers):
        subs = place_subwoofers(changed, subwoofers, models["subwoofer"])
        changed = changed.model_copy(update={"subwoofers": subs})
    return settled(_with_models(changed)), placement.notes


def with_subwoofers(job: Job, count: int) -> Job:
    """The job with this many subwoofers, set out anew along the walls.

    Raises
    ------
    InputError
        If there are too many.
    """
    subs = place_subwoofers(job, count, role_models(job)["subwoofer"])
    layout = _counted(job.layout, count) if _is_count(job.layout) and count else job.layout
    changed = job.model_copy(update={"subwoofers": subs, "layout": layout})
    return settled(_with_models(changed))


def with_channels(job: Job, names: Sequence[str]) -> Job:
    """The job with further channels, such as "T+000", each with a loudspeaker placed legally.

    Raises
    ------
    InputError
        If a label is unknown or taken.
    """
    loudspeakers, channels = place_channels(job, names, role_models(job))
    ordered = {channel.id: channel for channel in (*job.channels, *channels)}
    return settled(
        _with_models(
            job.model_copy(
                update={
                    "loudspeakers": (*job.loudspeakers, *loudspeakers),
                    "channels": tuple(ordered[name] for name in labels.label_order(ordered)),
                }
            )
        )
    )


def with_another_loudspeaker(job: Job, channel_id: str) -> Job:
    """The job with one loudspeaker more on a channel, beside the channel's last.

    Raises
    ------
    InputError
        If the channel has none to stand beside, or there is no free place.
    """
    channel = next((one for one in job.channels if one.id == channel_id), None)
    if channel is None or not channel.loudspeakers:
        raise InputError(f"{channel_id} has no loudspeaker of its own to set another beside")
    last = next(one for one in job.loudspeakers if one.id == channel.loudspeakers[-1])
    taken = {unit.id for unit in job.units}
    number = next(n for n in range(2, 100) if f"{channel_id}.{n}" not in taken)
    added = Loudspeaker(
        id=f"{channel_id}.{number}",
        model=last.model,
        position_m=place_beside(job.room, last.position_m, [u.position_m for u in job.units]),
        aim_m=last.aim_m,
    )
    grown = channel.model_copy(update={"loudspeakers": (*channel.loudspeakers, added.id)})
    at = job.loudspeakers.index(last) + 1
    return settled(
        job.model_copy(
            update={
                "loudspeakers": (*job.loudspeakers[:at], added, *job.loudspeakers[at:]),
                "channels": tuple(grown if c.id == channel_id else c for c in job.channels),
            }
        )
    )


def with_second_sides(job: Job) -> Job:
    """The job with a second pair of side loudspeakers, one more on each side surround channel.

    Raises
    ------
    InputError
        If the layout has no pair of side surrounds.
    """
    for azimuth in ("090", "110"):
        pair = [f"M+{azimuth}", f"M-{azimuth}"]
        if set(pair) <= {channel.id for channel in job.channels}:
            for channel_id in pair:
                job = with_another_loudspeaker(job, channel_id)
            return job
    raise InputError("the layout has no pair of side surrounds (M+090 and M-090) to double")


def without_unit(job: Job, unit_id: str) -> Job:
    """The job without a loudspeaker or subwoofer; a channel left with none goes too.

    Raises
    ------
    InputError
        If there is no such loudspeaker or subwoofer.
    """
    _known_unit(job, unit_id)
    return settled(
        job.model_copy(
            update={
                "loudspeakers": tuple(one for one in job.loudspeakers if one.id != unit_id),
                "subwoofers": tuple(one for one in job.subwoofers if one.id != unit_id),
            }
        )
    )


def moved(
    job: Job,
    kind: Literal["unit", "seat", "station"],
    name: str,
    position_m: Point,
    *,
    twin: bool = False,
) -> Job:
    """The job with one thing moved.

    Parameters
    ----------
    job
        The job.
    kind, name
        What is moved.
    position_m
        Where to; `model.problems` says whether that is in the room.
    twin
        Whether the loudspeaker or seat on the other side moves to the mirrored place too.

    Raises
    ------
    InputError
        If there is no such thing.
    """
    x, y, z = (round(value, 3) for value in position_m)
    other = twin_of(job, name) if twin else ""
    if other:
        left, _, right, _ = job.room.polygon.bounds
        job = moved(job, kind, other, (left + right - x, y, z))
    if kind == "seat":
        return with_seat_at(job, name, (x, y, z))
    if kind == "station":
        return with_station_at(job, name, (x, y, z))
    _known_unit(job, name)
    return job.model_copy(
        update={
            group: tuple(
                one.model_copy(update={"position_m": (x, y, z)}) if one.id == name else one
                for one in getattr(job, group)
            )
            for group in ("loudspeakers", "subwoofers")
        }
    )


def aimed(job: Job, loudspeaker_id: str, aim_m: Point) -> Job:
    """The job with a loudspeaker aimed at a point.

    Raises
    ------
    InputError
        If there is no such loudspeaker, or it stands at that point.
    """
    _known_unit(job, loudspeaker_id)
    if job.unit(loudspeaker_id).position_m == aim_m:
        raise InputError(f"{loudspeaker_id} cannot be aimed at its own place")
    return job.model_copy(
        update={
            "loudspeakers": tuple(
                one.model_copy(update={"aim_m": aim_m}) if one.id == loudspeaker_id else one
                for one in job.loudspeakers
            )
        }
    )


def with_model(job: Job, unit_id: str, model: LoudspeakerModel, *, whole_role: bool = False) -> Job:
    """The job with a unit of another type; types nobody has any more leave the job.

    `whole_role` gives every unit that had the same type the new one.

    Raises
    ------
    InputError
        If there is no such loudspeaker or subwoofer, or others keep a type of the same name with
        another data sheet.
    """
    _known_unit(job, unit_id)
    old = job.unit(unit_id).model

    def gets_it(unit: Loudspeaker | Subwoofer) -> bool:
        return unit.id == unit_id or (whole_role and unit.model == old)

    keep = [unit.id for unit in job.units if unit.model == model.name and not gets_it(unit)]
    sheet = next((one for one in job.loudspeaker_models if one.name == model.name), model)
    if keep and sheet != model:
        raise InputError(
            f"{', '.join(keep[:3])} {'is' if len(keep) == 1 else 'are'} of the type "
            f"{model.name!r} too; give the changed data sheet a name of its own, or use it for all"
        )
    changed = job.model_copy(
        update={
            group: tuple(
                one.model_copy(update={"model": model.name}) if gets_it(one) else one
                for one in getattr(job, group)
            )
            for group in ("loudspeakers", "subwoofers")
        }
    )
    used = {unit.model for unit in changed.units}
    others = (one for one in job.loudspeaker_models if one.name != model.name)
    sheets = (*(one for one in others if one.name in used), model)
    return changed.model_copy(update={"loudspeaker_models": sheets})


def role_models(job: Job) -> dict[str, str]:
    """The type that each role has in the job: its first loudspeaker's, else a generic one."""
    models = dict(GENERIC_ROLES)
    types = {unit.id: unit.model for unit in job.units}
    for channel in reversed(job.channels):
        if channel.loudspeakers:
            models[channel.role] = types[channel.loudspeakers[0]]
    if job.subwoofers:
        models["subwoofer"] = job.subwoofers[0].model
    return models


def further_channels(job: Job) -> tuple[tuple[str, ...], ...]:
    """What could be added with one action: single channels and pairs that the job lacks."""
    have = {channel.id for channel in job.channels}
    singles = ("T+000", "U+000", "U+180", "M+180", "B+000")
    pairs = ("U{}045", "U{}090", "U{}135", "M{}060", "M{}090", "M{}135", "M{}SC", "B{}045")
    offers: list[tuple[str, ...]] = [(name,) for name in singles]
    offers += [(pair.format("+"), pair.format("-")) for pair in pairs]
    return tuple(offer for offer in offers if not have & set(offer))


def known_layouts() -> tuple[tuple[str, str], ...]:
    """Layouts to choose from: what to call `choose_layout` with, and how to name it."""
    counts = [f"{bed}.1.{heights}" for bed in (5, 7, 9) for heights in (0, 2, 4, 6)]
    offers = [
        (name, f"{bed}.x.{heights}")
        for name in counts
        for bed, _, heights in [domestic.counts(name)]
    ]
    systems = [(name, f"{letter}: {name}") for letter, name in bs2051.LETTERS.items()]
    return (*offers, *systems)


def layout_says(layout: str) -> str:
    """In one line, what a layout asks for.

    Raises
    ------
    InputError
        If it is unknown.
    """
    wanted = read_layout(layout)
    by_role: dict[str, int] = {}
    for position in wanted.loudspeakers:
        role = role_of(position.label)
        by_role[role] = by_role.get(role, 0) + 1
    return ", ".join(f"{number} {role}" for role, number in by_role.items())


def _with_models(job: Job) -> Job:
    """The job with the data sheets of every generic type that is used."""
    have = {model.name for model in job.loudspeaker_models}
    used = {unit.model for unit in job.units}
    added = tuple(m for m in GENERIC_MODELS if m.name in used - have)
    return job.model_copy(update={"loudspeaker_models": (*job.loudspeaker_models, *added)})


def _is_count(layout: str) -> bool:
    try:
        domestic.counts(layout)
    except InputError:
        return False
    return True


def _counted(layout: str, subwoofers: int) -> str:
    bed, _, heights = domestic.counts(layout)
    counted = f"{bed}.{subwoofers}.{heights}"
    domestic.counts(counted)
    return counted


def _known_unit(job: Job, unit_id: str) -> None:
    if unit_id not in {unit.id for unit in job.units}:
        raise InputError(f"there is no loudspeaker or subwoofer {unit_id}")
