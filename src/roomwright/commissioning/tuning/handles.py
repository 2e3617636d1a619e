"""What can be dragged on the tuning's graph, and what dragging it changes.

A handle's or point's `id` says what it is: ``point:3`` and ``roll:low`` of the target,
``follow:0:high`` the end of a range to follow, ``trim`` the level
of the channels, ``crossover`` that to the subwoofers, ``hand:1`` a filter by hand (the second), and
``solver:4`` the fifth filter of the output, placed by the solver.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final, Literal, cast

import numpy as np

from roomwright._errors import InputError
from roomwright.commissioning.edits import crossover as edit_crossover
from roomwright.commissioning.edits import target as edit_target
from roomwright.commissioning.edits import tuning as edit_tuning
from roomwright.commissioning.edits.crossover import CROSSOVER_RANGE_HZ
from roomwright.commissioning.edits.target import FREQUENCY_RANGE_HZ, Side, target_shared_by
from roomwright.commissioning.tuning.live import Live, Measured
from roomwright.commissioning.tuning.scope import units_of
from roomwright.model import Biquad, Job, Target, Tuning
from roomwright.signals import roll_off_db, target_db

#: Where the level's handle stands: of main channels, of the LFE.
_LEVEL_AT_HZ: Final = (1000.0, 40.0)


@dataclass(frozen=True, slots=True)
class TargetHandle:
    """Something of a target to be dragged, where it stands, and which ways it goes."""

    id: str
    label: str
    frequency_hz: float
    level_db: float
    free: Literal["both", "x", "y"]
    low_hz: float
    high_hz: float


@dataclass(frozen=True, slots=True)
class FilterPoint:
    """A peaking filter of an output: by hand, or placed by the solver, at the target's level."""

    id: str
    label: str
    biquad: Biquad
    base_db: float
    by_hand: bool


def target_handles(job: Job, channels: Sequence[str], follow_level_db: float) -> list[TargetHandle]:
    """The handles of the target that these channels share.

    Parameters
    ----------
    job
        The job.
    channels
        What is edited; none means all.
    follow_level_db
        Where the ends of the ranges to follow are drawn.
    """
    target = target_shared_by(job, channels)
    frequencies = [FREQUENCY_RANGE_HZ[0], *(p.frequency_hz for p in target.points)]
    frequencies.append(FREQUENCY_RANGE_HZ[1])
    handles = [
        TargetHandle(
            f"point:{number}",
            f"target, point {number + 1}",
            point.frequency_hz,
            _target_at(target, point.frequency_hz),
            "both",
            frequencies[number],
            frequencies[number + 2],
        )
        for number, point in enumerate(target.points)
    ]
    handles += [
        TargetHandle(
            f"roll:{roll.side}",
            f"roll-off at the {roll.side} end",
            roll.frequency_hz,
            _target_at(target, roll.frequency_hz),
            "x",
            *FREQUENCY_RANGE_HZ,
        )
        for roll in target.roll_offs
    ]
    for number, followed in enumerate(target.follows):
        for side, at in (("low", followed.low_hz), ("high", followed.high_hz)):
            handles.append(
                TargetHandle(
                    f"follow:{number}:{side}",
                    f"range to follow {number + 1}, {side} end",
                    at,
                    follow_level_db,
                    "x",
                    *FREQUENCY_RANGE_HZ,
                )
            )
    return handles


def level_handles(job: Job, channels: Sequence[str], channel_id: str) -> list[TargetHandle]:
    """The handles of a channel's level, re what is computed, and of its crossover, if any."""
    units = units_of(job, (channel_id,))
    target = target_shared_by(job, channels)
    lfe = any(c.id == channel_id and c.role == "lfe" for c in job.channels)
    at_hz = _LEVEL_AT_HZ[lfe]
    change_db = job.hand(units[0]).trim_change_db if units else 0.0
    handles = [
        TargetHandle(
            "trim",
            "level",
            at_hz,
            _target_at(target, at_hz) + change_db,
            "y",
            at_hz,
            at_hz,
        )
    ]
    shared = edit_crossover.crossover_shared_by(job, () if lfe and not channels else (channel_id,))
    if job.subwoofers and shared is not None and not shared.full_range:
        at_hz = shared.frequency_hz
        level_db = _target_at(target, at_hz)
        handles.append(
            TargetHandle("crossover", "crossover", at_hz, level_db, "x", *CROSSOVER_RANGE_HZ)
        )
    return handles


def with_handle_at(
    job: Job, channels: Sequence[str], handle: str, frequency_hz: float, level_db: float
) -> Job:
    """The job with a handle of the target dragged to a place.

    Raises
    ------
    InputError
        If there is no such handle any more.
    """
    kind, *rest = handle.split(":")
    target = target_shared_by(job, channels)
    if kind == "trim":
        change_db = round(level_db - _target_at(target, frequency_hz), 1)
        return edit_tuning.change_trim(job, units_of(job, channels), change_db)
    if kind == "crossover":
        low, high = CROSSOVER_RANGE_HZ
        at_hz = float(round(min(max(frequency_hz, low), high)))
        return edit_crossover.set_crossover(job, channels, frequency_hz=at_hz)
    if kind == "point":
        level = level_db - _rolled_db(target, frequency_hz)
        return edit_target.move_point(job, channels, int(rest[0]), frequency_hz, level)
    if kind == "roll":
        for roll in target.roll_offs:
            if roll.side == rest[0]:
                return edit_target.set_roll_off(
                    job, channels, roll.side, _within(frequency_hz), roll.order
                )
    if kind == "follow" and int(rest[0]) < len(target.follows):
        followed = target.follows[int(rest[0])]
        low, high = followed.low_hz, followed.high_hz
        ends = (frequency_hz, high) if cast("Side", rest[1]) == "low" else (low, frequency_hz)
        return edit_target.move_follow(job, channels, int(rest[0]), *ends)
    raise InputError(f"there is nothing called {handle} to drag any more")


def without_handle(job: Job, channels: Sequence[str], handle: str) -> Job:
    """The job without what a handle of the target stands for.

    Raises
    ------
    InputError
        If there is no such handle any more, or it is the target's last point.
    """
    kind, *rest = handle.split(":")
    if kind == "point":
        return edit_target.remove_point(job, channels, int(rest[0]))
    if kind == "trim":
        return edit_tuning.change_trim(job, units_of(job, channels), 0.0)
    if kind == "crossover":
        raise InputError("the crossover can be moved, not taken away")
    if kind == "roll":
        return edit_target.remove_roll_off(job, channels, cast("Side", rest[0]))
    return edit_target.remove_follow(job, channels, int(rest[0]))


def filter_points(job: Job, tuning: Tuning, channel_id: str) -> list[FilterPoint]:
    """The filters of a channel's first output, those by hand first; the LFE's of a subwoofer."""
    units = units_of(job, (channel_id,))
    settings = {output.drives: output for output in tuning.outputs}
    output = settings.get(units[0]) if units else None
    if output is None:
        return []
    by_hand = job.hand(output.drives).biquads
    held = len(by_hand) if output.biquads[: len(by_hand)] == by_hand else 0
    target = job.target_of(channel_id)
    return [
        FilterPoint(
            f"{'hand' if number < held else 'solver'}:{number}",
            f"filter {number + 1}, {'by hand' if number < held else 'by the solver'}",
            biquad,
            _target_at(target, biquad.frequency_hz),
            number < held,
        )
        for number, biquad in enumerate(output.biquads)
    ]


def with_filter_at(
    job: Job, channels: Sequence[str], channel_id: str, point: str, biquad: Biquad
) -> Job:
    """The job with a filter dragged: one of the solver's becomes one by hand.

    Of the channels, those change whose outputs have the same filter by hand; one of the solver's
    is added to all.

    Raises
    ------
    InputError
        If there is no such filter any more, or no room for one more by hand.
    """
    kind, number = _filter_of(point)
    units = units_of(job, channels)
    if kind == "solver":
        return edit_tuning.add_filter(job, units, biquad)
    shared = _sharing(job, units, channel_id, number)
    return edit_tuning.move_filter(job, shared, number, biquad)


def without_filter(job: Job, channels: Sequence[str], channel_id: str, point: str) -> Job:
    """The job without a filter by hand; one of the solver's cannot be taken away alone.

    Raises
    ------
    InputError
        If it is the solver's, or there is no such filter any more.
    """
    kind, number = _filter_of(point)
    if kind == "solver":
        raise InputError(
            "the solver places this filter; hold all filters as they are, then remove it"
        )
    shared = _sharing(job, units_of(job, channels), channel_id, number)
    return edit_tuning.remove_filter(job, shared, number)


def with_filter_drawn(
    job: Job, tuning: Tuning, channels: Sequence[str], point: str, biquad: Biquad
) -> Tuning:
    """The tuning as it is heard while a filter is dragged; all other filters stay."""
    _, number = _filter_of(point)
    units = set(units_of(job, channels))
    outputs = tuple(
        output.model_copy(
            update={"biquads": (*output.biquads[:number], biquad, *output.biquads[number + 1 :])}
        )
        if output.drives in units and number < len(output.biquads)
        else output
        for output in tuning.outputs
    )
    return tuning.model_copy(update={"outputs": outputs})


def usual_range_to_follow(live: Live, job: Job) -> tuple[float, float]:
    """A first range to follow: the upper part of what is corrected, from twice the transition."""
    high = min(job.limits.highest_hz, FREQUENCY_RANGE_HZ[1])
    low = min(max(2 * live.ready.transition_hz, 500.0), high / 2)
    return (float(f"{low:.2g}"), float(f"{high:.3g}"))


def drawn_range_db(measured: Measured) -> tuple[float, float]:
    """The levels to show: the target and what is corrected of the response, in tens of decibels."""
    f, band = measured.frequency_hz, measured.corrected_hz
    within = (f >= band[0]) & (f <= band[1])
    levels = np.concatenate([measured.level_db[within], measured.target_db[within]])
    low = 5 * np.floor((float(levels.min()) - 5) / 5)
    high = 5 * np.ceil((float(levels.max()) + 5) / 5)
    return (float(max(low, -30.0)), float(min(high, 25.0)))


def _filter_of(point: str) -> tuple[str, int]:
    kind, _, number = point.partition(":")
    if kind not in {"hand", "solver"} or not number.isdigit():
        raise InputError(f"there is no filter called {point}")
    return kind, int(number)


def _sharing(job: Job, units: Sequence[str], channel_id: str, number: int) -> tuple[str, ...]:
    """Those of the units whose filter of that number by hand is the channel's."""
    own = units_of(job, (channel_id,))
    filters = job.hand(own[0]).biquads if own else ()
    if number >= len(filters):
        raise InputError(f"there is no filter {number + 1} set by hand any more")
    return tuple(
        unit for unit in units if job.hand(unit).biquads[number : number + 1] == (filters[number],)
    )


def _target_at(target: Target, frequency_hz: float) -> float:
    return round(float(target_db(target, frequency_hz)), 3)


def _rolled_db(target: Target, frequency_hz: float) -> float:
    f = np.array(frequency_hz)
    return float(sum((roll_off_db(roll, f) for roll in target.roll_offs), np.zeros(())))


def _within(frequency_hz: float) -> float:
    return min(max(frequency_hz, FREQUENCY_RANGE_HZ[0]), FREQUENCY_RANGE_HZ[1])
